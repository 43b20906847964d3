"""Many jobs: an index built from the records, always rebuildable, and what is found by it."""

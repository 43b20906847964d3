"""The written procedure: model, loading with positions, options and repeats."""

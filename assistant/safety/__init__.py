"""The three hazards, the fixed safety stops and where they are placed."""

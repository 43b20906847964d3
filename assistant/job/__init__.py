"""One run of a checklist: events, state and the pure transition function."""

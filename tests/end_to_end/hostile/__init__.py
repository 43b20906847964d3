"""Hostile inputs through the commands; `python -m tests.end_to_end.hostile` prints the table."""

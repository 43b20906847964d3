"""Archived replies heard again with another recogniser."""

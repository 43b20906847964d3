"""Gloves On: an offline, hands-free assistant for the motorcycle shop."""

__version__ = "0.1.0"

"""Quantities, threads, readings and limits: the trade's arithmetic."""

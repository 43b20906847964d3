"""One bay: the place where ear, mouth, keys, journal and the job's core are joined."""

from assistant.bay.bay import Bay

__all__ = ["Bay"]

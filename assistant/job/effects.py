"""What a job asks the edges to do. Texts are named by key; their wording is in language data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """One line to say and show.

    Attributes:
        key: name of a prompt in the language data.
        values: (placeholder, text) pairs that fill it.
    """

    key: str
    values: tuple[tuple[str, str], ...] = ()


def line(key: str, **values: object) -> Line:
    """A line with its values turned to text."""
    return Line(key, tuple((name, str(value)) for name, value in values.items()))


@dataclass(frozen=True, slots=True)
class Say:
    """Say these lines, in order.

    Attributes:
        slowly: at reduced speed.
        fixed: a safety text, spoken word for word.
    """

    lines: tuple[Line, ...]
    slowly: bool = False
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class BeQuiet:
    """Stop speaking at once."""


@dataclass(frozen=True, slots=True)
class Close:
    """The job has ended; seal the record. status is "released"."""

    status: str


Effect = Say | BeQuiet | Close

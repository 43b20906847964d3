"""Cues as WebVTT (W3C, WebVTT: The Web Video Text Tracks Format): captions and chapters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

HEADER = "WEBVTT\n\n"


@dataclass(frozen=True, slots=True)
class Cue:
    """A stretch of the sound.

    Attributes:
        name: identifies the cue in its file: a number.
        start, end: seconds from the beginning.
        who: who speaks; empty in chapters.
        text: what is said, or the chapter's title; lines are divided by a newline.
    """

    name: int
    start: float
    end: float
    who: str
    text: str


def cue_block(cue: Cue) -> str:
    """A cue as its lines, with the empty line that ends it.

    Whatever people typed stays text: signs with a meaning in WebVTT are escaped, empty lines
    dropped (one would end the cue), and signs that steer a screen show as "?".
    """
    lines = [_escaped(_printable(line)) for line in cue.text.splitlines()]
    text = "\n".join(line for line in lines if line.strip()) or "…"
    if cue.who:
        text = f"<v {_escaped(_printable(' '.join(cue.who.split()))) or '?'}>{text}</v>"
    return f"{cue.name}\n{timestamp(cue.start)} --> {timestamp(cue.end)}\n{text}\n\n"


def timestamp(seconds: float) -> str:
    """The WebVTT timestamp hh:mm:ss.ttt; hours may have more than two digits."""
    total = round(seconds * 1000)
    minutes, ms = divmod(total, 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{ms // 1000:02d}.{ms % 1000:03d}"


def chapters(sections: Iterable[tuple[str, float]], ended: float) -> Iterator[Cue]:
    """One cue for each run of a section, from its first sound to the next run's.

    Args:
        sections: (title, start in seconds) of every entry, in order.
        ended: seconds at which the sound ends.
    """
    number, title, began = 0, "", 0.0
    for here, start in sections:
        if here != title:
            if number:
                yield Cue(number, began, start, "", title)
            number, title, began = number + 1, here, start
    if number:
        yield Cue(number, began, ended, "", title)


def _printable(text: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")

"""Captions: another reader of WebVTT finds what was put in, and nothing that was not."""

from __future__ import annotations

import html
import io
import re

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from assistant.report.captions import HEADER, Cue, chapters, cue_block, timestamp

HOSTILE = (
    "<script>alert(1)</script>",
    "</v><v Tobin>I said so",
    "one\n\n00:00:00.000 --> 99:00:00.000\nfalse",
    "a --> b",
    "NOTE\n\nSTYLE\n::cue { color: red }",
    "&lt;b&gt; & <c.x>",
    "\r\n\r\n",
    "\x1b[31mred\x00\u2028\u202eabc",
)
"""Attempts to end a cue, begin another, or speak with another's voice."""


def read(text: str) -> list[webvtt.Caption]:
    """The cues as the library webvtt-py reads them."""
    return webvtt.from_buffer(io.StringIO(text)).captions


@pytest.mark.parametrize("hostile", HOSTILE)
def test_what_people_say_stays_one_cue(hostile: str) -> None:
    """No text opens or closes a cue, and no name becomes markup."""
    cues = [Cue(1, 0.0, 1.0, hostile, hostile), Cue(2, 1.5, 2.0, "Mara", "affirm")]
    found = read(HEADER + "".join(map(cue_block, cues)))
    assert [(one.identifier, one.start, one.end) for one in found] == [
        ("1", "00:00:00.000", "00:00:01.000"),
        ("2", "00:00:01.500", "00:00:02.000"),
    ]
    raw = found[0].raw_text
    assert re.findall(r"<[^>]*>", raw)[1:] == ["</v>"]
    assert raw.startswith("<v ")
    assert "-->" not in raw
    assert found[1].voice == "Mara"


@given(st.text(), st.floats(0, 400_000), st.floats(0, 100))
def test_any_text_comes_back(text: str, start: float, lasts: float) -> None:
    """Signs that are shown come back as they were, line by line; times to a millisecond."""
    (found,) = read(HEADER + cue_block(Cue(7, start, start + lasts, "Mara", text)))
    shown = "".join(
        s if s.isprintable() else "?" for s in "\n".join(text.splitlines()) if s != "\n"
    )
    back = html.unescape(re.sub(r"<[^>]*>", "", found.raw_text)).replace("\n", "")
    assert "".join(back.split()) == ("".join(shown.split()) or "…")
    assert abs(found.start_in_seconds - int(start + 0.0005)) <= 1


def test_a_timestamp_beyond_a_day_is_one() -> None:
    """Hours go on: WebVTT gives them two digits or more."""
    assert timestamp(59.9996) == "00:01:00.000"
    assert timestamp(360_000.25) == "100:00:00.250"


def test_chapters_follow_the_sections() -> None:
    """One for each run of entries of a section; the last ends with the sound."""
    found = list(chapters([("On", 0.0), ("On", 2.0), ("Off", 5.0), ("On", 7.5)], 9.0))
    assert [(one.text, one.start, one.end) for one in found] == [
        ("On", 0.0, 5.0),
        ("Off", 5.0, 7.5),
        ("On", 7.5, 9.0),
    ]
    assert list(chapters([], 0.0)) == []

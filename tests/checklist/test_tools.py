"""The tools that one line names."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.checklist.tools import named_tools

NAMES = st.lists(
    st.sampled_from(["17 mm socket", "drain pan", "T20 bit", "long bar", "lamp and mirror"]),
    min_size=1,
    max_size=5,
)


@pytest.mark.parametrize(
    ("text", "tools"),
    [
        ("17 mm socket, drain pan", ("17 mm socket", "drain pan")),
        ("drain pan, 17 mm socket", ("drain pan", "17 mm socket")),
        ("8 mm hex bit, long; damper tool", ("8 mm hex bit, long", "damper tool")),
        ("5/32 in hex key, short arm", ("5/32 in hex key, short arm",)),
        ("17 mm hex bit, long bar", ("17 mm hex bit", "long bar")),
        ("24 mm socket, 6 mm hex key, ruler", ("24 mm socket", "6 mm hex key", "ruler")),
    ],
)
def test_a_line_falls_into_its_tools(text: str, tools: tuple[str, ...]) -> None:
    """Each tool stands alone; what only tells of a tool stays with it."""
    assert named_tools(text, "en") == tools


@given(NAMES, st.sampled_from([", ", "; "]))
def test_joined_tools_come_apart_again(names: list[str], sign: str) -> None:
    """Every tool that was joined into a line is named again, in its order."""
    assert named_tools(sign.join(names), "en") == tuple(names)


@given(st.text(alphabet="ab ,;1long", max_size=30))
def test_no_word_of_a_line_is_lost(text: str) -> None:
    """What the line says, signs aside, is what its tools say."""

    def words(of: str) -> list[str]:
        return re.sub(r"[,;]", " ", of).split()

    assert words(" ".join(named_tools(text, "en"))) == words(text)

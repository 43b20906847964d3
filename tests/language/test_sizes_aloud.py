"""Sizes of the shipped checklists, from text to words to voice to words to value.

`python -m tests.language.sizes_aloud` does all of it for all of them and prints the figure; here
the words are looked at for all, and the sound of a few.
"""

from __future__ import annotations

import pytest

from assistant.errors import EngineUnavailable, VoiceUnavailable
from tests.language.sizes_aloud import grammar_for, hear, is_reading, means, worded
from tests.language.sizes_written import Written, in_text, written
from tests.real_parts import require


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Torque 22 N·m.", ["22 N·m"]),
        ("Driver: 5/32 in hex key. cap, 2 of them, 1/4-20 UNC, 1 1/2 in.",
         ["5/32 in", "2", "1/4-20 UNC", "1 1/2 in"]),
        ("M8 × 1.25, T27, DOT 5.1, SAE 10W fork oil, 80W-90",
         ["M8 × 1.25", "T27", "DOT 5.1", "10W", "80W-90"]),
        ("Put 2 in the tray, part number WL-CW-10, the 2nd one.", ["2"]),
        ("4000 rpm", ["4000 rpm"]),
    ],
)  # fmt: skip
def test_sizes_are_found_in_a_text(text: str, found: list[str]) -> None:
    """Each with its unit or designation; part numbers and ordinals are none."""
    assert [one.text for one in in_text(text)] == found


def test_there_are_sizes_of_every_kind() -> None:
    """The shipped checklists have enough of them to be worth the figure."""
    kinds = {one.meaning[0] for one in written()}
    assert {"quantity", "metric_2", "hexalobular", "oil", "brake_fluid", "number"} <= kinds
    assert len(written()) > 100


@pytest.mark.parametrize("one", written(), ids=lambda one: one.text)
def test_a_size_keeps_its_value_through_words(one: Written) -> None:
    """Said as the voice gets it, the grammar gives back the same value and unit, and no other."""
    assert means(worded(one), one)
    assert grammar_for(one).match(worded(one)) is not None


def test_some_sizes_are_heard_as_they_were_said() -> None:
    """Voice and recogniser, the real ones, on a few that are told well apart."""
    wanted = {"22 N·m", "12.4 V", "5/32 in", "30 s", "720 mL", "T27"}
    chosen = [one for one in written() if one.text in wanted]
    assert len(chosen) >= 5
    assert sum(map(is_reading, chosen)) >= 4
    try:
        outcomes = list(hear(chosen))
    except (VoiceUnavailable, EngineUnavailable) as problem:
        require(None, f"no voice or recogniser here: {problem}")
        return
    missed = [(one.written.text, one.heard) for one in outcomes if not one.right]
    assert missed == []

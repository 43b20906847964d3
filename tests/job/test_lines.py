"""What the program can say is in the language data, and can be said aloud."""

from __future__ import annotations

from importlib.resources import files

import pytest

from assistant.job.effects import Line, line
from assistant.language.expression import normalize
from assistant.language.prompts import load_prompts
from assistant.packaged import prompts
from assistant.trade.quantity import Quantity
from tests.job.echo import WORDS
from tests.job.lines_in_source import lines_in_source

FOUND = lines_in_source()
PROMPTS = prompts("en")
PLAUSIBLE = {
    "title": "Front brake line",
    "name": "Mara",
    "text": "Torque the 9/16 in bolt to 22 N·m. Use DOT 4.",
    "standing": "Upright on the stand, in neutral.",
    "says": "No filling while the drain plug is out.",
    "done": "12",
    "driver": "5/32 in hex key",
    "fastener": "banjo bolt, 3/8-24 UNF, 22 mm",
    "value": "16.2 lbf·ft",
    "stages": "3 N·m, 6 N·m",
    "count": "4",
    "days": "12",
    "signal": "WARNING",
    "item": "bolt, added by voice",
    "mark": "long end left",
    "unit": "foot pounds",
    "condition": "upright, key off",
    "time": "30 s",
    "what": "lever held hard, no sinking",
    "reason": "inspected and not needed",
    "digits": "9/16",
    "limits": "≥ 5/32 in",
    "first": "4",
    "second": "7",
    "words": "negative is off and clear",
    "kind": "stripped thread",
    "seconds": "0",
    "spoken": "WLCW10",
    "wanted": "WL-CW-10, WL-CW-11",
    "minutes": "1 1/2",
    "sizes": "10 mm, 9/16 in",
    "wrench": "small torque wrench",
    "setting": "11.8 N·m",
    "side": "left",
    "low": "40 lbf·in",
    "high": "200 lbf·in",
    "adapter": "14 mm crowfoot",
    "hazards": "battery, fuel",
    "fingerprint": "3fa9 0c1e 77b2",
    "number": "3",
    "problem": "voice.json can't be read; enroll mara anew",
    "total": "84",
    "left": "81",
    "by": "0.41 mm",
}
"""For each value a text as the program fills it in."""


def test_every_line_of_the_source_is_understood() -> None:
    """No place says a line whose key can't be worked out, and the search finds the many."""
    assert FOUND.unknown == []
    assert len(FOUND.values) > 100


@pytest.mark.parametrize("key", sorted(FOUND.values))
def test_a_line_exists_with_exactly_its_values(key: str) -> None:
    """Each key has its prompt, and the prompt uses every value that is given, and no other."""
    assert key in PROMPTS.lines
    for given in FOUND.values[key]:
        assert PROMPTS.placeholders(key) == given


def test_no_prompt_is_left_over() -> None:
    """A prompt that nothing says is a mistake in one of the two."""
    assert set(PROMPTS.lines) == set(FOUND.values)


def test_the_file_loads_against_what_the_source_needs() -> None:
    """The packaged file meets the table of required keys that the source gives."""
    file = files("assistant") / "language/data/en/prompts.yaml"
    required = {key: given[0] for key, given in FOUND.values.items()}
    loaded = load_prompts(file.read_text(encoding="utf-8"), "prompts.yaml", required)
    assert loaded.lines == PROMPTS.lines


def plausible(key: str) -> Line:
    """The line, filled as the program fills it."""
    return line(key, **{name: PLAUSIBLE[name] for name in PROMPTS.placeholders(key)})


@pytest.mark.parametrize("key", sorted(PROMPTS.lines))
def test_every_prompt_can_be_said_aloud(key: str) -> None:
    """Figures, units and abbreviations all become words: no digit reaches the voice."""
    if key == "release.sealed":
        return  # the fingerprint is for the screen; the voice says release.sealed_spoken
    said = WORDS.spoken(plausible(key))
    assert said
    assert not any(sign.isdigit() for sign in said)
    assert not set(said) & set("·×≥≤°%_/{}")


@pytest.mark.parametrize(
    ("number", "spoken"),
    [("47", "four, seven"), ("90", "nine, zero"), ("13", "one, three")],
)
def test_a_challenge_is_spoken_digit_by_digit(number: str, spoken: str) -> None:
    """One by one, as ICAO Doc 9432 (radiotelephony) has numbers transmitted; from memory."""
    said = line("stop.number", first=number[0], second=number[1])
    assert spoken in WORDS.spoken(said)


def test_a_reading_is_read_back_digit_by_digit() -> None:
    """One three decimal five, never thirteen and a half (ICAO Doc 9432 procedure; from memory)."""
    said = WORDS.spoken(line("reading.check", name="voltage", digits="13.5", unit="volts"))
    assert "one three point five" in said


def test_answers_are_the_procedure_words_that_are_taught() -> None:
    """Affirm, negative, correction, disregard, say again, stand by are ICAO's own words.

    ICAO Annex 10 Volume II, 5.2.1.5.8 lists them with these meanings; from memory.
    """
    taught = {WORDS.book.taught(name) for name in WORDS.book.intents}
    assert {"affirm", "negative", "correction", "disregard", "say again", "stand by"} <= taught


def test_a_confirming_phrase_is_in_no_prompt() -> None:
    """Not one prompt of the file holds "affirm", "step complete" or "done and checked" (I4)."""
    for key in PROMPTS.lines:
        words = " ".join(normalize(WORDS.shown(plausible(key))))
        for phrase in ("affirm", "step complete", "done and checked"):
            assert f" {phrase} " not in f" {words} "


def test_values_are_texts() -> None:
    """A line carries texts only, so that it can be kept and compared."""
    said = line("x", value=Quantity.parse("22 N·m"), count=3)
    assert said.values == (("value", "22 N·m"), ("count", "3"))

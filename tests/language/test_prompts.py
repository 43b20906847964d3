"""The assistant's own lines."""

from __future__ import annotations

import pytest

from assistant.errors import BadFile
from assistant.language.prompts import NoSuchPrompt, load_prompts
from assistant.language.wording import Wording, for_ear
from tests.language.conftest import shipped

TEXT = """\
language: en
prompts:
  step.torque: "Torque {value}."
  pause: "Standing by."
"""


def test_a_line_with_its_values() -> None:
    """Values fill their places; a value that is not needed does no harm."""
    prompts = load_prompts(TEXT, "p.yaml")
    assert prompts.say("step.torque", value="22 N·m", other=1) == "Torque 22 N·m."
    assert prompts.say("pause") == "Standing by."
    assert prompts.keys() == {"step.torque", "pause"}
    assert prompts.placeholders("step.torque") == {"value"}
    assert prompts.language == "en"


def test_a_value_is_never_read_as_a_template() -> None:
    """Braces in what a shop wrote stay what they are."""
    prompts = load_prompts(TEXT, "p.yaml")
    assert prompts.say("step.torque", value="{0.__class__}") == "Torque {0.__class__}."


def test_what_is_not_there_is_named() -> None:
    """An unknown key and a missing value are clear errors, and KeyErrors too."""
    prompts = load_prompts(TEXT, "p.yaml")
    with pytest.raises(NoSuchPrompt, match=r'p\.yaml has no prompt "step"'):
        prompts.say("step")
    with pytest.raises(KeyError, match="needs a value for value"):
        prompts.say("step.torque")
    with pytest.raises(NoSuchPrompt):
        prompts.placeholders("step")
    assert str(NoSuchPrompt("plain words")) == "plain words"


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("{value}", "{value", "place", 3),
        ("{value}", "{}", "place", 3),
        ("{value}", "{0}", "place", 3),
        ("{value}", "{value.real}", "place", 3),
        ("{value}", "{value!r}", "place", 3),
        ("{value}", "{value:>9}", "place", 3),
        ("{value}", "{Value}", "place", 3),
        ('"Standing by."', '""', "string-too-short", 4),
        ('"Standing by."', "5", "string-type", 4),
        ("pause", "Pause it", "string-pattern-mismatch", 4),
        ("prompts:", "prompt:", "missing", 1),
        ("pause", "step.torque", "twice", 4),
    ],
)
def test_mistakes_in_the_file(old: str, new: str, code: str, line: int) -> None:
    """Each mistake is found on its line."""
    assert old in TEXT
    with pytest.raises(BadFile) as caught:
        load_prompts(TEXT.replace(old, new), "p.yaml")
    assert (code, line) in [(f.code, f.line) for f in caught.value.findings]


def test_what_the_program_needs_is_checked_at_load() -> None:
    """A missing key, and a place that never gets a value, are found before the job begins."""
    required = {"step.torque": ("amount",), "resume": (), "pause": ("name",)}
    with pytest.raises(BadFile) as caught:
        load_prompts(TEXT, "p.yaml", required)
    messages = [f.message for f in caught.value.findings]
    assert any('"resume" is missing' in m for m in messages)
    assert any("step.torque: no value is ever given for value" in m for m in messages)
    assert len(messages) == 2  # a line need not use every value


def test_the_english_prompts_can_be_said(wording: Wording) -> None:
    """Each shipped line has words for the ear once its places are filled."""
    prompts = load_prompts(*shipped("en/prompts.yaml"))
    for key in sorted(prompts.keys()):
        values = dict.fromkeys(prompts.placeholders(key), "7")
        assert for_ear(prompts.say(key, **values), wording)

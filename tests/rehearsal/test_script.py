"""Scripts of rehearsals: small data files, read with care."""

from __future__ import annotations

import pytest

from assistant.errors import BadFile
from assistant.rehearsal.script import Script, load_script
from tests.checklist.test_hostile import LAUGHS
from tests.rehearsal.stage import demo

SCRIPT = """\
language: en
checklist: small
vehicle: "WREN 7"
who: mara
second: tobin
people:
  mara: {name: Mara, voice: flite-rms}
  tobin: {name: Tobin, voice: neural-nezumi}
"""


def test_a_small_script() -> None:
    """Only people, checklist and vehicle are needed."""
    script = load_script(SCRIPT, "small.yaml")
    assert script.people["mara"].voice == "flite-rms"
    assert script.moments == ()


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (SCRIPT.replace("who: mara", "who: zoe"), 6, '"zoe" is not among the people'),
        (SCRIPT + "moments:\n  - {step: a, say: []}\n", 10, "moments.0.say"),
        (SCRIPT + "moods: good\n", 9, "moods"),
        (SCRIPT.replace("language: en\n", ""), 1, "language"),
        (SCRIPT + "readings:\n  free play: ''\n", 10, "readings.free play"),
        ("people: {mara: [\n", 2, "YAML"),
        (LAUGHS, 1, "anchors"),
        ("a: !!python/object/apply:os.system [ls]\n", 1, "tags"),
        ("", 1, "the file"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, line: int, said: str) -> None:
    """A mistake in a script is a finding with file and line."""
    with pytest.raises(BadFile) as problem:
        load_script(text, "small.yaml")
    assert f"small.yaml:{line}: error: " in str(problem.value)
    assert said in str(problem.value)


def test_moments_at_steps_that_the_options_leave_away_are_dropped() -> None:
    """A moment at a step of other options is dropped; one at no step of the checklist stays."""
    moments = [{"step": step, "say": ["why"]} for step in ("a", "b.left", "b", "c")]
    script = demo().model_copy(update={"moments": ()})
    script = Script.model_validate({**script.model_dump(), "moments": moments})
    kept = script.for_steps({"a", "d"}, {"a", "b", "d"})
    assert [moment.step for moment in kept.moments] == ["a", "c"]


def test_the_same_people_for_another_checklist() -> None:
    """For another checklist the demo's people keep their voices and only do what is asked."""
    other = demo().without_moments("small")
    assert other.people == demo().people
    assert (other.checklist, other.moments, other.readings) == ("small", (), {})
    assert (other.leave_out, other.options) == ((), {})

"""The technician of a rehearsal does what the assistant asks, from the state alone."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assistant.checklist.model import Reading
from assistant.errors import BadInput
from assistant.job.state import Mode
from assistant.packaged import phrasebook
from assistant.rehearsal.script import Moment, Script
from assistant.rehearsal.technician import Technician
from assistant.trade.quantity import Quantity
from tests.bays import Shop, shop
from tests.job.bench import ALL_HAZARDS, PLAIN, Bench, at_step, setting
from tests.rehearsal.stage import demo


def _script(**changed: object) -> Script:
    return demo().without_moments("small").model_copy(update=changed)


def _technician(text: str = ALL_HAZARDS, **changed: object) -> Technician:
    return Technician(setting(text), phrasebook("en"), _script(**changed))


def _finish(made: Shop, technician: Technician) -> list[str]:
    """Play by keys to the release; returns what was typed."""
    typed: list[str] = []
    for _ in range(200):
        if made.bay.closed:
            return typed
        turn = technician.next_turn(made.bay.state)
        made.work(turn.work_s)
        if not turn.words:
            made.bay.turn(0.0)
            continue
        typed.append(turn.words)
        made.type(turn.note or turn.words)
        technician.said(turn)
    raise AssertionError(f"no end: {typed[-10:]}, {made.shown[-5:]}")


def test_a_job_with_everything_is_finished() -> None:
    """Hazards, a second person, a hold, readings: all of it is answered as asked."""
    made = shop(typed=True).open()
    typed = _finish(made, _technician())
    assert made.bay.state.met == len(made.bay.state.passed) >= 6
    assert {"holding now", "step complete", "affirm"} <= set(typed)
    assert not any("not a phrase" in line for line in made.shown)


def test_a_scripted_moment_comes_at_its_step() -> None:
    """What the script says at a step is said there, in order, and then the step is done."""
    moments = (Moment(step="second", say=("what is off", "note: a scratch", "take a note")),)
    with pytest.raises(BadInput, match="steps that this job does not have"):
        _technician(PLAIN, moments=(Moment(step="nowhere", say=("what is off",)),))
    moments = (Moment(step="second", say=("what is off", "take a note", "note: a scratch")),)
    made = shop(typed=True, text=PLAIN).open()
    typed = _finish(made, _technician(PLAIN, moments=moments))
    at = typed.index("what is off")
    assert typed[at : at + 4] == ["what is off", "take a note", "end of note", "step complete"]
    assert made.bay.state.notes[0].text == "a scratch"
    assert made.bay.state.notes[0].step == "second"


def test_a_line_not_heard_is_said_again() -> None:
    """Only what was understood is ticked off."""
    moments = (Moment(step="first", say=("what is off", "what is next")),)
    technician = _technician(PLAIN, moments=moments)
    state = at_step("first", Mode.STEP, PLAIN).state
    first = technician.next_turn(state)
    assert technician.next_turn(state) == first
    technician.said(first)
    assert technician.next_turn(state).words == "what is next"
    technician.drop_script()
    assert technician.next_turn(state).words == "step complete"


def test_an_optional_step_is_left_out_where_the_script_says_so() -> None:
    """Only an optional step is; asking it of another changes nothing."""
    made = shop(typed=True, text=PLAIN).open()
    typed = _finish(made, _technician(PLAIN, leave_out=("second", "third")))
    assert typed.count("leave this step out") == 1
    assert [out.step for out in made.bay.state.progress.left_out] == ["second"]


def test_only_the_value_that_was_meant_is_affirmed() -> None:
    """A value misheard is denied when it is read back, as a person would."""
    bench = at_step("resting-voltage")
    technician = _technician(readings={"resting voltage": "one two point eight"})
    bench.hear("reading", number="12.8", unit="V")
    assert technician.next_turn(bench.state).words == "affirm"
    bench.hear("affirm")
    bench.hear("reading", number="13.8", unit="V")
    assert technician.next_turn(bench.state).words == "negative"


def test_a_scripted_value_for_other_limits_is_not_measured() -> None:
    """A number that is out of this job's limits was scripted for other options."""
    technician = _technician(readings={"resting voltage": "two"})
    words = technician.next_turn(at_step("resting-voltage").state).words
    assert words == "reading twelve point eight volts"


def test_everything_of_the_kit_is_here() -> None:
    """Asked about the kit, the technician has it."""
    bench = Bench(kit=True)
    assert bench.state.mode is Mode.KIT
    assert _technician().next_turn(bench.state).words == "affirm"


def test_the_second_person_answers_for_themselves() -> None:
    """A second look is read back by the second person, everything else by who has the job."""
    bench = at_step("leak-check", Mode.SECOND_PERSON)
    turn = _technician().next_turn(bench.state)
    assert turn.who == "tobin"
    assert turn.words.startswith(bench.setting.stops.second_person)
    assert _technician().next_turn(at_step("pad-wear").state).who == "mara"


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [
        ("2 mm", "3 mm", Fraction(5, 2)),
        ("5/32 in", None, Fraction(1, 5)),
        ("3.96875 mm", None, Fraction(4)),
        ("0.05 mm", "0.07 mm", Fraction(3, 50)),
        (None, "3.7 mm", Fraction(37, 10)),
        (None, "7 mm", Fraction(7)),
        (None, None, Fraction(1)),
        ("12.4 V", "13.2 V", Fraction(64, 5)),
    ],
)
def test_a_value_within_limits_is_measured(
    low: str | None, high: str | None, wanted: Fraction
) -> None:
    """Without a scripted value one inside the limits is given, in the unit that is asked for."""
    unit = (low or high or "1 mm").split()[-1]
    wanted_reading = Reading.model_validate(
        {
            "name": "x",
            "unit": unit,
            **({"at_least": low} if low else {}),
            **({"at_most": high} if high else {}),
        }
    )
    from assistant.rehearsal.technician import _inside  # noqa: PLC0415 - no part of the interface

    assert _inside(wanted_reading) == wanted
    for limit, sign in ((low, 1), (high, -1)):
        if limit is not None:
            assert sign * (wanted - Quantity.parse(limit).value) >= 0

"""Questions are answered from the state and never change it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.job.effects import Say
from assistant.job.questions import three_digits
from assistant.job.state import Mode
from assistant.job.table import QUESTIONS, TABLE
from assistant.trade.quantity import Quantity, unit_named
from tests.job.bench import Bench, at_step
from tests.job.test_table import MAKE

ASKED = [(mode, name) for mode, name in TABLE if name in QUESTIONS]


@given(
    asked=st.lists(st.sampled_from(sorted(QUESTIONS)), min_size=1, max_size=6),
    mode=st.sampled_from([m for m in Mode if m not in (Mode.NEW, Mode.RELEASED)]),
)
def test_no_question_changes_anything(asked: list[str], mode: Mode) -> None:
    """Any questions in any mode: the state is the very same afterwards."""
    bench = MAKE[mode]()
    before = bench.state
    for name in asked:
        bench.hear_any(name)
        assert bench.state == before
        assert all(isinstance(effect, Say) for effect in bench.effects)


@pytest.mark.parametrize(("mode", "name"), sorted(ASKED))
def test_every_question_is_answered(mode: Mode, name: str) -> None:
    """Where a question may be asked, something is said, and the state stays."""
    bench = MAKE[mode]()
    before = bench.state
    said = bench.hear_any(name)
    assert bench.state == before
    assert said or (name.startswith("say_again") and not bench.state.last)


@pytest.mark.parametrize(
    ("step", "question", "said"),
    [
        ("hose-on", "what_size", ("step.driver_fastener",)),
        ("line-on", "what_size", ("answer.no_size",)),
        ("hose-on", "what_torque", ("step.torque",)),
        ("line-on", "what_torque", ("answer.no_torque",)),
        ("negative-off", "what_caution", ("step.caution", "step.caution")),
        ("line-on", "what_caution", ("answer.no_caution",)),
        ("hose-on", "what_parts", ("answer.part_many", "answer.consumable")),
        ("line-on", "what_parts", ("answer.no_parts",)),
        ("look-round", "why", ("text",)),
        ("line-on", "why", ("answer.no_why",)),
        ("line-on", "what_next", ("answer.next",)),
        ("wipe-down", "what_next", ("answer.next_is_release",)),
        ("line-on", "where_are_we", ("answer.where",)),
        ("line-on", "what_is_off", ("off.item", "off.item")),
        ("look-round", "what_is_off", ("answer.nothing_off",)),
        ("line-on", "how_long_left", ("answer.minutes_left",)),
        ("line-on", "convert", ("answer.no_torque",)),
    ],
)
def test_answers(step: str, question: str, said: tuple[str, ...]) -> None:
    """Each question is answered from the open step, or it is said that nothing stands there."""
    assert at_step(step).hear_any(question) == said


def test_values_of_answers() -> None:
    """Where: section, number, total and what is left; time: the minutes that are left."""
    bench = at_step("line-on")
    bench.hear("where_are_we")
    said = dict(bench.lines()[0].values)
    assert said == {"title": "Only section", "number": "4", "total": "12", "left": "9"}
    bench.hear("how_long_left")
    assert bench.value("answer.minutes_left", "minutes") == "18"  # nine steps of two minutes
    bench.hear("what_next")
    assert bench.value("answer.next", "text") == "Look for a leak."


def test_at_the_release_no_step_is_asked_about() -> None:
    """When all steps are through, the answers say so."""
    bench = at_step("", Mode.STOP)
    assert bench.hear("where_are_we") == ("answer.at_release",)
    assert bench.hear("what_size") == ("answer.no_size",)
    assert bench.hear_any("convert") == ("answer.no_torque",)


@pytest.mark.parametrize("name", ["say_again", "say_again_slowly"])
def test_say_again_repeats_the_last_lines(name: str) -> None:
    """The lines of the step, or the fixed words of the stop with the same number."""
    bench = at_step("line-off", Mode.STOP)
    lines = bench.state.last
    number = bench.number()
    bench.hear("what_is_off")  # a remark is not what is repeated
    bench.hear(name)
    assert bench.lines() == lines
    (effect,) = bench.effects
    assert isinstance(effect, Say)
    assert (effect.fixed, effect.slowly) == (True, name.endswith("slowly"))
    assert bench.number() == number


@pytest.mark.parametrize(
    ("unit", "value"),
    [
        # 1 N·m = 0.737 562 1 lbf·ft = 8.850 746 lbf·in (NIST SP 811 B.9: 1 lbf·ft is
        # 1.355 818 N·m, 1 lbf·in is 0.112 984 8 N·m), to three digits.
        ("lbf·ft", "16.2 lbf·ft"),
        ("lbf·in", "195 lbf·in"),
        ("N·m", "22 N·m"),
    ],
)
def test_a_torque_is_converted(unit: str, value: str) -> None:
    """22 N·m in the other units of the trade."""
    bench = at_step("hose-on")
    bench.hear("convert", torque_unit=unit)
    assert bench.value("answer.converted", "value") == value


@given(st.fractions(min_value="1/1000", max_value=100_000))
def test_three_digits_are_within_half_of_the_last(value: object) -> None:
    """Rounding moves a value by half a unit of its third digit at most."""
    quantity = Quantity(value, unit_named("N·m"))  # type: ignore[arg-type]  # a Fraction
    rounded = three_digits(quantity)
    assert abs(rounded.value - quantity.value) * 200 <= quantity.value
    assert three_digits(Quantity.parse("0 V")) == Quantity.parse("0 V")


def test_quiet_only_silences() -> None:
    """On "quiet please" the voice stops; the job stays where it is."""
    bench: Bench = at_step("hose-on")
    before = bench.state
    assert bench.hear("quiet") == ()
    assert bench.state == before
    assert len(bench.effects) == 1

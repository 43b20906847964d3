"""Safety stops, the freeze and alarms end only with their own read-back."""

from __future__ import annotations

from itertools import pairwise, repeat

import pytest

from assistant.job.effects import BeQuiet, Close, Say
from assistant.job.state import Mode
from assistant.job.table import TABLE
from assistant.language.intent import Cost
from assistant.packaged import phrasebook
from assistant.safety.hazards import Condition, Stop
from tests.job.bench import Bench, at_step


def at_stop(step: str = "line-off") -> Bench:
    """A job that waits at the first safety stop before a step."""
    return at_step(step, Mode.STOP)


def test_a_stop_names_the_hazard_first_and_the_number_before_the_words() -> None:
    """Signal word and hazard, then the demands, then the number, then the words.

    The signal word stands first, as in ANSI Z535.4. The number never follows the words (I4).
    """
    bench = at_stop()
    said = list(bench.said())
    at = said.index("stop.hazard")
    assert said[at:] == [
        "stop.hazard",
        *["text"] * (len(said) - at - 3),
        "stop.number",
        "stop.words",
    ]
    assert bench.value("stop.hazard", "signal") == "DANGER"
    (effect,) = [e for e in bench.effects if isinstance(e, Say)]
    assert effect.fixed


def test_a_stop_ends_with_its_words_and_its_number() -> None:
    """The right read-back is logged with number, tries, person and way."""
    bench = at_stop()
    number = bench.number()
    assert bench.read_back()[0] == "stop.passed"
    assert len(bench.state.passed) == 1
    passed = bench.state.passed[0]
    assert (passed.stop, passed.number, passed.tries) == ("battery_off", number, 1)
    assert (passed.who, passed.via) == ("mara", "voice")
    assert bench.state.stop is Stop.FUEL_OPEN


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ("words", "stop.wrong"),
        ("number", "stop.wrong_number"),
        ("old", "stop.wrong_number"),
        ("late", "stop.expired"),
    ],
)
def test_a_wrong_read_back_passes_nothing(wrong: str, said: str) -> None:
    """Wrong words, a wrong, an old or a late number: a fresh number, one try more."""
    bench = at_stop()
    first = bench.number()
    if wrong == "words":
        keys = bench.read_back(words="fuel_open")
    elif wrong == "number":
        keys = bench.read_back(number="11" if first != "11" else "12")
    elif wrong == "old":
        bench.read_back(words="fuel_open")
        keys = bench.read_back(number=first)
    else:
        bench.wait(120.1)
        keys = bench.read_back()
    assert keys[0] == said
    assert keys[-2:] == ("stop.number", "stop.words")
    assert not bench.state.passed
    assert bench.state.stop is Stop.BATTERY_OFF
    assert bench.number() != first
    assert bench.state.challenge is not None
    assert bench.state.challenge.tries == (2 if wrong == "old" else 1)
    bench.read_back()
    assert bench.state.passed[0].tries == (3 if wrong == "old" else 2)


def test_a_number_lives_two_minutes_to_the_second() -> None:
    """At exactly its time it still counts."""
    bench = at_stop()
    bench.wait(120)
    bench.read_back()
    assert [p.stop for p in bench.state.passed] == ["battery_off"]


def test_after_three_tries_one_is_told_to_step_back() -> None:
    """The third wrong answer says so, and so does each after it; the stop stays."""
    bench = at_stop()
    for attempt in range(1, 6):
        said = bench.read_back(words="release")
        assert ("stop.step_back" in said) is (attempt >= 3)
    assert bench.state.mode is Mode.STOP


def test_a_number_is_never_given_twice_in_a_row() -> None:
    """Even if the dice fall the same way every time, and across stops."""
    bench = at_stop()
    bench.fresh = repeat(int(bench.number()))
    seen = [bench.number()]
    for _ in range(200):
        bench.read_back(words="release")
        seen.append(bench.number())
    bench.read_back()
    seen.append(bench.number())
    assert all(one != other for one, other in pairwise(seen))
    assert all(len(number) == 2 and number.isdigit() and int(number) >= 10 for number in seen)


@pytest.mark.parametrize("step", ["line-off", "hose-off", "negative-on", ""])
def test_nothing_before_a_stop_can_be_undone_from_there(step: str) -> None:
    """From the moment a stop is entered nothing that came before is left to go back to."""
    assert at_stop(step).state.before == ()


@pytest.mark.parametrize("step", ["line-off", "hose-off", "negative-on", ""])
def test_no_intent_but_the_read_back_passes_a_stop(step: str) -> None:
    """Every intent of the phrasebook is tried at the stop, and what can follow it: none passes."""
    book = phrasebook("en")
    for name, entry in book.intents.items():
        if name == "read_back":
            continue
        bench = at_stop(step)
        before = bench.state
        bench.hear_any(name)
        if entry.cost is Cost.CONFIRMATION or (Mode.STOP, name) not in TABLE:
            assert bench.said() == ("refused.not_now",)
        for follow in ("affirm", "carry_on", "disregard", "step_done"):
            bench.hear(follow)
        bench.dictate()
        assert bench.state.passed == before.passed, name
        assert bench.state.progress.done == before.progress.done, name
        assert bench.state.progress.at == before.progress.at, name


def test_a_stop_left_and_met_again_is_the_same_one() -> None:
    """A note in the middle brings the stop back, with another number, and counts it once."""
    bench = at_stop()
    old = bench.number()
    bench.hear("take_note")
    assert bench.dictate()[0] == "note.kept"
    assert (bench.state.mode, bench.state.stop) == (Mode.STOP, Stop.BATTERY_OFF)
    assert bench.number() != old
    assert bench.state.met == 1
    bench.read_back(number=old)
    assert bench.state.passed == ()


def test_the_release_closes_the_job() -> None:
    """The last stop's read-back ends the job and asks for the seal."""
    bench = at_stop("").run_to("", Mode.STOP)
    while bench.state.stop is not Stop.RELEASE:
        bench.read_back()
    assert bench.read_back() == ("release.done",)
    assert bench.state.mode is Mode.RELEASED
    assert bench.effects[-1] == Close("released")
    assert bench.state.ended


def test_a_freeze_is_silent_and_ends_with_its_read_back() -> None:
    """Silence at once; going on takes "carry on", then words and number."""
    bench = at_step("hose-on")
    assert bench.hear("freeze") == ()
    assert bench.effects == (BeQuiet(),)
    assert bench.waits() == (Mode.FROZEN, "hose-on")
    for name in ("step_done", "affirm", "disregard", "stand_by", "correction"):
        assert bench.hear(name) == ("refused.not_now",)
    assert bench.hear("carry_on") == ("stop.number", "stop.words")
    old = bench.number()
    assert bench.read_back(words="brake_open")[0] == "stop.wrong"
    assert bench.read_back(number=old)[0] == "stop.wrong_number"
    bench.wait(121)
    assert bench.read_back()[0] == "stop.expired"
    assert bench.waits() == (Mode.FROZEN, "hose-on")
    bench.read_back()
    assert bench.waits() == (Mode.STANDING, "hose-on")


def test_a_freeze_makes_what_is_open_be_asked_again() -> None:
    """How the machine is held, the isolated battery and the open brake are confirmed anew (I9)."""
    bench = at_step("hose-on")
    bench.hear("freeze")
    assert bench.state.progress.hazards.battery is Condition.OPEN_UNPROVEN
    assert bench.state.progress.hazards.brake is Condition.OPEN_UNPROVEN
    bench.hear("carry_on")
    bench.read_back()
    bench.hear("affirm")
    assert bench.waits() == (Mode.STOP, "battery_off")
    bench.read_back()
    assert bench.waits() == (Mode.STOP, "brake_open")
    bench.read_back()
    assert bench.waits() == (Mode.STEP, "hose-on")


def test_a_read_back_without_a_number_asked_for_counts_for_nothing() -> None:
    """Frozen, before "carry on", there is no number that could be right."""
    bench = at_step("hose-on")
    bench.hear("freeze")
    assert bench.hear("read_back", read_back="freeze", challenge="47")[0] == "stop.expired"
    assert bench.state.mode is Mode.FROZEN


@pytest.mark.parametrize(
    ("alarm", "step", "stop"),
    [
        ("smell_of_fuel", "line-on", Stop.FUEL_OPEN),
        ("smell_of_fuel", "hose-off", Stop.FUEL_CLOSED),
        ("fluid_leak", "hose-on", Stop.BRAKE_OPEN),
        ("fluid_leak", "pad-wear", Stop.BRAKE_PROVEN),
        ("fluid_leak", "look-round", Stop.BRAKE_PROVEN),
    ],
)
def test_an_alarm_makes_the_hazard_unproven_at_once(alarm: str, step: str, stop: Stop) -> None:
    """The warning comes first, then the stop that proves the hazard again (I9)."""
    bench = at_step(step)
    assert bench.hear(alarm)[0] == f"alarm.{alarm}"
    assert (bench.state.mode, bench.state.stop) == (Mode.STOP, stop)
    assert bench.state.open_troubles()[-1].kind == alarm
    assert bench.state.before == ()


def test_smoke_freezes() -> None:
    """Smoke silences everything but its own warning, and nothing counts until the read-back."""
    bench = at_step("line-on")
    assert bench.hear("smoke") == ("alarm.smoke",)
    assert bench.effects[0] == BeQuiet()
    assert bench.state.mode is Mode.FROZEN
    assert bench.state.progress.hazards.fuel.plain == "unproven"
    assert bench.state.progress.hazards.battery.plain == "unproven"


@pytest.mark.parametrize("pause", ["stand_by", "freeze"])
def test_an_alarm_counts_in_a_pause_too(pause: str) -> None:
    """The warning is said, and what it doubts is asked when the work goes on."""
    bench = at_step("hose-off")
    bench.hear(pause)
    mode = bench.state.mode
    assert bench.hear("smell_of_fuel") == ("alarm.smell_of_fuel",)
    assert bench.state.mode is mode
    assert bench.state.progress.hazards.fuel is Condition.CLOSED_UNPROVEN


def test_an_alarm_takes_a_hold_back() -> None:
    """A lever that held before the leak must be held again."""
    bench = at_step("lever-hold")
    bench.hear("start_hold")
    bench.tick(30)
    bench.hear("affirm")
    bench.hear("fluid_leak")
    bench.run_to("lever-hold")
    bench.wait(60)
    assert bench.hear("step_done") == ("hold.needed",)

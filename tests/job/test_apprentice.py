"""An apprentice's safety stops: two people, two numbers, each given by the program (I10)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assistant.job.state import Mode
from assistant.job.summary import account
from assistant.safety.hazards import Condition
from tests.job.bench import Bench, apprentice_at_stop, setting


def until_stop(bench: Bench) -> None:
    """Work on until a safety stop is met."""
    while bench.state.mode is not Mode.STOP:
        bench.answer()


def test_an_apprentice_alone_passes_no_stop() -> None:
    """After the apprentice's own read-back the second person is asked, and nothing is passed."""
    bench = apprentice_at_stop()
    assert bench.state.mode is Mode.STOP_SECOND
    assert bench.state.passed == ()
    assert bench.state.progress.hazards.battery is Condition.OPEN_UNPROVEN
    first, *rest = bench.said()
    assert first == "stop.second"
    assert bench.value("stop.second", "name") == "Tobin"
    assert rest[0] == "stop.hazard"
    assert rest[-2:] == ["stop.number", "stop.words"]


def test_the_second_person_passes_it_with_a_number_of_their_own() -> None:
    """Both read-backs stand in the record, each with its number."""
    bench = apprentice_at_stop()
    number = bench.number()
    bench.read_back()
    passed = bench.state.passed[-1]
    assert (passed.stop, passed.who, passed.second) == ("battery_off", "mara", "tobin")
    assert passed.second_number == number
    assert passed.number != number
    assert bench.state.progress.hazards.battery is Condition.OPEN
    assert account(bench.setting, bench.state)["safety_stops"][-1]["second"] == "tobin"


@pytest.mark.parametrize("wrong", ["own words", "first number", "late", "affirm", "digit"])
def test_a_wrong_second_answer_passes_nothing(wrong: str) -> None:
    """The first person's words or number, one wrong digit, a late answer: a fresh number."""
    bench = apprentice_at_stop()
    before, live = len(bench.state.passed), bench.number()
    if wrong == "own words":
        bench.read_back(words="battery_off")
    elif wrong == "first number":
        assert bench.state.pending.first is not None
        bench.read_back(number=bench.state.pending.first.number)
    elif wrong == "late":
        bench.wait(121)
        bench.read_back()
    elif wrong == "digit":
        bench.read_back(number=live[0] + str((int(live[1]) + 1) % 10))
    else:
        bench.hear("affirm")
    assert len(bench.state.passed) == before
    assert bench.state.mode is Mode.STOP_SECOND
    assert wrong == "affirm" or bench.number() != live


def test_a_break_between_the_two_begins_the_stop_anew() -> None:
    """Whatever comes between, the first read-back is not kept."""
    for name in ("stand_by", "freeze", "smell_of_fuel"):
        bench = apprentice_at_stop()
        before = len(bench.state.passed)
        bench.hear(name)
        until_stop(bench)
        assert len(bench.state.passed) == before
        bench.read_back()
        assert bench.state.mode is Mode.STOP_SECOND
    bench = apprentice_at_stop()
    bench.resume()
    bench.answer()
    assert bench.state.mode is Mode.STOP


def test_an_apprentice_can_finish_a_whole_job_with_a_second_person() -> None:
    """Every stop of the job, the release with it, has two people and two numbers."""
    bench = Bench(replace(setting(), apprentices=frozenset({"mara"}))).finish()
    assert bench.state.mode is Mode.RELEASED
    assert all(p.second == "tobin" and p.second_number for p in bench.state.passed)
    assert all(p.number != p.second_number for p in bench.state.passed)


def test_who_takes_over_from_an_apprentice_needs_no_second() -> None:
    """The variant goes with the person: handed over, one read-back is enough; and back again."""
    bench = Bench(replace(setting(), apprentices=frozenset({"ines"})), second=None)
    bench.run_to("line-off", Mode.STOP)
    bench.read_back()
    assert bench.state.passed[-1].second is None
    bench.run_to("line-off")
    bench.hear("hand_over", name="ines")
    bench.hear("affirm")
    assert bench.state.second == "mara"  # who left looks after the apprentice
    until_stop(bench)
    bench.read_back()
    assert bench.state.mode is Mode.STOP_SECOND


def test_without_a_second_person_nothing_is_passed() -> None:
    """A job opened without one can't pass a stop of an apprentice, whatever is said."""
    bench = Bench(replace(setting(), apprentices=frozenset({"mara"})), second=None)
    until_stop(bench)
    for _ in range(3):
        bench.read_back()
        assert bench.state.mode is Mode.STOP
        assert not bench.state.passed
    assert bench.said() == ("second.nobody", "stop.number", "stop.words")

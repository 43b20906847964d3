"""Confirming, taking back, going back, leaving out."""

from __future__ import annotations

import pytest

from assistant.job.state import Mode
from tests.job.bench import HEAD, PLAIN, Bench, at_step, setting


def test_a_step_is_confirmed_and_the_next_opens() -> None:
    """A confirmation after enough time is logged and leads to the next step."""
    bench = at_step("first", text=PLAIN)
    bench.wait(10)
    assert bench.hear("step_done")[0] == "step.confirmed"
    assert bench.step() == "second"
    (done,) = bench.state.progress.done
    assert (done.step, done.who, done.second, done.via) == ("first", "mara", None, "voice")
    assert done.seconds == 10


def test_too_quick_is_questioned_and_affirmed() -> None:
    """A confirmation faster than a twentieth of the expected two minutes is questioned."""
    bench = at_step("first", text=PLAIN)
    bench.wait(5.9)
    assert bench.hear("step_done") == ("pace.ask",)
    assert bench.state.mode is Mode.PACE_CHECK
    assert not bench.state.progress.done
    bench.hear("affirm")
    assert bench.step() == "second"


@pytest.mark.parametrize("answer", ["negative", "disregard"])
def test_too_quick_is_questioned_and_denied(answer: str) -> None:
    """Denied, the step stays open, and the time it has been open runs on."""
    bench = at_step("first", text=PLAIN)
    bench.hear("step_done")
    bench.hear(answer)
    assert (bench.state.mode, bench.step()) == (Mode.STEP, "first")
    assert not bench.state.progress.done
    bench.wait(6)
    assert bench.hear("step_done")[0] == "step.confirmed"


def test_the_author_may_say_what_is_too_quick() -> None:
    """`least_seconds` stands instead of the twentieth."""
    text = HEAD + '      - step: a\n        do: "Do it."\n        least_seconds: 40\n'
    bench = at_step("a", text=text)
    bench.wait(39)
    assert bench.hear("step_done") == ("pace.ask",)
    bench.hear("negative")
    bench.wait(1)
    assert bench.hear("step_done")[0] == "step.confirmed"


def test_an_exchange_in_between_does_not_start_the_time_again() -> None:
    """A note or a question while the work goes on costs no second confirmation."""
    bench = at_step("first", text=PLAIN)
    bench.wait(4)
    bench.hear("take_note")
    bench.wait(4)
    assert bench.dictate()[-1] == "step.back_to"
    assert bench.hear("step_done")[0] == "step.confirmed"


def test_the_second_person_answers_with_words_and_number() -> None:
    """A marked step counts only with the second person's own words and the live number (I10)."""
    bench = at_step("leak-check")
    bench.wait(60)
    said = bench.hear("step_done")
    assert said == ("second.ask", "text", "stop.number", "stop.words")
    assert bench.value("text", "text") == "Look for a leak."
    assert bench.value("second.ask", "name") == "Tobin"
    assert bench.state.mode is Mode.SECOND_PERSON
    number = bench.number()
    bench.read_back()
    assert bench.state.progress.done[-1].step == "leak-check"
    assert bench.state.progress.done[-1].second == "tobin"
    assert number == f"{int(number):02d}"


@pytest.mark.parametrize("wrong", ["words", "number", "late", "plain"])
def test_a_wrong_second_answer_counts_for_nothing(wrong: str) -> None:
    """Wrong words, a wrong or late number, or a bare "affirm": the step stays unconfirmed."""
    bench = at_step("leak-check")
    bench.wait(60)
    bench.hear("step_done")
    old = bench.number()
    if wrong == "words":
        bench.read_back(words="fuel_closed")
    elif wrong == "number":
        bench.read_back(number="11" if old != "11" else "12")
    elif wrong == "late":
        bench.wait(121)
        bench.read_back()
    else:
        assert bench.hear("affirm") == ("refused.not_now",)
        assert bench.hear("step_done") == ("refused.not_now",)
    assert bench.state.mode is Mode.SECOND_PERSON
    assert "leak-check" not in [d.step for d in bench.state.progress.done]
    if wrong != "plain":
        assert bench.number() != old
        bench.read_back(number=old)
        assert bench.state.mode is Mode.SECOND_PERSON


def test_without_a_second_person_the_doer_confirms_alone() -> None:
    """A job begun without a second person asks nobody, and the record says so."""
    bench = Bench(setting(), second=None).run_to("leak-check")
    bench.wait(60)
    bench.hear("step_done")
    assert bench.state.progress.done[-1].second is None


def test_correction_withdraws_the_last_confirmation() -> None:
    """The step is open again and the work on the off-list is undone with it."""
    bench = at_step("negative-off")
    bench.hear("correction")
    assert bench.step() == "look-round"
    assert not bench.state.progress.done
    assert bench.hear("correction") == ("correction.nothing",)


def test_correction_takes_a_reading_back() -> None:
    """A reading can be withdrawn like a step."""
    bench = at_step("pad-wear")
    planned = bench.state.step(bench.setting)
    assert planned is not None
    bench.measure(planned.step.readings[0], "6 mm")
    assert bench.state.progress.readings[-1].name == "pad thickness"
    assert bench.hear("correction")[0] == "correction.done"
    assert bench.state.progress.readings[-1].name == "resting voltage"
    bench.wait(60)
    assert bench.hear("step_done") == ("step.reading",)


def test_going_back_is_one_step_whatever_was_said_in_it() -> None:
    """Readings of the open step are skipped over: the step before opens."""
    bench = at_step("pad-wear")
    planned = bench.state.step(bench.setting)
    assert planned is not None
    bench.measure(planned.step.readings[0], "6 mm")
    assert bench.hear("go_back")[0] == "back.done"
    assert bench.step() == "resting-voltage"


@pytest.mark.parametrize("way", ["correction", "go_back"])
@pytest.mark.parametrize("after", ["line-off", "hose-off", "negative-on"])
def test_nothing_crosses_a_safety_stop(way: str, after: str) -> None:
    """Behind a safety stop neither a correction nor going back changes anything (I3)."""
    bench = at_step(after)
    before = bench.state
    assert bench.hear(way)[0] in ("correction.nothing", "back.not_across_stop")
    assert bench.state.progress == before.progress
    assert bench.step() == after


def test_an_optional_step_is_left_out_with_a_reason() -> None:
    """It is asked why; the reason is in the record, and the work goes on."""
    bench = at_step("second", text=PLAIN)
    assert bench.hear("leave_out") == ("leave_out.ask",)
    said = bench.hear("leave_out_reason", reason="not-needed")
    assert said[0] == "leave_out.done"
    assert bench.value("leave_out.done", "reason") == "inspected and not needed"
    (gone,) = bench.state.progress.left_out
    assert (gone.step, gone.reason, gone.who) == ("second", "not-needed", "mara")
    assert bench.step() == "third"
    bench.hear("correction")
    assert (bench.step(), bench.state.progress.left_out) == ("second", ())


def test_a_reason_not_given_leaves_the_step_open() -> None:
    """With "disregard" or "negative" instead of a reason: nothing is left out."""
    for answer in ("disregard", "negative"):
        bench = at_step("second", text=PLAIN)
        bench.hear("leave_out")
        bench.hear(answer)
        assert (bench.step(), bench.state.progress.left_out) == ("second", ())


def test_only_optional_steps_are_left_out() -> None:
    """No other step can be left out."""
    bench = at_step("first", text=PLAIN)
    assert bench.hear("leave_out") == ("leave_out.refused",)
    assert bench.state.mode is Mode.STEP


def test_an_optional_hazard_step_is_never_left_out() -> None:
    """A step that touches a hazard can't be left out, even if its author calls it optional."""
    text = HEAD + (
        "      - step: a\n"
        '        do: "Undo the hose."\n'
        "        optional: true\n"
        "        hazards: {brake: open}\n"
    )
    bench = at_step("a", text=text)
    assert bench.hear("leave_out") == ("leave_out.refused",)


def test_what_never_came_off_cannot_go_back() -> None:
    """A step that puts back what is not off is not confirmed."""
    text = HEAD + (
        "      - step: a\n"
        '        do: "Take it off."\n'
        "        optional: true\n"
        '        off: [{item: "boot"}]\n'
        "      - step: b\n"
        '        do: "Put it on."\n'
        '        back: [{item: "boot"}]\n'
    )
    bench = at_step("a", text=text)
    bench.hear("leave_out")
    bench.hear("leave_out_reason", reason="not-fitted")
    bench.wait(60)
    assert bench.hear("step_done") == ("off.refused.never-off",)
    assert bench.state.progress.done == ()


def test_a_forbidden_step_is_never_confirmed() -> None:
    """A checklist that opens fuel with the battery on opens the step, but can't go on (I1)."""
    text = HEAD + '      - step: a\n        do: "Pull it off."\n        hazards: {fuel: open}\n'
    bench = at_step("a", text=text)
    assert "forbidden.needs-battery-isolated" in bench.said()
    bench.wait(600)
    assert bench.hear("step_done") == ("forbidden.needs-battery-isolated",)
    assert bench.state.progress.done == ()


def test_the_standing_condition_comes_first() -> None:
    """Nothing opens until the machine is held as the checklist says."""
    bench = Bench(setting(PLAIN))
    assert bench.waits() == (Mode.STANDING, "first")
    assert bench.hear("negative") == ("standing.fix",)
    assert bench.hear("step_done") == ("refused.not_now",)
    assert bench.waits() == (Mode.STANDING, "first")
    bench.hear("affirm")
    assert bench.waits() == (Mode.STEP, "first")

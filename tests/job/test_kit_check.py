"""The kit check by voice: what is missing is logged, and the job goes on."""

from __future__ import annotations

import pytest

from assistant.job.machine import replay
from assistant.job.state import Mode
from tests.job.bench import PLAIN, Bench, setting
from tests.job.echo import WORDS, both_ways
from tests.job.test_kit import KIT


def kit(*answers: str) -> Bench:
    """A job whose kit is checked, after these answers."""
    bench = Bench(setting(KIT), kit=True)
    for answer in answers:
        bench.hear(answer)
    return bench


def test_the_kit_comes_before_the_standing_condition() -> None:
    """Nothing is asked about the machine until everything of the kit was asked about."""
    bench = kit()
    assert bench.said()[:3] == ("job.opened", "kit.begin", "tray.drivers")
    assert bench.state.mode is Mode.KIT
    for _ in range(5):
        assert bench.state.mode is Mode.KIT
        said = bench.hear("affirm")
    assert said == ("kit.done", "standing.ask")
    assert bench.state.troubles == ()
    assert bench.run_to("", Mode.RELEASED).state.mode is Mode.RELEASED


def test_a_job_is_opened_without_it_unless_it_is_asked_for() -> None:
    """An older record, which says nothing of a kit, replays as it was."""
    bench = Bench(setting(KIT))
    assert bench.state.mode is Mode.STANDING
    assert bench.state.kit is None


def test_a_job_that_needs_nothing_has_no_kit() -> None:
    """An empty tray is not asked about."""
    assert Bench(setting(PLAIN), kit=True).state.mode is Mode.STANDING


def test_a_missing_part_blocks_the_release_until_it_is_there() -> None:
    """It is named when it is logged, at the release, and when it is cleared."""
    bench = kit("affirm", "affirm", "negative")
    assert bench.said()[0] == "kit.missing"
    assert bench.value("kit.missing", "name") == "line"
    (missing,) = bench.state.troubles
    assert (missing.kind, missing.item, missing.step, missing.cleared) == (
        "missing-part",
        "line",
        "",
        False,
    )
    assert bench.said()[1] == "tray.part"  # and the check goes on
    bench.run_to("", Mode.BEFORE_RELEASE)
    assert bench.value("release.trouble_item", "name") == "line"
    assert bench.hear("trouble_cleared")[0] == "kit.found"
    bench.finish()


def test_a_missing_driver_is_found_out_by_size() -> None:
    """A group of which something is missing names nothing yet; the size that is missing does."""
    bench = kit("negative")
    assert bench.state.open_troubles() == ()
    bench.hear("affirm")
    bench.hear("negative")
    (missing,) = bench.state.troubles
    assert (missing.kind, missing.item) == ("missing-tool", "12 mm socket")


@pytest.mark.parametrize(
    ("answers", "step", "name"),
    [
        (("affirm", "affirm", "negative"), "one", "line"),
        (("negative", "affirm", "negative"), "two", "12 mm socket"),
    ],
)
def test_what_is_missing_is_told_where_it_is_needed(
    answers: tuple[str, ...], step: str, name: str
) -> None:
    """At the step that needs it, not at another, and not once it is there."""
    bench = kit(*answers).run_to("line-off")
    assert "step.missing" not in bench.said()
    bench.run_to(step)
    assert bench.value("step.missing", "name") == name
    bench.hear("trouble_cleared")
    bench.hear("say_again")
    assert "step.missing" not in bench.said()


def test_something_fetched_meanwhile_is_cleared_on_the_spot() -> None:
    """With "trouble is cleared" the check goes on where it was."""
    bench = kit("affirm", "affirm", "negative")
    asked = bench.state.last[-2:]
    assert bench.hear("trouble_cleared")[0] == "kit.found"
    assert bench.state.mode is Mode.KIT
    assert bench.state.last[-2:] == asked
    assert bench.state.open_troubles() == ()


@pytest.mark.parametrize("answer", ["affirm", "negative"])
def test_an_answer_can_be_taken_back(answer: str) -> None:
    """The same thing is asked about again, and what was logged as missing is not any more."""
    bench = kit("affirm", "affirm")
    asked = bench.state.last
    bench.hear(answer)
    assert bench.hear("correction")[0] == "correction.done"
    assert bench.state.last[-len(asked) + 1 :] == asked[1:]
    assert bench.state.open_troubles() == ()
    assert kit().hear("correction") == ("kit.nothing_back",)


def test_questions_and_breaks_leave_it_where_it_was() -> None:
    """Asked, paused, frozen, an alarm, a note, the program started again: the same question."""
    bench = kit("affirm", "affirm", "affirm")
    asked = bench.state.last
    for name in ("what_is_off", "where_are_we", "say_again", "what_parts", "how_long_left"):
        bench.hear(name)
        assert bench.state.mode is Mode.KIT
    assert bench.hear("where_are_we") == ("answer.kit",)
    assert bench.value("answer.kit", "number") == "6"
    assert bench.value("answer.kit", "total") == "8"
    for way in (("stand_by", "carry_on"), ("freeze", "carry_on"), ("take_note",), ("fluid_leak",)):
        for name in way:
            bench.hear(name)
        if bench.state.mode is Mode.FROZEN:
            bench.read_back()
        if bench.state.mode is Mode.NOTE:
            bench.dictate()
        assert bench.state.mode is Mode.KIT
        assert bench.state.last[-len(asked) :] == asked
    bench.resume("ines")
    assert bench.state.mode is Mode.KIT
    assert bench.state.last[-len(asked) :] == asked
    assert replay(bench.setting, bench.events) == bench.state


def test_an_unclear_answer_counts_as_none() -> None:
    """Silence and doubt neither find anything nor miss it."""
    bench = kit()
    before = bench.state.kit
    bench.unclear("affirm")
    bench.tick(1000)
    assert bench.state.kit == before
    assert bench.state.troubles == ()


def test_all_of_it_can_be_said() -> None:
    """Numbers of parts are spelled, sizes become words."""
    bench = kit("affirm", "affirm")
    spoken = " ".join(both_ways(said)[1] for said in bench.state.last)
    assert "part number whiskey lima dash bravo lima dash four four zero" in spoken
    assert WORDS.spoken(bench.state.last[-1]) == "Is it here?"

"""The transition table: every row behaves, and what it leaves out is refused."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from assistant.job.state import JobState, Mode
from assistant.job.table import (
    ALARMS,
    BASES,
    DICTATED,
    DICTATION,
    EXCHANGES,
    ONWARD,
    OPENED,
    PAUSES,
    QUESTIONS,
    RESUMED,
    TABLE,
    TICK,
)
from assistant.packaged import phrasebook
from tests.job.bench import Bench, apprentice_at_stop, at_step

INTENTS = sorted(phrasebook("en").intents)


def _step_then(step: str, *said: str) -> Callable[[], Bench]:
    def make() -> Bench:
        bench = at_step(step)
        for name in said:
            bench.hear_any(name)
        return bench

    return make


def _second() -> Bench:
    bench = at_step("leak-check")
    bench.wait(60)
    bench.hear("step_done")
    return bench


def _hold_over() -> Bench:
    bench = at_step("lever-hold")
    bench.hear("start_hold")
    bench.tick(30)
    return bench


def _back_check() -> Bench:
    bench = at_step("pad-wear")
    for name in ("also_off", "name_part", "name_count", "affirm", "back_on", "name_part"):
        bench.hear_any(name)
    return bench


def _blocked() -> Bench:
    bench = at_step("pad-wear")
    for name in ("also_off", "name_part", "name_count", "affirm"):
        bench.hear_any(name)
    return bench.run_to("", Mode.BEFORE_RELEASE)


MAKE: dict[Mode, Callable[[], Bench]] = {
    Mode.NEW: lambda: Bench(opened=False),
    Mode.KIT: lambda: Bench(kit=True),
    Mode.STANDING: Bench,
    Mode.STEP: _step_then("hose-on"),
    Mode.READING_CHECK: _step_then("resting-voltage", "reading"),
    Mode.PACE_CHECK: _step_then("hose-on", "step_done"),
    Mode.HOLDING: _step_then("lever-hold", "start_hold"),
    Mode.HOLD_CHECK: _hold_over,
    Mode.SECOND_PERSON: _second,
    Mode.REASON: _step_then("look-round", "leave_out"),
    Mode.STOP: lambda: at_step("line-off", Mode.STOP),
    Mode.STOP_SECOND: apprentice_at_stop,
    Mode.STAND_BY: _step_then("hose-on", "stand_by"),
    Mode.FROZEN: _step_then("hose-on", "freeze"),
    Mode.NOTE: _step_then("hose-on", "take_note"),
    Mode.TROUBLE_KIND: _step_then("hose-on", "report_trouble"),
    Mode.TROUBLE_NOTE: _step_then("hose-on", "report_trouble", "trouble_kind"),
    Mode.OFF_PART: _step_then("hose-on", "also_off"),
    Mode.OFF_LABEL: _step_then("hose-on", "also_off", "other_part"),
    Mode.OFF_COUNT: _step_then("hose-on", "also_off", "name_part"),
    Mode.OFF_CHECK: _step_then("hose-on", "also_off", "name_part", "name_count"),
    Mode.BACK_CHECK: _back_check,
    Mode.PART_NUMBER: _step_then("hose-on", "read_part_number"),
    Mode.HAND_OVER: _step_then("hose-on", "hand_over"),
    Mode.BEFORE_RELEASE: _blocked,
    Mode.RELEASED: lambda: Bench().finish(),
}
"""A way into each mode."""


def event(bench: Bench, name: str) -> tuple[str, ...]:
    """The event of a row happens."""
    own: dict[str, Callable[[], tuple[str, ...]]] = {
        OPENED: lambda: bench.happens(Bench().events[0]),
        RESUMED: bench.resume,
        DICTATED: bench.dictate,
        TICK: lambda: bench.tick(1),
    }
    return own[name]() if name in own else bench.hear_any(name)


@pytest.mark.parametrize("mode", Mode)
def test_every_mode_can_be_reached(mode: Mode) -> None:
    """The bench leads into each mode, so that the tests below meet all of them."""
    assert MAKE[mode]().state.mode is mode


@pytest.mark.parametrize(("mode", "name"), sorted(TABLE), ids=str)
def test_every_row_leads_where_it_may(mode: Mode, name: str) -> None:
    """A row of the table is acted on, not refused, and ends in one of its modes."""
    bench = MAKE[mode]()
    said = event(bench, name)
    assert "refused.not_now" not in said
    assert bench.state.mode in TABLE[mode, name].to


@pytest.mark.parametrize("mode", Mode)
def test_what_is_not_in_the_table_changes_nothing(mode: Mode) -> None:
    """Whatever the table lacks is refused aloud (silently before and after the job)."""
    for name in (*INTENTS, OPENED, RESUMED, DICTATED):
        if (mode, name) in TABLE:
            continue
        bench = MAKE[mode]()
        before = bench.state
        said = event(bench, name)
        assert bench.state == before, name
        silent = mode in (Mode.NEW, Mode.RELEASED)
        assert said == (() if silent else ("refused.not_now",)), name


@pytest.mark.parametrize("mode", [m for m in Mode if (m, TICK) not in TABLE])
def test_time_alone_changes_nothing(mode: Mode) -> None:
    """The clock moves no mode but the timed hold (I8)."""
    bench = MAKE[mode]()
    before = bench.state
    assert bench.tick(10_000) == ()
    assert bench.state == before


def test_every_name_is_an_intent_or_an_event() -> None:
    """The table speaks of the phrasebook's intents and of the four events, nothing else."""
    names = {name for _, name in TABLE}
    assert names <= {*INTENTS, OPENED, RESUMED, DICTATED, TICK}


def test_what_can_be_said_always() -> None:
    """Freeze everywhere in a running job; questions and alarms wherever no speech is recorded."""
    running = [m for m in Mode if m not in (Mode.NEW, Mode.RELEASED)]
    for mode in running:
        assert (mode, "freeze") in TABLE
        assert (mode, RESUMED) in TABLE
        if mode in DICTATION:
            continue
        assert (mode, "quiet") in TABLE
        for name in (*ALARMS, "say_again", "say_again_slowly", "what_is_off", "where_are_we"):
            assert (mode, name) in TABLE, (mode, name)
        if mode not in PAUSES:
            for name in (*QUESTIONS, "stand_by", "report_trouble", "take_note", "start_timer"):
                assert (mode, name) in TABLE, (mode, name)


def test_an_exchange_can_always_be_dropped() -> None:
    """With "disregard" ends every exchange and every recording."""
    for mode in EXCHANGES | DICTATION | {Mode.SECOND_PERSON}:
        assert (mode, "disregard") in TABLE
        assert TABLE[mode, "disregard"].to == ONWARD


def test_only_the_stop_and_the_freeze_take_their_read_backs() -> None:
    """A read-back means something in four modes only, and only a stop leads to the release."""
    assert {mode for mode, name in TABLE if name == "read_back"} == {
        Mode.STOP,
        Mode.STOP_SECOND,
        Mode.FROZEN,
        Mode.SECOND_PERSON,
    }
    releasing = {key for key, rule in TABLE.items() if Mode.RELEASED in rule.to}
    assert releasing == {(Mode.STOP, "read_back"), (Mode.STOP_SECOND, "read_back")}


def test_the_families_of_modes_do_not_overlap() -> None:
    """Each mode belongs to one family; only the start and the end belong to none."""
    families = [BASES, EXCHANGES, DICTATION, PAUSES]
    together: list[Mode] = [mode for family in families for mode in family]
    assert len(together) == len(set(together))
    assert set(Mode) - set(together) == {Mode.NEW, Mode.RELEASED}


def _without_mode(state: JobState) -> tuple[object, ...]:
    return state.progress, state.passed, state.troubles, state.notes


@pytest.mark.parametrize("mode", sorted({*EXCHANGES, *DICTATION, Mode.SECOND_PERSON}))
def test_a_dropped_exchange_leaves_no_trace(mode: Mode) -> None:
    """What was begun and dropped is as if it had never been."""
    bench = MAKE[mode]()
    before = bench.state
    assert bench.hear("disregard")[0] == "disregard.done"
    assert _without_mode(bench.state) == _without_mode(before)

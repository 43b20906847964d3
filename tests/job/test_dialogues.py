"""Random dialogues: whatever is said, in whatever order, the invariants hold.

The default run takes about 3000 steps; GLOVESON_LONG=1 takes a hundred times as many.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import pairwise

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from assistant.checklist.model import Hazards
from assistant.checklist.tags import BatteryTag, FluidTag
from assistant.job.admit import admitted, fillers
from assistant.job.ahead import likely_lines
from assistant.job.effects import Close
from assistant.job.events import Dictated, Event, Heard, Resumed, Tick, Unclear
from assistant.job.flow import readings_absent
from assistant.job.machine import advance, replay
from assistant.job.state import JobState, Mode, Progress
from assistant.job.table import DICTATION
from assistant.language.grammar import build_grammar
from assistant.language.intent import Intent
from assistant.safety.hazards import Condition, Hazard, Stop
from tests.job.bench import SLOTS, Bench, setting
from tests.job.echo import WORDS, both_ways, heard_as_confirmation

LONG = os.environ.get("GLOVESON_LONG") == "1"
INTENTS = sorted(WORDS.book.intents)
ANSWERABLE = frozenset(
    {
        Mode.STANDING,
        Mode.PACE_CHECK,
        Mode.HOLD_CHECK,
        Mode.READING_CHECK,
        Mode.STOP,
        Mode.SECOND_PERSON,
        Mode.HOLDING,
        Mode.STEP,
        Mode.FROZEN,
        Mode.STAND_BY,
    }
)
STOP_FOR = {
    (Hazard.BATTERY, Condition.OPEN): Stop.BATTERY_OFF,
    (Hazard.FUEL, Condition.OPEN): Stop.FUEL_OPEN,
    (Hazard.FUEL, Condition.SAFE): Stop.FUEL_CLOSED,
    (Hazard.BRAKE, Condition.OPEN): Stop.BRAKE_OPEN,
    (Hazard.BRAKE, Condition.SAFE): Stop.BRAKE_PROVEN,
}
"""The stop that alone makes a hazard so; a battery becomes safe by its reading at a step."""
VALUES = [("12.8", "V"), ("11", "V"), ("6", "mm"), ("3", "mm"), ("22", "N·m")]


def tags_of(step: str) -> Hazards:
    """The hazard tags of a step."""
    return next(p.step.hazards for p in setting().plan.steps if p.id == step)


class Dialogue(RuleBasedStateMachine):
    """A job to which anything may be said at any time."""

    def __init__(self) -> None:
        super().__init__()
        self.bench = Bench()
        self.before = self.bench.state
        self.compiled: set[object] = set()

    @initialize(second=st.sampled_from([None, "tobin"]), far=st.integers(0, 27))
    def begin(self, second: str | None, far: int) -> None:
        """The job begins and goes on without trouble for a while."""
        self.bench = Bench(second=second)
        for _ in range(far):
            if self.bench.state.mode is not Mode.RELEASED:
                self.happens(self.bench.answer)

    def happens(self, what: Callable[[], object]) -> None:
        """Something happens; every transition on the way is looked at."""
        bench = self.bench
        count, state = len(bench.events), bench.state
        what()
        for event in bench.events[count:]:
            after = replay_one(bench, state, event)
            self.look(state, after, event)
            state = after
        assert state == bench.state

    @rule()
    @precondition(lambda self: self.bench.state.mode in ANSWERABLE)
    def answer(self) -> None:
        """The right answer."""
        self.happens(self.bench.answer)

    @rule(intent=st.sampled_from(INTENTS))
    def say(self, intent: str) -> None:
        """Any intent at all."""
        self.happens(lambda: self.bench.hear_any(intent))

    @rule(data=st.data())
    def say_what_counts(self, data: st.DataObject) -> None:
        """An intent that the state admits."""
        names = sorted(admitted(self.bench.setting, self.bench.state))
        if names:
            intent = data.draw(st.sampled_from(names))
            self.happens(lambda: self.bench.hear_any(intent))

    @rule(
        kind=st.sampled_from(sorted(WORDS.book.slots["trouble"])),
        cleared=st.sampled_from([True, True, False]),
    )
    @precondition(lambda self: self.bench.state.mode is Mode.STEP)
    def trouble(self, kind: str, *, cleared: bool) -> None:
        """A trouble is reported in full, and perhaps put right."""
        self.happens(lambda: self.bench.hear("report_trouble"))
        self.happens(lambda: self.bench.hear("trouble_kind", trouble=kind))
        self.happens(self.bench.dictate)
        if cleared:
            self.happens(lambda: self.bench.hear("trouble_cleared"))

    @rule(part=st.sampled_from(["bolt", "clip", None]), count=st.integers(1, 99))
    @precondition(lambda self: self.bench.state.mode is Mode.STEP)
    def more_came_off(self, part: str | None, count: int) -> None:
        """Something else comes off, by its name or by a spoken one."""
        self.happens(lambda: self.bench.hear("also_off"))
        if part is None:
            self.happens(lambda: self.bench.hear("other_part"))
            self.happens(self.bench.dictate)
        else:
            self.happens(lambda: self.bench.hear("name_part", part=part))
        self.happens(lambda: self.bench.hear("name_count", cardinal=str(count)))
        self.happens(lambda: self.bench.hear("affirm"))

    @rule(part=st.sampled_from(["bolt", "clip", None]))
    @precondition(lambda self: self.bench.state.mode in (Mode.STEP, Mode.BEFORE_RELEASE))
    def back_again(self, part: str | None) -> None:
        """Something that was added by voice goes back on."""
        self.happens(lambda: self.bench.hear("back_on"))
        if part is None:
            self.happens(lambda: self.bench.hear("other_part"))
        else:
            self.happens(lambda: self.bench.hear("name_part", part=part))
        self.happens(lambda: self.bench.hear("affirm"))

    @rule()
    @precondition(lambda self: self.bench.state.mode is Mode.RELEASED)
    def next_job(self) -> None:
        """A released job takes nothing more; another one begins."""
        before = self.bench.state
        self.happens(lambda: self.bench.hear("step_done"))
        self.happens(self.bench.resume)
        assert self.bench.state == before
        self.teardown()
        self.bench = Bench()

    @rule(times=st.integers(2, 8))
    def work_on(self, times: int) -> None:
        """Work goes on without trouble for a while."""
        for _ in range(times):
            if self.bench.state.mode in ANSWERABLE:
                self.happens(self.bench.answer)

    @rule(value=st.sampled_from(VALUES))
    def measure(self, value: tuple[str, str]) -> None:
        """A reading, good, out of limits, or of something else."""
        number, unit = value
        self.happens(lambda: self.bench.hear("reading", number=number, unit=unit))

    @rule(
        words=st.one_of(
            st.none(), st.sampled_from([*(s.value for s in Stop), "freeze", "second_person"])
        ),
        number=st.one_of(st.none(), st.integers(10, 99)),
    )
    @precondition(lambda self: self.bench.state.challenge is not None)
    def read_back(self, words: str | None, number: int | None) -> None:
        """A read-back, right or wrong in words or number."""
        text = None if number is None else str(number)
        self.happens(lambda: self.bench.read_back(words, text))

    @rule(who=st.sampled_from(["mara", "ines", "tobin", "nobody"]), taken=st.booleans())
    def hand_over(self, who: str, *, taken: bool) -> None:
        """The job is to be handed over, and perhaps is."""
        self.happens(lambda: self.bench.hear("hand_over", name=who))
        if taken:
            self.happens(lambda: self.bench.hear("affirm"))

    @rule(seconds=st.sampled_from([0, 1, 5, 31, 119, 125, 599, 601, 40_000]))
    def time_goes_by(self, seconds: int) -> None:
        """Time goes by, noticed."""
        self.happens(lambda: self.bench.tick(seconds))

    @rule(seconds=st.sampled_from([5, 125, 601]))
    def time_jumps(self, seconds: int) -> None:
        """Time goes by, unnoticed."""
        self.bench.wait(seconds)

    @rule(text=st.sampled_from(["", "step complete", "affirm"]))
    def unclear(self, text: str) -> None:
        """Something that wasn't understood, whatever the recogniser guessed."""
        self.happens(lambda: self.bench.unclear(text))

    @rule()
    @precondition(lambda self: self.bench.state.mode in DICTATION)
    def dictate(self) -> None:
        """Free speech where it is recorded."""
        self.happens(self.bench.dictate)

    @rule(who=st.sampled_from(["mara", "ines", "tobin"]))
    def resume(self, who: str) -> None:
        """The program is killed and started again, by whoever."""
        self.happens(lambda: self.bench.resume(who))

    def look(self, old: JobState, new: JobState, event: Event) -> None:
        """Every invariant of one transition."""
        look_at_stops(old, new, event)
        look_at_hazards(old, new, event)
        look_at_confirmations(old, new, event)
        if new.mode is Mode.RELEASED and old.mode is not Mode.RELEASED:
            look_at_release(self.bench, old)

    @invariant()
    def what_is_said_confirms_nothing(self) -> None:
        """I4: no text holds a phrase that would confirm in the state it leaves the job in."""
        bench = self.bench
        for said in bench.lines():
            both_ways(said)
        assert heard_as_confirmation(bench.setting, bench.state, bench.effects) == ()

    @invariant()
    def what_counts_can_be_said(self) -> None:
        """Every state has a grammar of what it admits, without phrases that mean two things."""
        bench = self.bench
        names, filled = admitted(bench.setting, bench.state), fillers(bench.setting, bench.state)
        key = (names, tuple(filled.get("read_back", {})))
        if key not in self.compiled:
            self.compiled.add(key)
            build_grammar(WORDS.book, names, filled)

    @invariant()
    def looking_ahead_changes_nothing(self) -> None:
        """What may be said next is worked out without touching the job, and can be spoken."""
        bench = self.bench
        before = bench.state
        lines = likely_lines(bench.setting, bench.state)
        assert lines == likely_lines(bench.setting, bench.state)
        assert bench.state == before
        for said in lines:
            assert said.key != "stop.number"
            both_ways(said)

    @invariant()
    def people_are_who_they_are(self) -> None:
        """I10: the second person is never the one who does the work."""
        state = self.bench.state
        assert state.who != state.second
        assert state.who in state.people

    def teardown(self) -> None:
        """The state is the replay of the events, and no two numbers in a row are the same."""
        bench = self.bench
        assert replay(bench.setting, bench.events) == bench.state
        numbers = [passed.number for passed in bench.state.passed]
        assert all(one != other for one, other in pairwise(numbers))


def replay_one(bench: Bench, state: JobState, event: Event) -> JobState:
    """The state after one event, worked out anew."""
    after, effects = advance(bench.setting, state, event)
    assert (Close("released") in effects) is (
        after.mode is Mode.RELEASED and state.mode is not Mode.RELEASED
    )
    return after


def intent_of(event: Event) -> Intent:
    """What was meant; nothing for other events."""
    return event.intent if isinstance(event, Heard) else Intent("")


def look_at_stops(old: JobState, new: JobState, event: Event) -> None:
    """I3: a stop counts as passed only by its words with the number then alive."""
    if new.passed == old.passed:
        return
    intent = intent_of(event)
    assert isinstance(event, Heard)
    assert new.passed[:-1] == old.passed
    assert old.mode is Mode.STOP
    assert old.stop is not None
    assert old.challenge is not None
    assert intent.name == "read_back"
    assert intent.get("read_back") == old.stop.value == new.passed[-1].stop
    assert intent.get("challenge") == old.challenge.number == new.passed[-1].number
    assert event.at.mono - old.challenge.issued <= 120
    assert new.before == ()


def look_at_hazards(old: JobState, new: JobState, event: Event) -> None:
    """I3: nothing becomes safe or open but by its stop, its tagged step, or a correction."""
    intent = intent_of(event)
    was, now = old.progress.hazards, new.progress.hazards
    if intent.name in ("correction", "go_back"):
        assert now == was or now in [earlier.hazards for earlier in old.before]
        return
    passed = new.passed[len(old.passed) :]
    done = new.progress.done[len(old.progress.done) :]
    for hazard in Hazard:
        after = now.of(hazard)
        if after is was.of(hazard) or after not in (Condition.SAFE, Condition.OPEN):
            continue
        if (hazard, after) == (Hazard.BATTERY, Condition.SAFE):
            assert [tags_of(d.step).battery for d in done] == [BatteryTag.PROVE]
        else:
            assert [entry.stop for entry in passed] == [STOP_FOR[hazard, after].value]
    if any(now.of(h).plain == "unproven" and was.of(h).plain != "unproven" for h in Hazard):
        by_step = bool(done)
        assert by_step or new.before == ()  # no correction lifts a doubt


def look_at_confirmations(old: JobState, new: JobState, event: Event) -> None:
    """I1, I8: what a confirmation needs, and that silence and doubt never confirm."""
    if not isinstance(event, Heard | Dictated | Resumed):
        assert isinstance(event, Unclear | Tick) or old.mode is Mode.NEW
        assert steady(new.progress) == steady(old.progress)
        assert new.passed == old.passed
    done = new.progress.done[len(old.progress.done) :]
    assert len(done) <= 1
    for entry in done:
        assert intent_of(event).name in ("step_done", "affirm", "read_back")
        planned = old.step(setting())
        assert planned is not None
        assert planned.id == entry.step
        hazards, tags = old.progress.hazards, planned.step.hazards
        if tags.fuel in (FluidTag.OPEN, FluidTag.WORK):
            assert hazards.battery is Condition.OPEN
            assert hazards.fuel is Condition.OPEN
        if tags.brake in (FluidTag.OPEN, FluidTag.WORK):
            assert hazards.brake is Condition.OPEN
        if planned.step.hold is not None:
            assert old.progress.held
        if planned.step.second_person and old.second is not None:
            assert old.mode is Mode.SECOND_PERSON
            assert entry.second == old.second
        assert old.standing


def steady(progress: Progress) -> tuple[object, ...]:
    """What time and noise must not move."""
    return progress.at, progress.done, progress.left_out, progress.readings, progress.hazards


def look_at_release(bench: Bench, old: JobState) -> None:
    """I2: released only with nothing off, all safe, all readings there, no trouble open."""
    progress = old.progress
    assert progress.hazards.open_ones() == ()
    assert progress.off.open_items() == ()
    assert readings_absent(bench.setting, old) == ()
    assert old.open_troubles() == ()
    assert progress.queue == ()
    assert progress.at == len(bench.setting.plan.steps)
    through = {d.step for d in progress.done} | {gone.step for gone in progress.left_out}
    assert through == {planned.id for planned in bench.setting.plan.steps}
    for planned in bench.setting.plan.steps:
        if planned.id in {gone.step for gone in progress.left_out}:
            assert planned.step.optional
    assert {"battery_off", "fuel_open", "fuel_closed", "brake_open", "brake_proven"} <= {
        passed.stop for passed in old.passed
    }


def test_every_intent_with_slots_is_filled() -> None:
    """The dialogues say every intent of the phrasebook in full."""
    for name, entry in WORDS.book.intents.items():
        assert (name in SLOTS) is any("<" in phrase for phrase in entry.phrases), name


TestDialogues = Dialogue.TestCase
TestDialogues.settings = settings(
    max_examples=6000 if LONG else 60,
    stateful_step_count=50,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)

"""Random dialogues: what may be said, typed, misheard, broken off, in any order."""

from __future__ import annotations

from typing import ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
)

from assistant.job.admit import admitted
from assistant.job.ahead import likely_lines
from assistant.job.effects import Line
from assistant.job.events import Dictated, Event, Heard, Tick
from assistant.job.state import Mode
from assistant.job.table import DICTATION
from assistant.language.intent import Intent
from assistant.safety.hazards import Stop
from tests.job.echo import WORDS, both_ways, heard_as_confirmation
from tests.job.talk.crash import OnDisk
from tests.job.talk.explored import Explored
from tests.job.talk.read_backs import read_back_words
from tests.job.talk.talker import Road, Scene, Talker

INTENTS = sorted(WORDS.book.intents)
PEOPLE = ("mara", "ines", "tobin")
VALUES = [("12.8", "V"), ("11", "V"), ("6", "mm"), ("3", "mm"), ("5/16", "in"), ("22", "N·m")]
WORD_KEYS = [*(stop.value for stop in Stop), "freeze", "second_person"]
_CONFIRMING = ("affirm", "step_done", "read_back")
places = st.integers(0, 10_000)
scenes = {
    "small": st.builds(Scene, st.just("small")),
    "shipped": st.builds(
        Scene,
        st.sampled_from(
            [
                "raised-handlebar",
                "raised-handlebar",
                "battery-replacement",
                "clutch-cable-adjustment",
            ]
        ),
        st.integers(0, 3),
    ),
    "made up": st.builds(Scene, st.sampled_from(["made up", "spoiled"]), st.integers(0, 4000)),
}
people = st.sampled_from(
    [
        ("mara", "tobin", ()),
        ("mara", "tobin", ("mara",)),
        ("ines", "mara", ("ines", "mara")),
        ("mara", None, ()),
        ("ines", None, ("ines",)),
    ]
)


def other_digit(number: str, place: int, shift: int) -> str:
    """The number with one digit heard as another."""
    digits = list(number)
    digits[place] = str((int(digits[place]) + shift) % 10)
    return "".join(digits)


class Dialogue(RuleBasedStateMachine):
    """A job to which anything may be said at any time."""

    where: ClassVar[st.SearchStrategy[Scene]]
    explored: ClassVar[Explored]
    roads: ClassVar[dict[Scene, Road]]

    talk: Talker

    def __init__(self) -> None:
        super().__init__()
        self.disk: OnDisk | None = None
        self.old_numbers: list[str] = []
        self.crashes_left = 0

    @initialize(
        data=st.data(),
        who=people,
        far=st.one_of(st.integers(0, 30), st.integers(0, 140)),
        crashes=st.sampled_from([0, 0, 0, 2]),
    )
    def begin(
        self,
        data: st.DataObject,
        who: tuple[str, str | None, tuple[str, ...]],
        far: int,
        crashes: int,
    ) -> None:
        """The job begins and has gone on without trouble for a while."""
        self.crashes_left = crashes
        scene = data.draw(type(self).where)
        doer, second, apprentices = who
        scene = Scene(scene.kind, scene.number, doer, second, frozenset(apprentices))
        roads = type(self).roads
        if scene not in roads:
            if len(roads) > 100:
                roads.clear()
            roads[scene] = Road(scene, self.explored)
        self.talk = roads[scene].place(far)

    def done(self, name: str) -> None:
        """A rule was followed."""
        self.explored.rules[name] += 1

    # What is right.

    @rule()
    @precondition(lambda self: self.talk.can_answer())
    def answer(self) -> None:
        """The right answer."""
        self.done("answer")
        self.talk.answer()

    @rule(times=st.integers(2, 12))
    def work_on(self, times: int) -> None:
        """The right answers, for a while."""
        self.done("work_on")
        for _ in range(times):
            if self.talk.can_answer():
                self.talk.answer()

    @rule(times=st.integers(1, 6), left_out=st.booleans())
    def meet_a_stop(self, times: int, *, left_out: bool) -> None:
        """The right answers until something is asked back, a few times over."""
        self.done("meet_a_stop")
        talk = self.talk
        for _ in range(times):
            if talk.can_answer():
                talk.answer()
            for _ in range(30):
                if talk.state.challenge is not None or not talk.can_answer():
                    break
                planned = talk.state.step(talk.setting)
                if left_out and planned is not None and planned.step.optional:
                    talk.hear("leave_out")
                    talk.hear("leave_out_reason", reason="not-needed")
                else:
                    talk.answer()

    @rule()
    @precondition(lambda self: self.talk.state.mode is Mode.RELEASED)
    def next_job(self) -> None:
        """A released job takes nothing more; another one begins."""
        self.done("next_job")
        before = self.talk.state
        self.talk.hear("step_done")
        self.talk.hear("correction")
        self.talk.resume()
        assert self.talk.state == before
        self.check_replay()
        self.drop_disk()
        self.talk = type(self).roads[self.talk.scene].place(0)

    # What is said, typed, or heard as something else.

    @rule(intents=st.lists(st.sampled_from(INTENTS), min_size=1, max_size=6))
    def say(self, intents: list[str]) -> None:
        """Any intents at all."""
        self.done("say")
        for intent in intents:
            self.talk.hear_any(intent)

    @rule(which=st.lists(places, min_size=1, max_size=6))
    def say_what_counts(self, which: list[int]) -> None:
        """Intents that the state admits."""
        self.done("say_what_counts")
        for one in which:
            names = sorted(admitted(self.talk.setting, self.talk.state))
            if names:
                self.talk.hear_any(names[one % len(names)])

    @rule(how=st.sampled_from(["typed", "key", "voice"]))
    def take_to(self, how: str) -> None:
        """From now on by keys, typed, or by voice."""
        self.done("take_to")
        self.talk.via = how

    @rule(which=places, figures=st.booleans(), cut=st.integers(0, 8))
    def type_line(self, which: int, *, figures: bool, cut: int) -> None:
        """A line is typed: a whole phrase of now, one of another time, or a piece of one."""
        self.done("type_line")
        talk, was = self.talk, self.talk.via
        talk.via = "typed"
        number = talk.state.challenge.number if talk.state.challenge is not None else "47"
        digits = number if figures else " ".join(number)
        lines = [f"{words} {digits}" for words in read_back_words().values()]
        lines += [phrase for entry in WORDS.book.intents.values() for phrase in entry.phrases]
        words = lines[which % len(lines)].split()
        text = " ".join(words[: len(words) - cut] if cut < len(words) else words)
        talk.take_as_heard(WORDS.spelled(text))
        talk.via = was

    @rule(which=places, text=st.sampled_from(["", "step complete", "affirm", "words", "number"]))
    @precondition(lambda self: self.talk.state.challenge is not None)
    def right_but_misheard(self, which: int, text: str) -> None:
        """The right read-back is spoken and heard as another phrase that counts, or in part."""
        self.done("right_but_misheard")
        talk = self.talk
        before = talk.state.passed
        names = sorted(admitted(talk.setting, talk.state) - {"read_back"})
        heard_words = {"words": read_back_words().get(self.wanted(), ""), "number": talk.number()}
        if text:
            talk.unclear(heard_words.get(text, text))
        else:
            talk.hear_any(names[which % len(names)])
        assert talk.state.passed == before

    @rule(
        wrong=st.sampled_from(["digit", "turned", "old", "words", "late", "twice", "other person"]),
        which=places,
        shift=st.integers(1, 9),
    )
    @precondition(lambda self: self.talk.state.challenge is not None)
    def wrong_read_back(self, wrong: str, which: int, shift: int) -> None:
        """A read-back that is wrong in one thing, or right once too often."""
        self.done("wrong_read_back")
        talk, key = self.talk, self.wanted()
        before, number = talk.state.passed, talk.number()
        mode = talk.state.mode
        if wrong == "digit":
            number = other_digit(number, which % 2, shift)
        elif wrong == "turned":
            number = number[::-1]
        elif wrong == "old":
            self.old_numbers.append(number)
            number = self.old_numbers[which % len(self.old_numbers)]
        elif wrong in ("words", "other person"):
            others = [one for one in WORD_KEYS if one != key]
            key = others[which % len(others)] if wrong == "words" else self.other_persons(key)
        elif wrong == "late":
            talk.wait(120.5)
        else:
            talk.read_back()
            before, mode = talk.state.passed, Mode.NEW  # whatever came of the first one
        now = talk.state.challenge
        if (key, number) == (self.wanted(), now.number if now is not None else "") and (
            wrong not in ("late", "twice")
        ):
            return  # turned or old, it is the right one after all
        self.explored.refused += 1
        talk.hear("read_back", read_back=key, challenge=number)
        assert talk.state.passed == before
        assert mode in (Mode.NEW, talk.state.mode)

    def wanted(self) -> str:
        """Key of the read-back that is asked for."""
        state = self.talk.state
        if state.mode is Mode.STOP and state.stop is not None:
            return state.stop.value
        return "freeze" if state.mode is Mode.FROZEN else "second_person"

    def other_persons(self, key: str) -> str:
        """What the other one of the two people says at a stop."""
        stop = self.talk.state.stop
        if key == "second_person" and stop is not None:
            return stop.value
        return "second_person" if key != "second_person" else "freeze"

    @rule(
        value=st.sampled_from(VALUES),
        then=st.sampled_from(["", "affirm", "negative", "correction"]),
    )
    def measure(self, value: tuple[str, str], then: str) -> None:
        """A reading, good, out of limits, of something else, or misheard and taken back."""
        self.done("measure")
        number, unit = value
        self.talk.hear("reading", number=number, unit=unit)
        if then:
            self.talk.hear(then)

    @rule(
        part=places,
        line=places,
        how=st.sampled_from(["all", "line", "run"]),
        long=st.integers(1, 9),
    )
    def own_voice(self, part: int, line: int, how: str, long: int) -> None:
        """What the assistant just said, or a piece of it, comes back into the microphone."""
        self.done("own_voice")
        talk = self.talk
        ways = [both_ways(said)[part % 2] for said in talk.lines() or talk.state.last]
        if not ways:
            return
        text = " ".join(ways) if how == "all" else ways[line % len(ways)]
        if how == "run":
            words = text.split()
            begin = part % len(words)
            text = " ".join(words[begin : begin + long])
        before = talk.state
        self.explored.heard += 1
        assert talk.take_as_heard(text) not in _CONFIRMING, text
        assert talk.state.passed == before.passed
        assert talk.state.progress.done == before.progress.done

    @rule(text=st.sampled_from(["", "step complete", "affirm"]), times=st.integers(1, 3))
    def unclear(self, text: str, times: int) -> None:
        """Something that wasn't understood, whatever the recogniser guessed."""
        self.done("unclear")
        for _ in range(times):
            self.talk.unclear(text)

    # Undo, troubles, parts, people, time.

    @rule(words=st.lists(st.sampled_from(["correction", "go_back"]), min_size=1, max_size=5))
    def undo(self, words: list[str]) -> None:
        """What was confirmed is taken back, as far as that goes."""
        self.done("undo")
        before = self.talk.state.passed
        for word in words:
            self.talk.hear(word)
        assert self.talk.state.passed == before

    @rule(kind=st.sampled_from(sorted(WORDS.book.slots["trouble"])), cleared=st.integers(0, 2))
    @precondition(lambda self: self.talk.state.mode in (Mode.STEP, Mode.STOP, Mode.STOP_SECOND))
    def trouble(self, kind: str, cleared: int) -> None:
        """A trouble is reported in full, and perhaps put right."""
        self.done("trouble")
        self.talk.hear("report_trouble")
        self.talk.hear("trouble_kind", trouble=kind)
        self.talk.dictate()
        if cleared:
            self.talk.hear("trouble_cleared")

    @rule(
        back=st.booleans(), part=st.sampled_from(["bolt", "clip", None]), count=st.integers(1, 99)
    )
    @precondition(lambda self: self.talk.state.mode in (Mode.STEP, Mode.BEFORE_RELEASE))
    def more_parts(self, *, back: bool, part: str | None, count: int) -> None:
        """Something else comes off or goes on again, by its name or by a spoken one."""
        self.done("more_parts")
        talk = self.talk
        talk.hear("back_on" if back else "also_off")
        if part is not None:
            talk.hear("name_part", part=part)
        else:
            talk.hear("other_part")
            if not back:
                talk.dictate()
        if not back:
            talk.hear("name_count", cardinal=str(count))
        talk.hear("affirm")

    @rule(who=st.sampled_from([*PEOPLE, "nobody"]), taken=st.booleans())
    @precondition(lambda self: self.talk.state.mode is not Mode.HAND_OVER)
    def hand_over(self, who: str, *, taken: bool) -> None:
        """The job is to be handed over, and perhaps is."""
        self.done("hand_over")
        self.talk.hear("hand_over", name=who)
        self.talk.hear("affirm" if taken else "negative")

    @rule(seconds=st.sampled_from([0, 5, 119, 125, 599, 601, 40_000]), alarm=st.booleans())
    def break_off(self, seconds: int, *, alarm: bool) -> None:
        """A break, short or long, perhaps with an alarm in it."""
        self.done("break_off")
        self.talk.hear("stand_by")
        self.talk.wait(seconds)
        if alarm:
            self.talk.hear("smell_of_fuel")
        self.talk.hear("carry_on")

    @rule(seconds=st.sampled_from([0, 1, 5, 31, 119, 125, 599, 601, 40_000]), seen=st.booleans())
    def time_goes_by(self, seconds: int, *, seen: bool) -> None:
        """Time goes by, noticed or not."""
        self.done("time_goes_by")
        self.talk.wait(seconds)
        if seen:
            self.talk.tick()

    @rule(again=st.booleans())
    def same_number(self, *, again: bool) -> None:
        """Chance gives the number that is alive over again, or doesn't any more."""
        self.done("same_number")
        self.talk.repeat = again

    @rule(word=st.sampled_from(["freeze", "smoke", "smell_of_fuel", "fluid_leak"]))
    def alarm(self, word: str) -> None:
        """Something is wrong with the air, the floor, or everything."""
        self.done("alarm")
        self.talk.hear(word)

    @rule()
    @precondition(lambda self: self.talk.state.mode in DICTATION)
    def dictate(self) -> None:
        """Free speech where it is recorded."""
        self.done("dictate")
        self.talk.dictate()

    # The program ends and begins again.

    @rule(who=st.sampled_from(PEOPLE))
    def start_again(self, who: str) -> None:
        """The program is started again, by whoever."""
        self.done("start_again")
        self.talk.resume(who)

    @rule(
        torn=st.sampled_from(["", "answer", "done", "tick", "note"]),
        cut=st.floats(0, 1),
        who=st.sampled_from(PEOPLE),
        clock=st.sampled_from([None, 2.5, 90.0]),
    )
    @precondition(lambda self: self.crashes_left > 0 and self.talk.state.mode is not Mode.RELEASED)
    def crash(self, torn: str, cut: float, who: str, clock: float | None) -> None:
        """The program is killed, perhaps as it writes; its record gives exactly what was said."""
        self.done("crash")
        self.crashes_left -= 1
        talk = self.talk
        if self.disk is None:
            self.disk = OnDisk(talk)
        found = self.disk.crash(talk, self.being_written(torn), cut)
        assert found == talk.state
        if clock is not None:
            talk.now = clock  # another run of the machine: its clock begins anew
        talk.resume(who)

    def being_written(self, torn: str) -> Event | None:
        """What would have come next."""
        talk = self.talk
        at = talk.stamp()
        number = talk.state.challenge.number if talk.state.challenge is not None else "10"
        slots = (("read_back", self.wanted()), ("challenge", number))
        found: dict[str, Event] = {
            "answer": Heard(at, Intent("read_back", slots, "as asked")),
            "done": Heard(at, Intent("step_done", (), "step complete")),
            "tick": Tick(at),
            "note": Dictated(at, 2.0, None, "straße"),
        }
        return found.get(torn)

    # What always holds.

    @invariant()
    def what_is_said_confirms_nothing(self) -> None:
        """I4: no text holds a phrase that would confirm in the state it leaves the job in."""
        talk = self.talk
        for said in talk.lines():
            both_ways(said)
        assert heard_as_confirmation(talk.setting, talk.state, talk.effects) == ()

    @invariant()
    def what_counts_can_be_said(self) -> None:
        """Every state has a grammar of what it admits."""
        talk = self.talk
        assert set(talk.grammar().admitted) == admitted(talk.setting, talk.state)

    @invariant()
    def looking_ahead_changes_nothing(self) -> None:
        """What may be said next is worked out without touching the job, and can be spoken."""
        talk = self.talk
        if talk.state.mode is not Mode.STEP:
            return
        before = talk.state
        lines: tuple[Line, ...] = likely_lines(talk.setting, talk.state)
        assert talk.state == before
        for said in lines:
            assert said.key != "stop.number"
            both_ways(said)

    @invariant()
    def people_are_who_they_are(self) -> None:
        """I10: the second person is never the one who does the work."""
        state = self.talk.state
        assert state.who != state.second
        assert state.who in state.people
        assert state.who == self.talk.read_backs.who

    def check_replay(self) -> None:
        """The state is the replay of the events."""
        assert self.talk.replayed() == self.talk.state

    def drop_disk(self) -> None:
        """The record on disk belongs to one job."""
        if self.disk is not None:
            self.disk.close()
            self.disk = None

    def teardown(self) -> None:
        """At the end of each dialogue."""
        if hasattr(self, "talk"):
            self.check_replay()
        self.drop_disk()

"""Random dialogues: said, undone, broken off, killed and taken up again, in any order."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.stateful import (
    precondition,
    rule,
)

from assistant.job.events import Dictated, Event, Heard, Tick
from assistant.job.state import Mode
from assistant.job.table import DICTATION
from assistant.language.intent import Intent
from tests.job.echo import WORDS
from tests.job.talk.crash import OnDisk
from tests.job.talk.speech import Speech
from tests.job.talk.stage import PEOPLE


class Dialogue(Speech):
    """A job to which anything may happen at any time."""

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

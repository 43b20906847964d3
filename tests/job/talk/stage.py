"""Where a random dialogue begins, what always holds in it, and how it ends."""

from __future__ import annotations

from typing import ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
)

from assistant.job.admit import admitted
from assistant.job.ahead import likely_lines
from assistant.job.effects import Line, Say
from assistant.job.state import Mode
from tests.job.echo import both_ways, heard_as_confirmation
from tests.job.talk.crash import OnDisk
from tests.job.talk.explored import Explored
from tests.job.talk.talker import Road, Scene, Talker

PEOPLE = ("mara", "ines", "tobin")
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


class Stage(RuleBasedStateMachine):
    """A job that has begun, with what holds whatever happens to it."""

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
        crashes=st.sampled_from([0, 0, 2]),
        kit=st.sampled_from([False, False, True]),
    )
    def begin(
        self,
        data: st.DataObject,
        who: tuple[str, str | None, tuple[str, ...]],
        far: int,
        crashes: int,
        *,
        kit: bool,
    ) -> None:
        """The job begins and has gone on without trouble for a while."""
        self.crashes_left = crashes
        scene = data.draw(type(self).where)
        doer, second, apprentices = who
        scene = Scene(scene.kind, scene.number, doer, second, frozenset(apprentices), kit)
        roads = type(self).roads
        if scene not in roads:
            if len(roads) > 100:
                roads.clear()
            roads[scene] = Road(scene, self.explored)
        self.talk = roads[scene].place(far)

    def done(self, name: str) -> None:
        """A rule was followed."""
        self.explored.rules[name] += 1

    # What always holds.

    @invariant()
    def what_is_said_confirms_nothing(self) -> None:
        """I4: no text holds a phrase that would confirm in the state it leaves the job in."""
        talk = self.talk
        for said in talk.lines():
            both_ways(said)
        assert heard_as_confirmation(talk.setting, talk.state, talk.effects) == ()
        if talk.state.challenge is not None and talk.lines():
            # Nor does it where the end of what was said before runs into it.
            both = (Say((*talk.earlier, *talk.lines())),)
            assert heard_as_confirmation(talk.setting, talk.state, both) == ()

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
        self.explored.ended(self.talk.events)

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

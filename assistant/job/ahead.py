"""What may be said next, so that it can be rendered before it is needed."""

from __future__ import annotations

from assistant.job.confirm import confirm, still_needed
from assistant.job.effects import Line, Say
from assistant.job.events import Heard, Stamp
from assistant.job.state import JobState, Mode, Setting
from assistant.language.intent import Intent

_NUMBER = "stop.number"


def likely_lines(setting: Setting, state: JobState) -> tuple[Line, ...]:
    """The lines that confirming the open step would lead to, without challenge numbers.

    Also what the step still asks for. Empty in any mode but STEP.
    """
    planned = state.step(setting)
    if state.mode is not Mode.STEP or planned is None:
        return ()
    needed = still_needed(setting, state, planned)
    event = Heard(Stamp("", state.opened, 10), Intent("step_done"))
    _, effects = confirm(setting, state, event, None)
    lines = [said for effect in effects if isinstance(effect, Say) for said in effect.lines]
    if needed is not None:
        lines.insert(0, needed)
    return tuple(said for said in lines if said.key != _NUMBER)

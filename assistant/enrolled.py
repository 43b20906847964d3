"""The enrolled voice of whoever is at work, put beside the engine of a job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from assistant.errors import BadInput
from assistant.hearing.engines import Engine
from assistant.hearing.enrollment.engine import EnrolledEngine
from assistant.hearing.enrollment.folder import VoiceFolder
from assistant.hearing.enrollment.weights import has_weights
from assistant.job.effects import Line, line


class VoiceAtWork:
    """Gives an engine the takes of who is at work, nobody's where none are enrolled.

    Args:
        engine: any; takes stand beside it only where their weight beside it was measured.
        names: what people are called, by roster id.
        tell: shows a line: whose voice is used from now on, or why one can't be.
        home: folder of all voices; the user's own if left out.
    """

    def __init__(
        self,
        engine: Engine,
        names: Mapping[str, str],
        tell: Callable[[Line], None],
        home: Path | None = None,
    ) -> None:
        self._enrolled = EnrolledEngine(engine) if has_weights(engine.name) else None
        self.engine: Engine = self._enrolled or engine
        self._names = names
        self._tell = tell
        self._home = home
        self._person = ""

    def at_work(self, person: str) -> None:
        """This person works now; their takes count from the next utterance on."""
        if person == self._person or self._enrolled is None:
            return
        self._person = person
        name = self._names.get(person, person)
        try:
            phrases = VoiceFolder(person, self._home).phrases()
        except BadInput as problem:  # the job goes on as without enrollment
            phrases = ()
            self._tell(line("enrollment.unusable", name=name, problem=problem))
        self._enrolled.now_for(phrases)
        if phrases:
            self._tell(line("enrollment.used", name=name))

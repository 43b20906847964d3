"""Steps as they were written, for findings with the line of what is wrong in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.checklist.loader import Loaded, LoadedSection
from assistant.checklist.model import OptionValue, Step
from assistant.errors import Finding, Level


@dataclass(frozen=True, slots=True)
class Place:
    """One step and where it stands."""

    part: LoadedSection
    index: int
    step: Step

    def finding(self, level: Level, code: str, message: str, *location: str | int) -> Finding:
        """A finding at the line of something inside the step."""
        line = self.part.line(self.index, *location)
        return Finding(level, code, self.part.file, line, f'step "{self.step.step}": {message}')

    def error(self, code: str, message: str, *location: str | int) -> Finding:
        """A finding that keeps the job from starting."""
        return self.finding("error", code, message, *location)

    def warning(self, code: str, message: str, *location: str | int) -> Finding:
        """A finding worth reading."""
        return self.finding("warning", code, message, *location)

    def when(self) -> dict[str, OptionValue]:
        """Options that must all hold for it, those of its section among them."""
        return {**self.part.section.when, **self.step.when}

    def meets(self, other: Place) -> bool:
        """Whether some vehicle has both steps."""
        mine, theirs = self.when(), other.when()
        same_names = mine.keys() & theirs.keys()
        return all(mine[name] == theirs[name] for name in same_names)

    def texts(self) -> str:
        """Everything that the step tells about how it is done, in one text."""
        step = self.step
        trap = step.torque.trap if step.torque is not None else None
        said = (step.do, step.why, trap, *(caution.text for caution in step.cautions))
        return " ".join(text for text in said if text)


def places(loaded: Loaded) -> Iterator[Place]:
    """Every step as it was written, in order."""
    for part, index, step in loaded.steps():
        yield Place(part, index, step)

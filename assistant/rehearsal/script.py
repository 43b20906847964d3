"""What the people of a rehearsal say and measure: a small data file."""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadFile
from assistant.language.located import read_yaml, validate

Words = Annotated[str, Field(min_length=1, max_length=200)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Person(_Strict):
    """Somebody in the shop.

    Attributes:
        name: display name.
        voice: speaker in audio_fixtures/manifest.csv.
        apprentice: a second person reads back each of this person's safety stops too.
        pitch: how much higher (over 1) or lower that voice speaks for this person.
    """

    name: Words
    voice: Words
    pitch: Annotated[float, Field(ge=0.8, le=1.25)] = 1.0
    apprentice: bool = False


class Moment(_Strict):
    """Something said at a step beyond what the step itself asks for.

    Attributes:
        step: id of the step, as in the plan.
        say: phrases in order; a line that begins with "note:" is free speech.
    """

    step: Words
    say: tuple[Words, ...] = Field(min_length=1)


class Script(_Strict):
    """A rehearsal's script.

    Attributes:
        checklist: id of the checklist it is for.
        readings: name of a reading -> number as it is spoken ("one two point six").
    """

    language: str
    checklist: Words
    vehicle: Words
    who: Words
    second: Words
    people: dict[str, Person]
    options: dict[str, bool | str] = Field(default_factory=dict)
    readings: dict[str, Words] = Field(default_factory=dict)
    leave_out: tuple[Words, ...] = ()
    moments: tuple[Moment, ...] = ()

    def for_steps(self, here: Collection[str], anywhere: Collection[str]) -> Script:
        """Without moments at steps that the chosen options leave away.

        Args:
            here: ids of the steps of this job.
            anywhere: names of the checklist's steps, whatever the options; a moment at a step
                that is not among them stays, so that the mistake is found.
        """
        kept = tuple(
            moment
            for moment in self.moments
            if moment.step in here or not any(_is_of(moment.step, name) for name in anywhere)
        )
        return self.model_copy(update={"moments": kept})

    def without_moments(self, checklist: str) -> Script:
        """The same people for another checklist: they only do what they are asked."""
        changed = {"checklist": checklist, "moments": (), "readings": {}, "leave_out": ()}
        return self.model_copy(update={**changed, "options": {}})


def _is_of(step: str, name: str) -> bool:
    """Whether a step's id is this name, or this name with the side that it is repeated for."""
    return step == name or step.startswith(f"{name}.")


def load_script(text: str, file: str) -> Script:
    """Read a script.

    Raises:
        BadFile: it isn't one; says where and what is wrong.
    """
    located = read_yaml(text, file)
    script = validate(Script, located)
    for person in (script.who, script.second):
        if person not in script.people:
            message = f'"{person}" is not among the people: {", ".join(script.people)}'
            raise BadFile((located.finding("bad-script", message, ("people",)),))
    return script

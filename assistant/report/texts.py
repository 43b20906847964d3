"""The few words of the spoken record that stand outside its page."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import yaml
from pydantic import BaseModel, ConfigDict

from assistant.errors import BadInput


class SpokenTexts(BaseModel):
    """Words of one language.

    Attributes:
        assistant: what the assistant is called among the speakers.
        unclear: stands for a reply that was not understood; holds {text}.
        dictated: stands for a recorded note; holds {seconds}.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    assistant: str
    unclear: str
    dictated: str


@cache
def spoken_texts(language: str) -> SpokenTexts:
    """The texts of a language.

    Raises:
        BadInput: the package has no such language.
    """
    file = files("assistant") / "report" / "data" / language / "spoken.yaml"
    if not file.is_file():
        raise BadInput(f'no spoken record in the language "{language}" comes with this program')
    return SpokenTexts.model_validate(yaml.safe_load(file.read_text(encoding="utf-8")))

"""From what the screen shows to what the ear gets.

"Tighten the M8 × 1.25 bolt to 22 N·m" is said as "Tighten the M eight by one point two five
bolt to twenty two newton meters". What has no words is an error that names it; no figure, sign
or abbreviation ever reaches the voice.
"""

from __future__ import annotations

import re
import unicodedata

from assistant.errors import NotSpeakable
from assistant.language.reader import Reader
from assistant.language.wording_table import PAUSES, SPEAKABLE, Wording, load_wording

__all__ = ["NotSpeakable", "Wording", "for_ear", "load_wording"]


def for_ear(text: str, wording: Wording) -> str:
    """The text with every figure, unit, sign and abbreviation spelled as words.

    Args:
        text: what the screen shows.
        wording: the table of the text's language.

    Returns:
        Letters, spaces and . , ? ! ; : ' - only; empty for an empty text.

    Raises:
        NotSpeakable: something in the text has no words; it is named.
    """
    plain = unicodedata.normalize("NFC", text)
    for sign, words in wording.signs.items():
        plain = plain.replace(sign, f" {words} ")
    plain = " ".join(plain.split())
    said = _tidy(Reader(plain, wording).read())
    for sign in said:
        if not (sign.isalpha() or sign in SPEAKABLE):
            raise NotSpeakable(sign, text)
    return said


def _tidy(said: str) -> str:
    """Pauses stand right after a word, one at a time, the strongest of those that met."""

    def strongest(met: re.Match[str]) -> str:
        marks = met.group()
        return next((m for order in (".?!", ";:") for m in marks if m in order), ",")

    marks = re.escape(PAUSES)
    single = re.sub(rf"[ {marks}]*[{marks}]", strongest, " ".join(said.split()))
    return (
        re.sub(rf"([{marks}])(?=[^\s{marks}])", r"\1 ", single).strip(" ,;:-").lstrip(PAUSES + " ")
    )

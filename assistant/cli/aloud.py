"""Lines read out through the loudspeaker, for the commands that offer it."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import closing

from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.mouth import VoiceMouth
from assistant.speaking.renderer import Renderer


def read_out(spoken: Iterable[str]) -> None:
    """Say these words, one line after the other, with the voice of a live job.

    Raises:
        VoiceUnavailable: nothing here can speak.
        AudioUnavailable: there is no loudspeaker.
    """
    with closing(VoiceMouth(Renderer(), Loudspeaker())) as mouth:
        for words in spoken:
            mouth.say(words)

"""Asks for a phrase on the screen and aloud."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from assistant.cli.output import tell
from assistant.errors import AudioUnavailable, VoiceUnavailable
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.mouth import VoiceMouth
from assistant.speaking.renderer import Renderer

if TYPE_CHECKING:
    from assistant.hearing.enrollment.folder import VoiceFolder
    from assistant.soundcheck.takes import Ask


@contextmanager
def asker(loudspeaker: str | None, folder: VoiceFolder, *, silent: bool) -> Iterator[Ask]:
    """Shows each phrase and says it; only shows it where nothing can be said.

    Args:
        loudspeaker: part of the device's name.
        folder: where the takes go, for how far this is.
        silent: only show.
    """
    mouth = VoiceMouth(Renderer(), Loudspeaker(loudspeaker))

    def ask(phrase: str, fault: str) -> None:
        nonlocal silent
        if fault:
            tell(f"once more: {fault}")
        tell(f"{len(folder.clips) + 1:3}  say: {phrase}")
        if silent:
            return
        try:
            mouth.say(phrase)
        except (AudioUnavailable, VoiceUnavailable) as problem:
            tell(f"({problem})")
            silent = True

    try:
        yield ask
    finally:
        mouth.close()

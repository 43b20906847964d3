"""A rehearsal as a person would hear it: in real time, through the loudspeaker if there is one."""

from __future__ import annotations

import threading
from collections.abc import Callable

from assistant.errors import AudioUnavailable
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.mouth import Spoken
from assistant.speaking.renderer import Renderer
from assistant.speaking.speech import Speech


class AudibleMouth(FileMouth):
    """Keeps the track in real time and lets it be heard.

    Args:
        renderer: the voice.
        loudspeaker: where it is heard; when it can't be opened that is told once, and the
            rehearsal goes on at the same pace.
        tell: takes that message.
    """

    def __init__(
        self, renderer: Renderer, loudspeaker: Loudspeaker, tell: Callable[[str], None]
    ) -> None:
        super().__init__(renderer, realtime=True)
        self._loudspeaker: Loudspeaker | None = loudspeaker
        self._tell = tell

    def _place(self, text: str, speech: Speech, cut: threading.Event) -> Spoken:
        player = self._play(speech, cut)
        spoken = super()._place(text, speech, cut)
        player.join()
        return spoken

    def add(self, sound: Speech, *, wait: bool = True) -> None:
        """See `FileMouth.add`; heard at the same time."""
        player = self._play(sound, threading.Event())
        super().add(sound, wait=wait)
        if wait:
            player.join()

    def _play(self, speech: Speech, cut: threading.Event) -> threading.Thread:
        player = threading.Thread(target=self._aloud, args=(speech, cut))
        player.start()
        return player

    def _aloud(self, speech: Speech, cut: threading.Event) -> None:
        loudspeaker = self._loudspeaker
        if loudspeaker is None:
            return
        try:
            loudspeaker.play(speech, cut)
        except AudioUnavailable as problem:
            self._loudspeaker = None
            self._tell(f"  (no loudspeaker, so only the text: {problem})")

    def close(self) -> None:
        """See `FileMouth`; gives back the loudspeaker too."""
        super().close()
        if self._loudspeaker is not None:
            self._loudspeaker.close()

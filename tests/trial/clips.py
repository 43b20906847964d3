"""Sound files and manifests made for a test, and a listener that needs no recogniser."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
import soundfile

from assistant.hearing.ear import Heard, Nothing
from assistant.hearing.lines import Grammar
from assistant.hearing.noise import Samples
from assistant.hearing.source import FRAME_S, RATE, Source
from assistant.trial.manifest import Row
from assistant.trial.session import Spent
from assistant.trial.sound import CLEAN, Condition

HEADER = "file,kind,transcript,speaker,snr_db"


def tone(seconds: float, rms: float = 0.1, hertz: float = 200.0) -> Samples:
    """A sine of this root mean square."""
    at = np.arange(round(seconds * RATE)) / RATE
    return np.asarray(rms * np.sqrt(2) * np.sin(2 * np.pi * hertz * at), dtype=np.float64)


def silence(seconds: float) -> Samples:
    """Nothing."""
    return np.zeros(round(seconds * RATE))


def saved(file: Path, *pieces: Samples) -> Path:
    """A WAV file of these pieces."""
    soundfile.write(file, np.concatenate(pieces), RATE, subtype="PCM_16")
    return file


def manifest(folder: Path, *lines: str, header: str = HEADER) -> Path:
    """A manifest of these lines."""
    file = folder / "clips.csv"
    file.write_text("\n".join((header, *lines)) + "\n", encoding="utf-8")
    return file


def row(kind: str = "command", transcript: str = "go", file: str = "go.wav") -> Row:
    """A row that stands nowhere."""
    return Row(Path(file), kind, transcript, "somebody", where="clips.csv:2")


def heard(grammar: Grammar, text: str, why: str = "", confidence: float = 0.9) -> Heard:
    """An utterance of these words."""
    intent = None if why else grammar.match(text)
    return Heard(
        intent=intent,
        text=text,
        confidence=confidence,
        verdict="unclear" if intent is None else "accepted",
        why=why or ("" if intent else "no phrase"),
        clip=b"",
        began_s=0.0,
        ended_s=0.0,
        decided_s=0.0,
        snr_db=None,
        engine="none",
    )


class LoudnessEar:
    """Says a word by how loud the loudest frame was, when a clip's quiet end has lasted.

    Args:
        words: what is said from this amplitude on, the loudest first.
    """

    def __init__(self, source: Source, words: Mapping[int, str]) -> None:
        self._frames = source.frames()
        self._words = words

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """Wait for a loud stretch and its end, at most as long as it is wanted."""
        loudest, waited = 0, 0.0
        least = min(self._words)
        for frame in self._frames:
            now = int(np.abs(np.frombuffer(frame, dtype="<i2")).max())
            loudest = max(loudest, now if now >= least else 0)
            over = going is not None and not going()
            if loudest and (now < least or over):
                said = next(word for level, word in self._words.items() if loudest >= level)
                return heard(grammar, said)
            waited += FRAME_S
            if patience_s is not None and waited >= patience_s and not loudest:
                return Nothing("silence")
        return Nothing("ended")


def spent(sound_s: float = 10.0) -> Spent:
    """A tenth of the sound's length, all in all."""
    return Spent(sound_s / 10, sound_s, 0.01, 1.0, 50.0)


def noisy(snr_db: float) -> Condition:
    """Among machines."""
    return Condition("machines", snr_db)


CONDITIONS: Sequence[Condition] = (CLEAN, noisy(10.0))

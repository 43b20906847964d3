"""Whether the room's noise masks this person's speech, so that listening is of no use.

It is told by what the ear has measured, never by what an engine makes of it: the noise's level
against the level at which people have been understood here.
"""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import Final

from assistant.hearing.source import FRAME_S

MASKED_DB: Final = 0.0
"""Speech less than this over the noise is masked, where the engine's own figure isn't given
(`acceptance.yaml`, masked_db). With PocketSphinx, of the commands of held-out voices in six noises
1 % were understood at -3 dB, 6 % at 0 dB (and 3 % misheard) and 20 % at +3 dB (and 2 % misheard):
`python -m tests.hearing.bench_masking`, 180, 180 and 120 utterances."""

CLEAR_ABOVE_DB: Final = 3.0
"""So much more over the noise is of use again, so that the state does not flicker."""

NOMINAL_DBFS: Final = -26.0
"""Speech level before anybody has been understood: the usual level of test speech, ITU-T P.830
and G.191 (from memory)."""

_HOLD_S: Final = 1.0
"""Noise as loud as that for less than this is a knock."""

FAR_DB: Final = 12.0
"""Speech so much under the usual level may come from another bay: from four times as far off
(inverse distance law, free field). Of 162 utterances of six people none lay more than 8.1 dB under
the same person's usual level: `python -m tests.hearing.bench_usual_level`."""

_REMEMBERED: Final = 15
_ENOUGH: Final = 3
"""So many utterances must have been understood before one can be called far off."""


class Masking:
    """Follows the noise and the levels of what was understood.

    Args:
        masked_db: speech less than this over the noise is masked for the engine.

    Attributes:
        masked: whether the noise masks the usual speech now.
    """

    def __init__(self, masked_db: float = MASKED_DB) -> None:
        self._masked_db = masked_db
        self.masked = False
        self._changing_s = 0.0
        self._levels: deque[float] = deque(maxlen=_REMEMBERED)

    @property
    def usual_dbfs(self) -> float:
        """The level at which people are understood here: the median of the last fifteen."""
        return median(self._levels) if self._levels else NOMINAL_DBFS

    def understood(self, speech_dbfs: float | None) -> None:
        """An utterance of this level was understood."""
        if speech_dbfs is not None:
            self._levels.append(speech_dbfs)

    def moved(self, speech_dbfs: float | None) -> None:
        """People are understood at another level from now on."""
        self._levels.clear()
        self.understood(speech_dbfs)

    def take(self, noise_dbfs: float | None) -> bool:
        """Take the noise's level, once a frame; True when `masked` has just changed."""
        if noise_dbfs is None:
            return False
        over = self.usual_dbfs - noise_dbfs
        clear_db = self._masked_db + CLEAR_ABOVE_DB
        other = over >= clear_db if self.masked else over < self._masked_db
        self._changing_s = self._changing_s + FRAME_S if other else 0.0
        if self._changing_s < _HOLD_S:
            return False
        self._changing_s = 0.0
        self.masked = not self.masked
        return True

    def hides(self, snr_db: float | None) -> bool:
        """Whether an utterance that was so far over the noise is not worth a question.

        While the noise masks the usual speech, one that is over it all the same is somebody who
        speaks up, or nearer to the microphone than was thought: that is heard.
        """
        return self.masked and snr_db is not None and snr_db < self._masked_db

    def far_off(self, speech_dbfs: float | None) -> bool:
        """Whether speech of this level comes from much farther off than what is understood here."""
        known = len(self._levels) >= _ENOUGH and speech_dbfs is not None
        return known and speech_dbfs is not None and speech_dbfs < self.usual_dbfs - FAR_DB


class Unmasked(Masking):
    """Noise masks nothing, and nobody is far off: whatever is heard is looked into."""

    def take(self, noise_dbfs: float | None) -> bool:
        """Nothing changes."""
        del noise_dbfs
        return False

    def far_off(self, speech_dbfs: float | None) -> bool:
        """Never."""
        del speech_dbfs
        return False

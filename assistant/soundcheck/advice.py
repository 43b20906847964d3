"""What the figures of a place mean for the person who stands in it."""

from __future__ import annotations

from typing import Final, Literal

from assistant.job.effects import Line, line
from assistant.soundcheck.measure import Measured

Figure = Literal["good", "fair", "poor", "none"]

GOOD_DB: Final = 20.0
FAIR_DB: Final = 10.0
LEAST_DB: Final = 3.0
"""Speech over noise, in dB, that makes a place good, fair or poor: of people's words in machine
noise 93 % were understood at 20 dB, 91 % at 10 dB, 82 % at 5 dB and 53 % at 0 dB (`gloveson trial`,
90 words, the pair). Under LEAST_DB voice is of no use, and asking again doesn't help."""

_ENOUGH: Final = 0.75
"""Share of the phrases that must be understood at first try for a place to work (our choice)."""

_FAINT_DBFS: Final = -36.0
"""Speech 10 dB under the usual -26 dBFS (ITU-T P.830, from memory): the microphone is far off, and
at half the distance it gets 6 dB more (inverse distance law)."""


def figure(measured: Measured) -> Figure:
    """The place in one word, to compare rooms by."""
    snr = measured.snr_db
    if measured.dead or snr is None or snr < LEAST_DB:
        return "none"
    return "good" if snr >= GOOD_DB else "fair" if snr >= FAIR_DB else "poor"


def works(measured: Measured) -> bool:
    """Whether a job can be done by voice here."""
    enough = measured.understood >= _ENOUGH * len(measured.tried)
    return figure(measured) != "none" and bool(measured.tried) and enough


def advise(measured: Measured) -> tuple[Line, ...]:
    """What to change, the most important first; one line when all is well."""
    if measured.dead:
        return (line("soundcheck.dead"),)
    if measured.speech_dbfs is None:
        return (line("soundcheck.nobody"), *_sound(measured))
    found = (*_noise(measured), *_sound(measured))
    if not works(measured) and not found:
        return (line("soundcheck.not_understood"),)
    return found or (line("soundcheck.good"),)


def _noise(measured: Measured) -> tuple[Line, ...]:
    """About speech and noise."""
    snr = measured.snr_db
    if snr is None or snr >= FAIR_DB:
        return ()
    faint = measured.speech_dbfs is not None and measured.speech_dbfs < _FAINT_DBFS
    if faint:
        return (line("soundcheck.closer"), line("soundcheck.headset"))
    if snr < LEAST_DB:
        return (line("soundcheck.too_loud"),)
    return (line("soundcheck.headset"),)


def _sound(measured: Measured) -> tuple[Line, ...]:
    """About the microphone itself."""
    found = []
    if measured.clipped:
        found.append(line("soundcheck.clipping"))
    if measured.dropouts:
        found.append(line("soundcheck.dropouts"))
    return tuple(found)

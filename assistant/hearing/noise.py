"""Workshop noise made by rule, and mixing it with speech at a stated signal-to-noise ratio.

Every maker takes a number of samples, a rate where it matters, and a seed; the same seed gives the
same samples. Noise comes as float64 at an RMS of 1; `mixed` brings it to the wanted level.

Speech level is the active level of `active_level_db`: it follows method B of Recommendation
ITU-T P.56, "Objective measurement of active speech level", in a shorter form. As there:
the rectified signal passes through two one-pole smoothers of 0.03 s each; a sample counts as
active while that envelope is over a threshold or was so within the last 0.2 s; the level is the
whole energy over the active time; and the threshold is the one that lies 15.9 dB under the level
that it gives. Other than there: the threshold is found by bisection between the levels of a
one-decibel ladder (P.56 halves voltages: 6 dB apart, then interpolates), the envelope is looked
at once a millisecond, and there is no band-limiting filter in front. So pauses and the silence
around a clip don't lower its level.

Noise level is plain RMS over the whole mixed length. SNR in dB is the first less the second.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from assistant.errors import BadInput

Samples = npt.NDArray[np.float64]

FULL_SCALE = 32768
# Figures of ITU-T P.56, method B: time constant and hangover in seconds, margin in dB.
SMOOTHING_S = 0.03
HANGOVER_S = 0.2
MARGIN_DB = 15.9
# The envelope is looked at this often: it can't change faster than SMOOTHING_S lets it.
ENVELOPE_HZ = 1000
_RUNG_DB = 1.0
# Some 15 dB over the last bit of 16: under it there are hardly any samples but 0 and 1.
FAINTEST_DB = -75.0
# A mixture is turned down as a whole when its peak would pass this share of full scale.
_PEAK = 0.99


def from_pcm(pcm: bytes) -> Samples:
    """Samples in -1..1 of little-endian 16-bit mono PCM; raises BadInput on half a sample."""
    if len(pcm) % 2:
        raise BadInput(f"{len(pcm)} bytes of audio: 16-bit samples need an even number of bytes")
    whole = np.frombuffer(pcm, dtype="<i2").astype(np.float64)
    return np.asarray(whole / FULL_SCALE, dtype=np.float64)


def to_pcm(samples: Samples) -> bytes:
    """Little-endian 16-bit mono PCM of samples in -1..1; what lies outside is cut off there."""
    whole = np.rint(samples * FULL_SCALE)
    return np.clip(whole, -FULL_SCALE, FULL_SCALE - 1).astype("<i2").tobytes()


def _at_unit_rms(samples: Samples) -> Samples:
    power = float(np.mean(samples**2)) if len(samples) else 0.0
    if power == 0:
        raise BadInput("a sound of nothing but silence has no level")
    return samples / math.sqrt(power)


def _count(samples: int) -> int:
    if samples < 2:
        raise BadInput(f"{samples} samples of noise: at least 2 are needed")
    return samples


def power_law(samples: int, exponent: float, seed: int) -> Samples:
    """Noise whose power falls with frequency as 1/f**exponent, without a constant part.

    White Gaussian noise is weighted in its spectrum by f**(-exponent/2): power goes with the
    square of amplitude. Each doubling of frequency so lowers the power density by
    10*log10(2**exponent) = 3.01 dB times the exponent.
    """
    _count(samples)
    white = np.random.default_rng(seed).standard_normal(samples)
    spectrum = np.fft.rfft(white)
    weight = np.arange(len(spectrum), dtype=np.float64)
    weight[0] = np.inf
    shaped = spectrum * weight ** (-exponent / 2) if exponent else spectrum
    shaped[0] = 0
    return _at_unit_rms(np.fft.irfft(shaped, samples))


def white(samples: int, seed: int) -> Samples:
    """Equal power at every frequency: compressed air, a spray gun."""
    return power_law(samples, 0.0, seed)


def pink(samples: int, seed: int) -> Samples:
    """Power falling 3 dB an octave (1/f): a room full of work."""
    return power_law(samples, 1.0, seed)


def brown(samples: int, seed: int) -> Samples:
    """Power falling 6 dB an octave (1/f**2): fans and traffic through a wall."""
    return power_law(samples, 2.0, seed)


def engine(samples: int, rate_hz: int, seed: int, rpm: float = 1200.0) -> Samples:
    """A running engine: firing hum, its harmonics up to 4 kHz, idling unsteadily over pink noise.

    A four-stroke twin fires once a turn, so the hum is rpm/60 Hz (arithmetic); harmonics fall by
    6 dB an octave and the pink noise lies 10 dB under the hum (both chosen by ear, no source).

    Raises:
        BadInput: for an rpm that isn't above 0.
    """
    _count(samples)
    if rpm <= 0:
        raise BadInput(f"an engine at {rpm} rpm makes no noise: the speed must be above 0")
    random = np.random.default_rng(seed)
    seconds = np.arange(samples) / rate_hz
    knots = np.arange(0, seconds[-1] + 1, 0.5)
    wander = np.interp(seconds, knots, random.normal(1.0, 0.02, len(knots)))
    phase = 2 * np.pi * np.cumsum(wander) * rpm / 60 / rate_hz
    highest = int(min(4000.0, 0.45 * rate_hz) / (rpm / 60))
    hum = np.zeros(samples)
    for harmonic in range(1, highest + 1):
        hum += np.sin(harmonic * phase + random.uniform(0, 2 * np.pi)) / harmonic
    rough = pink(samples, int(random.integers(2**31))) * 10 ** (-10 / 20)
    return _at_unit_rms(_at_unit_rms(hum) + rough)


def babble(samples: int, clips: Sequence[Samples], seed: int, talkers: int = 6) -> Samples:
    """Several people talking at once: each talker says the given clips in an order of their own.

    Raises:
        BadInput: when there are no clips, or one of them is silent or empty.
    """
    _count(samples)
    if not clips or talkers < 1:
        raise BadInput("babble needs at least one talker and one clip")
    random = np.random.default_rng(seed)
    level = [_at_unit_rms(clip) for clip in clips]
    together = np.zeros(samples)
    for _ in range(talkers):
        # Begin inside the first clip, so that the talkers don't all start at once.
        spoken = [level[int(random.integers(len(level)))]]
        start = int(random.integers(len(spoken[0])))
        length = len(spoken[0]) - start
        while length < samples:
            spoken.append(level[int(random.integers(len(level)))])
            length += len(spoken[-1])
        together += np.concatenate(spoken)[start : start + samples]
    return _at_unit_rms(together)


NOISES: dict[str, Callable[[int, int, int], Samples]] = {
    "pink": lambda samples, _rate_hz, seed: pink(samples, seed),
    "white": lambda samples, _rate_hz, seed: white(samples, seed),
    "brown": lambda samples, _rate_hz, seed: brown(samples, seed),
    "engine": engine,
}
"""Noises that need no clips, by name: (samples, rate in Hz, seed) -> samples."""


def _envelope(samples: Samples, rate_hz: int) -> Samples:
    """The rectified signal, 1 ms means, through two one-pole filters of SMOOTHING_S each.

    One filter is y[n] = g*y[n-1] + (1-g)*x[n]; it is computed by convolution with its impulse
    response, cut where that has fallen by 120 dB.
    """
    step = max(1, round(rate_hz / ENVELOPE_HZ))
    padded = np.pad(np.abs(samples), (0, -len(samples) % step))
    envelope = padded.reshape(-1, step).mean(axis=1)
    keep = math.exp(-step / (rate_hz * SMOOTHING_S))
    taps = math.ceil(math.log(1e-6) / math.log(keep))
    response = (1 - keep) * keep ** np.arange(taps)
    for _ in range(2):
        envelope = np.convolve(envelope, response)[: len(envelope)]
    return np.asarray(envelope, dtype=np.float64)


def _active_share(envelope: Samples, threshold: float, hangover: int) -> float:
    """Share of the time over the threshold, or at most `hangover` steps after that."""
    over = np.flatnonzero(envelope >= threshold)
    if not len(over):
        return 0.0
    gaps = np.minimum(np.diff(over), hangover + 1)
    tail = min(hangover + 1, len(envelope) - int(over[-1]))
    return (int(gaps.sum()) + tail) / len(envelope)


def active_level_db(samples: Samples, rate_hz: int) -> float:
    """Active speech level in dB under full scale (RMS of 1 is 0 dB); the module says how.

    Raises:
        BadInput: when there is no speech: nothing, silence, or too faint (below -75 dB).
    """
    power = float(np.mean(samples**2)) if len(samples) else 0.0
    if not power:
        raise BadInput("silence has no speech level")
    envelope = _envelope(samples, rate_hz)
    hangover = round(HANGOVER_S * ENVELOPE_HZ)

    def level_and_margin(threshold_db: float) -> tuple[float, float]:
        active = _active_share(envelope, 10 ** (threshold_db / 20), hangover)
        if not active:
            return -math.inf, -math.inf
        level = 10 * math.log10(power / active)
        return level, level - threshold_db - MARGIN_DB

    # The active level is never under the plain one, so on this first rung the margin is positive.
    # Rungs are counted from the plain level: the same clip, louder, climbs the same ladder.
    low = 10 * math.log10(power) - MARGIN_DB - _RUNG_DB
    while level_and_margin(low + _RUNG_DB)[1] > 0:
        low += _RUNG_DB
    high = low + _RUNG_DB
    for _ in range(20):
        middle = (low + high) / 2
        if level_and_margin(middle)[1] > 0:
            low = middle
        else:
            high = middle
    level = level_and_margin(low)[0]
    if level < FAINTEST_DB:
        raise BadInput(
            f"{level:.0f} dB is too faint for a speech level: {FAINTEST_DB:.0f} is needed"
        )
    return level


def at_level_db(noise: Samples, level_db: float) -> Samples:
    """Noise at an RMS of so many dB under full scale, for a bed that goes on between phrases.

    Raises:
        BadInput: when the noise is silent.
    """
    return _at_unit_rms(noise) * 10 ** (level_db / 20)


def mixed(speech: Samples, noise: Samples, snr_db: float, rate_hz: int) -> Samples:
    """Speech with noise over its whole length, SNR as the module defines it.

    Noise longer than the speech is cut, shorter noise is repeated. Speech keeps its level, unless
    the sum would be clipped: then both are turned down together, which leaves the SNR as it is.

    Raises:
        BadInput: when either is silent.
    """
    level_db = active_level_db(speech, rate_hz) - snr_db
    total = speech + at_level_db(np.resize(noise, len(speech)), level_db)
    peak = float(np.abs(total).max())
    return total * (_PEAK / peak) if peak > _PEAK else total


def mixed_pcm(pcm: bytes, noise: Samples, snr_db: float, rate_hz: int = 16_000) -> bytes:
    """`mixed` for 16-bit PCM bytes."""
    return to_pcm(mixed(from_pcm(pcm), noise, snr_db, rate_hz))

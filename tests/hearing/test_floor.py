"""The noise floor against the level of the noise that was mixed in."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.hearing.floor import NoiseFloor
from assistant.hearing.level import measure
from assistant.hearing.noise import NOISES, at_level_db, from_pcm, to_pcm
from assistant.hearing.source import FRAME_BYTES, RATE
from tests.hearing.clips import clip


def _follow(floor: NoiseFloor, pcm: bytes) -> list[float]:
    found = []
    for at in range(0, len(pcm) - FRAME_BYTES + 1, FRAME_BYTES):
        floor.take(measure(pcm[at : at + FRAME_BYTES]).dbfs)
        assert floor.dbfs is not None
        found.append(floor.dbfs)
    return found


def test_nothing_is_known_before_the_first_frame() -> None:
    """There is no floor before any sound."""
    assert NoiseFloor().dbfs is None


@pytest.mark.parametrize("kind", ["pink", "white", "engine"])
@pytest.mark.parametrize("level", [-60.0, -40.0, -20.0])
def test_steady_noise_is_measured(kind: str, level: float) -> None:
    """Steady noise alone is found within 2 dB of the level it was made at."""
    noise = to_pcm(at_level_db(NOISES[kind](4 * RATE, RATE, 5), level))
    assert _follow(NoiseFloor(), noise)[-1] == pytest.approx(level, abs=2.0)


def test_speech_does_not_lift_it() -> None:
    """Commands one after another, 20 dB over pink noise, move the floor by less than 3 dB."""
    words = np.concatenate(
        [from_pcm(clip(w)) for w in ("step complete", "what torque", "report trouble")] * 2
    )
    level = 10 * np.log10(np.mean(words**2)) - 20
    noise = at_level_db(NOISES["pink"](len(words), RATE, 5), float(level))
    found = _follow(NoiseFloor(), to_pcm(words + noise))[64:]
    assert np.max(np.abs(np.array(found) - level)) < 3.0


def test_a_machine_that_starts_is_noise_after_one_window() -> None:
    """A rise of 40 dB is believed within 5.2 s, and its end within one."""
    quiet = to_pcm(at_level_db(NOISES["pink"](3 * RATE, RATE, 1), -60.0))
    loud = to_pcm(at_level_db(NOISES["pink"](6 * RATE, RATE, 2), -20.0))
    floor = NoiseFloor()
    _follow(floor, quiet)
    risen = _follow(floor, loud)
    assert risen[15] < -50
    assert risen[round(5.2 * RATE / 512)] == pytest.approx(-20, abs=2)
    assert _follow(floor, quiet)[25] == pytest.approx(-60, abs=2)


def test_zeros_have_a_floor() -> None:
    """A dead microphone's floor is the least that there is, and no infinity."""
    assert _follow(NoiseFloor(), bytes(FRAME_BYTES * 70))[-1] == pytest.approx(-100, abs=2)


def test_a_long_reading_is_not_its_own_noise() -> None:
    """A reading of over two seconds with hardly a gap leaves the floor of a quiet room."""
    quiet = to_pcm(at_level_db(NOISES["pink"](2 * RATE, RATE, 1), -70.0))
    floor = NoiseFloor()
    _follow(floor, quiet)
    said = _follow(floor, clip("reading seven zero zero milliliters"))
    assert max(said) < -50

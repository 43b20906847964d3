"""Speech keeps its sound through trimming, joining and a change of rate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from assistant.speaking.speech import Speech, join


def _sine(hertz: float, rate: int, seconds: float = 0.5, peak: float = 10_000) -> Speech:
    time = np.arange(round(seconds * rate)) / rate
    return Speech.from_samples(peak * np.sin(2 * np.pi * hertz * time), rate)


def _inner(speech: Speech) -> NDArray[np.float64]:
    """The samples without the first and last 20 ms, where a filter starts and ends."""
    edge = speech.rate // 50
    return speech.samples.astype(float)[edge:-edge]


@pytest.mark.parametrize(("old", "new"), [(22_050, 16_000), (22_050, 48_000), (16_000, 44_100)])
@pytest.mark.parametrize("hertz", [200.0, 1_000.0, 6_000.0])
def test_another_rate_keeps_a_tone(old: int, new: int, hertz: float) -> None:
    """A sine sampled at the new rate by its formula and one converted agree within 0.1 %."""
    expected = _inner(_sine(hertz, new))
    got = _inner(_sine(hertz, old).at_rate(new))
    length = min(len(expected), len(got))
    error = got[:length] - expected[:length]
    assert np.sqrt(np.mean(error**2)) < 10_000 / np.sqrt(2) * 0.001


def test_another_rate_does_not_fold_hiss_down() -> None:
    """A 9.5 kHz tone, above what 16 kHz can carry, is gone (60 dB) and not heard as 6.5 kHz."""
    got = _inner(_sine(9_500, 22_050, peak=20_000).at_rate(16_000))
    assert np.sqrt(np.mean(got**2)) < 20_000 / np.sqrt(2) / 1_000


@given(
    st.lists(st.integers(-32_768, 32_767), max_size=400),
    st.sampled_from([8_000, 16_000, 22_050, 44_100, 48_000]),
    st.sampled_from([8_000, 16_000, 22_050, 44_100, 48_000]),
)
def test_another_rate_keeps_the_length(samples: list[int], old: int, new: int) -> None:
    """Whatever the samples, the length in seconds changes by less than one sample."""
    speech = Speech.from_samples(np.array(samples, dtype=float), old)
    changed = speech.at_rate(new)
    assert changed.rate == new
    assert abs(changed.seconds - speech.seconds) < 1 / new


def test_trimming_leaves_the_sound_and_a_margin() -> None:
    """Half a second of silence on both sides becomes 20 ms before and 80 ms after."""
    tone = _sine(440, 16_000)
    silence = Speech.silence(0.5, 16_000)
    trimmed = join([silence, tone, silence]).trimmed()
    assert trimmed.seconds == pytest.approx(tone.seconds + 0.1, abs=0.001)
    assert tone.pcm[2:-2] in trimmed.pcm


def test_trimming_of_silence_changes_nothing() -> None:
    """Pure silence is left as it is."""
    silence = Speech.silence(0.5, 16_000)
    assert silence.trimmed() == silence


def test_join_puts_pauses_between_parts() -> None:
    """Two parts of different rates come out at the first one's, a pause between them."""
    joined = join([_sine(440, 22_050), _sine(440, 16_000)], pause_s=0.25)
    assert joined.rate == 22_050
    assert joined.seconds == pytest.approx(1.25, abs=0.001)
    middle = joined.samples[round(0.51 * 22_050) : round(0.74 * 22_050)]
    assert not middle.any()


def test_until_cuts_at_a_moment() -> None:
    """What was heard before a cut is that many samples."""
    assert _sine(440, 16_000).until(0.2).seconds == pytest.approx(0.2)


@pytest.mark.parametrize(("pcm", "rate"), [(b"\x00", 16_000), (b"", 0)])
def test_impossible_speech_is_refused(pcm: bytes, rate: int) -> None:
    """Half a sample or no rate is an error at once."""
    with pytest.raises(ValueError, match="not"):
        Speech(pcm, rate)


def test_nothing_to_join_is_refused() -> None:
    """Joining no parts has no rate, so it is an error."""
    with pytest.raises(ValueError, match="nothing"):
        join([])

"""Noise by rule: its spectrum against definitions, mixing against the SNR that was asked."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.hearing import noise

RATE_HZ = 16_000
Samples = noise.Samples


def octave_slope_db(samples: Samples, low_hz: float, high_hz: float) -> float:
    """Fitted change of the power density in dB an octave, from the averages of octave bands."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    hertz = np.fft.rfftfreq(len(samples), 1 / RATE_HZ)
    edges = [low_hz]
    while edges[-1] * 2 <= high_hz:
        edges.append(edges[-1] * 2)
    bands = list(itertools.pairwise(edges))
    levels = [10 * np.log10(power[(hertz >= low) & (hertz < high)].mean()) for low, high in bands]
    return float(np.polyfit(np.arange(len(levels)), levels, 1)[0])


def burst_speech(seconds: float = 2.0, level_db: float = -23.0) -> Samples:
    """A stand-in for speech: tones in syllable-like bursts, pauses between and silence around."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    tone = np.sin(2 * np.pi * 220 * time) + 0.5 * np.sin(2 * np.pi * 1330 * time)
    bursts = tone * np.clip(np.sin(2 * np.pi * 4 * time), 0, 1)
    bursts[: RATE_HZ // 4] = 0
    bursts[-RATE_HZ // 4 :] = 0
    return noise.at_level_db(bursts, level_db)


@pytest.mark.parametrize(
    ("name", "exponent"),
    [("white", 0), ("pink", 1), ("brown", 2)],
)
def test_power_falls_by_its_exponent(name: str, exponent: int) -> None:
    """Power density of 1/f**n noise halves n times an octave: 10*log10(2) = 3.01 dB for n = 1.

    Source: the definition of 1/f (pink) noise, power spectral density inversely proportional to
    frequency; white is flat and brown, the integral of white, is 1/f**2.
    """
    samples = noise.NOISES[name](1 << 17, RATE_HZ, 7)
    slope = octave_slope_db(samples, 31.25, 8000)
    assert slope == pytest.approx(-10 * np.log10(2) * exponent, abs=0.25)


def test_pink_has_equal_power_in_every_octave() -> None:
    """Pink noise carries the same power in each octave, which follows from 1/f by integration."""
    power = np.abs(np.fft.rfft(noise.pink(1 << 17, 3))) ** 2
    hertz = np.fft.rfftfreq(1 << 17, 1 / RATE_HZ)
    octaves = [power[(hertz >= f) & (hertz < 2 * f)].sum() for f in (125, 250, 500, 1000, 2000)]
    assert 10 * np.log10(max(octaves) / min(octaves)) < 0.6


def test_engine_hums_at_its_firing_rate() -> None:
    """At 1,200 rpm the strongest tone lies at one firing a turn, 1200/60 = 20 Hz (arithmetic)."""
    power = np.abs(np.fft.rfft(noise.engine(8 * RATE_HZ, RATE_HZ, 5, rpm=1200))) ** 2
    hertz = np.fft.rfftfreq(8 * RATE_HZ, 1 / RATE_HZ)
    assert hertz[power.argmax()] == pytest.approx(20, abs=2)
    near_harmonics = [power[(hertz > n * 20 - 4) & (hertz < n * 20 + 4)].max() for n in (2, 3, 4)]
    between = [power[(hertz > n * 20 + 8) & (hertz < n * 20 + 12)].max() for n in (2, 3, 4)]
    assert all(on > 4 * off for on, off in zip(near_harmonics, between, strict=True))


@pytest.mark.parametrize("name", sorted(noise.NOISES))
def test_same_seed_same_noise(name: str) -> None:
    """A seed fixes every sample, another seed gives other noise, and the RMS is always 1."""
    first, again, other = (noise.NOISES[name](RATE_HZ, RATE_HZ, seed) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.allclose(first, other)
    assert np.sqrt(np.mean(first**2)) == pytest.approx(1)


def test_babble_holds_every_talker_and_no_order_repeats() -> None:
    """Babble of tone clips carries each clip's tone, is fixed by its seed, and has an RMS of 1."""
    time = np.arange(RATE_HZ // 2) / RATE_HZ
    clips = [0.1 * np.sin(2 * np.pi * hz * time) for hz in (300, 700, 1900)]
    crowd = noise.babble(4 * RATE_HZ, clips, seed=11)
    assert len(crowd) == 4 * RATE_HZ
    assert np.sqrt(np.mean(crowd**2)) == pytest.approx(1)
    power = np.abs(np.fft.rfft(crowd)) ** 2
    hertz = np.fft.rfftfreq(len(crowd), 1 / RATE_HZ)
    for tone in (300, 700, 1900):
        share = power[np.abs(hertz - tone) < 15].sum() / power.sum()
        assert share > 0.05
    assert np.array_equal(crowd, noise.babble(4 * RATE_HZ, clips, seed=11))
    assert not np.array_equal(crowd, noise.babble(4 * RATE_HZ, clips, seed=12))


def test_active_level_of_a_steady_tone_is_its_rms() -> None:
    """A sine at half of full scale has an RMS level of 20*log10(0.5/sqrt(2)) = -9.03 dB.

    The envelope's rise at the start, some 20 ms of the 4 s, may pass as not active: 0.03 dB.
    """
    time = np.arange(4 * RATE_HZ) / RATE_HZ
    tone = 0.5 * np.sin(2 * np.pi * 1000 * time)
    assert noise.active_level_db(tone, RATE_HZ) == pytest.approx(-9.03, abs=0.05)


def test_active_level_counts_only_active_time() -> None:
    """Sound for half the time reads as its own level, but for the hangover that P.56 counts in.

    A tone of 2 s in 6 s of silence is active for 2 s, the 0.2 s hangover, and the time that the
    envelope takes to fall by the margin; so it reads at most 0.75 dB under its RMS, where the
    RMS over the whole 8 s lies 6 dB under it.
    """
    time = np.arange(2 * RATE_HZ) / RATE_HZ
    tone = 0.5 * np.sin(2 * np.pi * 1000 * time)
    around = np.concatenate([np.zeros(3 * RATE_HZ), tone, np.zeros(3 * RATE_HZ)])
    level = noise.active_level_db(around, RATE_HZ)
    assert -9.03 - 0.75 < level < -9.03 - 10 * np.log10(2.2 / 2)


@settings(max_examples=25, deadline=None)
@given(louder_db=st.floats(-40, 20))
def test_level_follows_the_loudness(louder_db: float) -> None:
    """The same sound so many dB louder has a level that many dB higher, nothing else changes."""
    random = np.random.default_rng(4)
    uneven = burst_speech() * np.repeat(random.choice([0.02, 0.15, 1.0], 40), RATE_HZ // 20)
    louder = uneven * 10 ** (louder_db / 20)
    rise = noise.active_level_db(louder, RATE_HZ) - noise.active_level_db(uneven, RATE_HZ)
    assert rise == pytest.approx(louder_db, abs=0.01)


def test_threshold_lies_the_margin_under_the_level() -> None:
    """Speech is active where its envelope is within 15.9 dB of the level (ITU-T P.56, margin M).

    A tone of 1 s at 0 dB and then 1 s of it at -14 dB are both active; at -24 dB only the first
    is (a margin of 15.9 dB lies between the two, envelope and RMS of a sine 0.9 dB apart).
    """
    tone = np.sin(2 * np.pi * 1000 * np.arange(2 * RATE_HZ) / RATE_HZ) * 0.5
    levels = {}
    for lower_db in (-12, -24):
        steps = np.where(np.arange(len(tone)) < RATE_HZ, 1.0, 10 ** (lower_db / 20))
        levels[lower_db] = noise.active_level_db(tone * steps, RATE_HZ)
    whole_time = -9.03 + 10 * np.log10((1 + 10**-1.2) / 2)
    assert levels[-12] == pytest.approx(whole_time, abs=0.05)
    assert -9.03 - 1.2 < levels[-24] < -9.03 - 0.79


@settings(max_examples=40, deadline=None)
@given(
    snr_db=st.floats(-10, 40),
    level_db=st.floats(-45, -12),
    name=st.sampled_from(sorted(noise.NOISES)),
    seed=st.integers(0, 2**31),
)
def test_snr_is_met_within_a_tenth_of_a_decibel(
    snr_db: float, level_db: float, name: str, seed: int
) -> None:
    """What was added is noise whose RMS lies the asked SNR under the speech's active level."""
    speech = burst_speech(level_db=level_db)
    total = noise.mixed(speech, noise.NOISES[name](RATE_HZ, RATE_HZ, seed), snr_db, RATE_HZ)
    gain = 1.0
    if np.abs(total).max() > 0.98:  # turned down as a whole: find by how much
        gain = turned_down_by(speech, total)
    added = total / gain - speech
    noise_db = 10 * np.log10(np.mean(added**2))
    speech_db = noise.active_level_db(speech, RATE_HZ)
    assert speech_db - noise_db == pytest.approx(snr_db, abs=0.1)
    assert np.abs(total).max() <= 0.99 + 1e-9


def turned_down_by(speech: Samples, total: Samples) -> float:
    """The gain of a mixture that was turned down, from the stretch where it repeats its noise."""
    # The noise of one second is repeated: its two copies differ by the speech alone.
    apart_total = total[:RATE_HZ] - total[RATE_HZ : 2 * RATE_HZ]
    apart_speech = speech[:RATE_HZ] - speech[RATE_HZ : 2 * RATE_HZ]
    return float(apart_total @ apart_speech / (apart_speech @ apart_speech))


def test_quarter_second_of_silence_leaves_the_snr_alone() -> None:
    """The same words with more silence around them get noise of nearly the same level."""
    speech = burst_speech()
    padded = np.pad(speech, RATE_HZ)
    bare = noise.active_level_db(speech, RATE_HZ)
    assert noise.active_level_db(padded, RATE_HZ) == pytest.approx(bare, abs=0.05)


def test_pcm_round_trip_keeps_every_sample() -> None:
    """16-bit samples come back as they were, and mixing at 60 dB changes them by a few steps."""
    speech = noise.to_pcm(burst_speech())
    assert noise.to_pcm(noise.from_pcm(speech)) == speech
    quiet = noise.mixed_pcm(speech, noise.pink(RATE_HZ, 1), 60.0, RATE_HZ)
    assert len(quiet) == len(speech)
    assert np.abs(noise.from_pcm(quiet) - noise.from_pcm(speech)).max() < 0.001


def test_samples_out_of_range_are_cut_off_not_wrapped() -> None:
    """A sample over full scale becomes the largest one, never one of the other sign."""
    assert noise.from_pcm(noise.to_pcm(np.array([1.5, -1.5]))) == pytest.approx([0.99997, -1.0])


@pytest.mark.parametrize(
    ("attempt", "says"),
    [
        (lambda: noise.mixed(np.zeros(RATE_HZ), noise.pink(100, 1), 10, RATE_HZ), "silence"),
        (lambda: noise.mixed(np.zeros(0), noise.pink(100, 1), 10, RATE_HZ), "silence"),
        (lambda: noise.mixed(burst_speech(), np.zeros(100), 10, RATE_HZ), "silence"),
        (lambda: noise.mixed(burst_speech(), np.zeros(0), 10, RATE_HZ), "silence"),
        (lambda: noise.active_level_db(np.full(RATE_HZ, 1e-5), RATE_HZ), "too faint"),
        (lambda: noise.pink(1, 1), "at least 2"),
        (lambda: noise.engine(RATE_HZ, RATE_HZ, 1, rpm=0), "above 0"),
        (lambda: noise.babble(RATE_HZ, [], 1), "at least one"),
        (lambda: noise.babble(RATE_HZ, [np.zeros(5)], 1), "silence"),
        (lambda: noise.from_pcm(b"abc"), "even number"),
    ],
)
def test_what_has_no_level_is_refused(attempt: object, says: str) -> None:
    """Silence, emptiness and half samples are bad input with a reason, never a NaN."""
    assert callable(attempt)
    with pytest.raises(BadInput, match=says):
        attempt()

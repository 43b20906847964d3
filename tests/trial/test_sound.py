"""Mixing: levels that can be worked out by hand, the same noise every time."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.hearing.noise import white
from assistant.hearing.source import RATE
from assistant.trial.sound import (
    CLEAN,
    Condition,
    NoiseFolder,
    conditions_of,
    last_voiced_s,
    make_scene,
)
from tests.trial.clips import noisy, row, saved, silence, tone


@pytest.fixture
def noises(tmp_path: Path) -> NoiseFolder:
    """Two noise clips of half a second."""
    folder = tmp_path / "machines"
    folder.mkdir()
    saved(folder / "a.wav", tone(0.5, 0.2, 1000))
    saved(folder / "b.flac", tone(0.7, 0.01, 3000))
    (folder / "readme.txt").write_text("no sound")
    return NoiseFolder(folder, seed=1)


@pytest.mark.parametrize("snr_db", [20.0, 0.0, -5.0])
def test_noise_lies_so_far_under_the_voiced_part(
    tmp_path: Path, noises: NoiseFolder, snr_db: float
) -> None:
    """A tone of RMS 0.1 has -20 dB, whatever silence is around it; noise is SNR less (by hand)."""
    clip = saved(tmp_path / "go.wav", silence(1.5), tone(2.0, 0.1), silence(1.5))
    scene = make_scene(replace(row(), file=clip), noisy(snr_db), noises)
    voiced = scene.clip[2 * RATE : 3 * RATE]
    ratio = 10 * math.log10(float(np.mean(voiced**2) / np.mean(scene.bed**2)))
    # ITU-T P.56 counts its hangover of 0.2 s after the tone as speech, and the fall of its
    # envelope (0.03 s, twice) before that: 10 log10(2.2 / 2) = 0.4 dB to 10 log10(2.3 / 2) = 0.6.
    assert ratio == pytest.approx(snr_db + 0.5, abs=0.2)


def test_speech_keeps_its_level_unless_the_sum_would_clip(
    tmp_path: Path, noises: NoiseFolder
) -> None:
    """At 20 dB nothing is turned down; at -20 dB both are, by the same factor."""
    clip = saved(tmp_path / "go.wav", tone(1.0, 0.1))
    one = replace(row(), file=clip)
    quiet, loud = (make_scene(one, noisy(snr), noises) for snr in (20.0, -20.0))
    assert np.abs(quiet.clip).max() == pytest.approx(0.1 * math.sqrt(2), rel=1e-3)
    assert np.abs(loud.clip).max() + np.abs(loud.bed).max() == pytest.approx(0.99, rel=1e-3)
    ratio = np.sqrt(np.mean(loud.bed**2) / np.mean(loud.clip**2))
    assert 20 * math.log10(float(ratio)) == pytest.approx(20, abs=0.3)


def test_the_same_seed_gives_the_same_noise_at_every_ratio(
    tmp_path: Path, noises: NoiseFolder
) -> None:
    """A clip meets one noise clip at one place, so ratios and recognisers can be compared."""
    clip = saved(tmp_path / "go.wav", tone(1.0, 0.01))
    one = replace(row(), file=clip)
    first, again, louder = (make_scene(one, noisy(snr), noises).bed for snr in (20, 20, 10))
    assert np.array_equal(first, again)
    assert np.allclose(louder, first * math.sqrt(10), rtol=1e-6)
    other = NoiseFolder(tmp_path / "machines", seed=2)
    rows = [row(file=f"{n}.wav") for n in range(8)]
    beds = [other.for_row(each, 100)[1].tobytes() for each in rows]
    assert len(set(beds)) > 1
    assert beds != [noises.for_row(each, 100)[1].tobytes() for each in rows]


def test_rows_are_independent(tmp_path: Path) -> None:
    """The same words in twenty voices, by label or by folder, meet the noise at twenty places."""
    saved(tmp_path / "hiss.wav", 0.1 * white(RATE, seed=1))
    noises = NoiseFolder(tmp_path, seed=1)
    voices = [replace(row(file="go.wav"), speaker=f"voice {n}") for n in range(20)]
    folders = [row(file=f"voice {n}/go.wav") for n in range(20)]
    for rows in (voices, folders):
        assert len({noises.for_row(each, 2000)[1].tobytes() for each in rows}) == 20


def test_the_noise_does_not_hang_on_where_the_clips_lie(noises: NoiseFolder) -> None:
    """Two machines with the same tree in different places measure the same."""
    here, there = row(file="/home/ann/clips/go.wav"), row(file="/mnt/clips/go.wav")
    assert np.array_equal(noises.for_row(here, 2000)[1], noises.for_row(there, 2000)[1])


def test_short_noise_is_looped(noises: NoiseFolder) -> None:
    """Noise of half a second fills twelve by repeating itself."""
    _, bed = noises.for_row(row(), 12 * RATE)
    length = next(
        n for n in (RATE // 2, round(0.7 * RATE)) if np.array_equal(bed[:n], bed[n : 2 * n])
    )
    assert np.array_equal(bed[: 4 * length], np.tile(bed[:length], 4))


def test_only_clean_commands_get_noise_mixed_in() -> None:
    """What has noise already, and what is no command, is heard as it is."""
    spoken = row()
    assert conditions_of(spoken, "machines", (20, 0)) == (CLEAN, noisy(20), noisy(0))
    assert conditions_of(spoken, None, (20, 0)) == (CLEAN,)
    assert conditions_of(row("speech"), "machines", (20, 0)) == (CLEAN,)
    mixed = replace(spoken, snr_db=5.0, noise="saw")
    assert conditions_of(mixed, "machines", (20, 0)) == (Condition("saw", 5.0),)


def test_the_end_of_speech_is_found_before_noise_and_clicks(tmp_path: Path) -> None:
    """A tone ends at 1.2 s; what follows 20 dB under it, and a click of 5 ms, are not speech."""
    del tmp_path
    tail = tone(0.5, 0.01, 900)
    tail[4000:4080] = 0.5
    clip = np.concatenate([silence(0.2), tone(1.0, 0.1), tail])
    assert last_voiced_s(clip, -20.0) == pytest.approx(1.2, abs=0.011)


def test_a_clip_without_speech_and_noise_without_sound_are_named(tmp_path: Path) -> None:
    """The row that can't be used is named with its place in the manifest."""
    one = replace(row(), file=saved(tmp_path / "go.wav", silence(1.0)))
    with pytest.raises(BadInput, match=r"clips\.csv:2: go\.wav: silence has no speech level"):
        make_scene(one, CLEAN, None)
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"no sound at all")
    with pytest.raises(Exception, match=r"clips\.csv:2: broken\.wav: .* no audio file"):
        make_scene(replace(row(), file=broken), CLEAN, None)
    with pytest.raises(BadInput, match="no such folder"):
        NoiseFolder(tmp_path / "none", 1)
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadInput, match="no audio in it"):
        NoiseFolder(tmp_path / "empty", 1)

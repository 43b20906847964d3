"""Figures of a place against the levels that it was made of."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from assistant.engines import open_engine
from assistant.hearing.noise import Samples, active_level_db, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.source import FRAME_SAMPLES, RATE, PcmSource
from assistant.packaged import phrasebook
from assistant.soundcheck import Measured, listen_to_file, listen_to_person
from assistant.soundcheck.measure import Holes, Meter, is_clipped, level_of, summed_up
from assistant.soundcheck.run import TRIED_INTENTS
from tests.hearing.clips import clip

WORDS = ("what torque", "hold everything", "where are we")


def place(
    words: Sequence[str], speech_dbfs: float, noise_dbfs: float, voice: str = "flite-rms"
) -> Samples:
    """Six seconds of room, then these words with pauses."""
    pieces = [np.zeros(6 * RATE)]
    for said in words:
        spoken = from_pcm(clip(said, voice))
        gain = 10 ** ((speech_dbfs - active_level_db(spoken, RATE)) / 20)
        pieces += [spoken * gain, np.zeros(2 * RATE)]
    whole = np.concatenate(pieces)
    return whole + at_level_db(pink(len(whole), 3), noise_dbfs)


def recorded(folder: Path, samples: Samples) -> Path:
    """The place as a file."""
    import soundfile  # noqa: PLC0415 - only here

    path = folder / "place.flac"
    soundfile.write(path, np.clip(samples, -1, 1), RATE)
    return path


def measured(folder: Path, samples: Samples) -> Measured:
    """A soundcheck on a recording of the place."""
    return listen_to_file(recorded(folder, samples), open_engine("pocketsphinx"), phrasebook("en"))


@pytest.mark.parametrize(("speech", "noise"), [(-25.0, -60.0), (-20.0, -35.0)])
def test_levels_are_those_of_the_place(tmp_path: Path, speech: float, noise: float) -> None:
    """Speech, noise and their ratio are found within 2 dB of what was mixed."""
    found = measured(tmp_path, place(WORDS, speech, noise))
    assert found.noise_dbfs == pytest.approx(noise, abs=2)
    assert found.speech_dbfs == pytest.approx(speech, abs=2)
    assert found.snr_db == pytest.approx(speech - noise, abs=2)
    assert len(found.tried) == 3
    assert (found.clipped, found.dropouts, found.dead) == (0, 0, False)


def test_phrases_are_understood_in_a_quiet_place(tmp_path: Path) -> None:
    """All phrases of a quiet recording are understood, with their words."""
    found = measured(tmp_path, place(WORDS, -25, -65))
    assert [one.heard for one in found.tried] == list(WORDS)
    assert found.understood == 3


def test_a_person_is_asked_for_silence_and_then_for_phrases() -> None:
    """Live, the room comes first; a phrase counts only as what was asked for."""
    book = phrasebook("en")
    phrases = [book.intents[name].phrases[0] for name in TRIED_INTENTS]
    said = [phrases[0], "what size", *phrases[2:]]  # the second is another one
    asked: list[str] = []
    samples = place(said, -25, -65)
    source = PcmSource(to_pcm(samples))
    found = listen_to_person(source, open_engine("pocketsphinx"), book, asked.append)
    assert asked == ["", *phrases]
    assert [one.wanted for one in found.tried] == phrases
    assert [one.heard for one in found.tried] == said
    assert [one.understood for one in found.tried][1:4] == [False, True, True]
    assert found.noise_dbfs == pytest.approx(-65, abs=2)


def test_who_says_nothing_is_not_understood() -> None:
    """A phrase that nobody says within the patience is tried, and not understood."""
    samples = at_level_db(pink(70 * RATE, 3), -60)
    found = listen_to_person(
        PcmSource(to_pcm(samples)), open_engine("pocketsphinx"), phrasebook("en"), lambda _: None
    )
    assert len(found.tried) == len(TRIED_INTENTS)
    assert found.understood == 0
    assert found.speech_dbfs is None


def test_holes_are_counted() -> None:
    """Ten milliseconds of exact zeros between sound are a hole, fewer are sound."""
    sound = np.full(10 * FRAME_SAMPLES, 100, dtype="<i2")
    sound[:400] = 0  # before the first sound
    sound[1000:1159] = 0  # too short
    sound[1300:1460] = 0  # within a frame
    sound[1990:2200] = 0  # across two
    sound[2600:4200] = 0  # three frames long
    sound[-300:] = 0  # after the last sound
    holes = Holes()
    for frame in sound.reshape(-1, FRAME_SAMPLES):
        holes.take(frame.tobytes())
    assert holes.count == 3


def test_a_dead_microphone_has_no_holes(tmp_path: Path) -> None:
    """Nothing but zeros is a dead microphone, which is another matter than a hole."""
    found = measured(tmp_path, np.zeros(3 * RATE))
    assert found.dead
    assert found.dropouts == 0
    assert found.snr_db is None


def test_overdriven_speech_is_counted() -> None:
    """Three samples at full scale are overdriven, two are a peak."""
    samples = np.array([32_767, -32_768, 5], dtype="<i2")
    assert not is_clipped(samples.tobytes())
    assert is_clipped(np.append(samples, samples).tobytes())


def test_too_faint_has_no_level() -> None:
    """Silence has no active level."""
    assert level_of(bytes(32_000)) is None


def test_nothing_has_no_figures() -> None:
    """A source that gives nothing has no noise and no speech."""
    found = summed_up(Meter(PcmSource(b"", tail_s=0.0)), [])
    assert (found.noise_dbfs, found.loudest_dbfs, found.speech_dbfs) == (None, None, None)
    assert not found.dead

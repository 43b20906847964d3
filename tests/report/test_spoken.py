"""The spoken record: the sound is where the captions say, and it says what they say."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
import webvtt

from assistant.errors import BadInput, EngineUnavailable, VoiceUnavailable
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.source import FRAME_BYTES, room_tone
from assistant.packaged import phrasebook
from assistant.report.spoken import LATER_PAUSE_S, PAUSE_S, Spoken, make_spoken
from assistant.soundcheck.run import grammar_of
from assistant.speaking.renderer import Renderer
from tests.real_parts import require
from tests.report.spoken_jobs import PHRASES, ToneVoice, short, written

RATE = 16_000


def made(folder: Path, note: str = "") -> Spoken:
    """The spoken record of a short job, prompts as hums."""
    return make_spoken(written(folder, short(note)), folder / "out", ToneVoice())


def cues(spoken: Spoken) -> list[tuple[float, float, str]]:
    """The captions' times in seconds and their texts, as webvtt-py reads them."""

    def seconds(text: str) -> float:
        hours, minutes, rest = text.split(":")
        return 3600 * int(hours) + 60 * int(minutes) + float(rest)

    return [
        (seconds(c.start), seconds(c.end), c.text)
        for c in webvtt.read(str(spoken.captions)).captions
    ]


def test_there_is_sound_in_every_cue_and_none_between(tmp_path: Path) -> None:
    """By the file itself: energy within, digital silence between, pauses of two lengths."""
    spoken = made(tmp_path)
    samples, rate = soundfile.read(spoken.sound, dtype="int16")
    assert (rate, soundfile.info(spoken.sound).format) == (RATE, "FLAC")
    assert len(samples) == round(spoken.seconds * RATE)
    found = cues(spoken)
    assert len(found) == len(spoken.placed)
    gaps = set()
    for (start, end, _), one, after in zip(
        found, spoken.placed, [*found[1:], (spoken.seconds, 0.0, "")], strict=True
    ):
        inside = samples[round(start * RATE) : round(end * RATE)].astype(float)
        outside = samples[round(end * RATE) + 16 : round(after[0] * RATE) - 16]  # 1 ms of rounding
        assert not np.any(outside)
        if one.told.absent:
            assert not np.any(inside)
        else:
            assert np.sqrt(np.mean(inside**2)) > 100
        gaps.add(round(after[0] - end, 2))
    assert gaps == {0.0, PAUSE_S, LATER_PAUSE_S}


def test_a_reply_is_the_recording_sample_by_sample(tmp_path: Path) -> None:
    """Nothing is done to what was heard."""
    spoken = made(tmp_path)
    samples, _ = soundfile.read(spoken.sound, dtype="int16")
    heard = [one for one in spoken.placed if one.told.clip]
    assert len(heard) > 3
    for one in heard:
        assert one.told.clip is not None
        kept, _ = soundfile.read(tmp_path / "one" / one.told.clip, dtype="int16")
        first = round(one.start * RATE)
        assert np.array_equal(samples[first : first + len(kept)], kept)


def _hear(engine: PocketSphinxEngine, pcm: bytes) -> Recognized:
    sound = room_tone(6_400) + pcm + room_tone(8_000)
    engine.start()
    for at in range(0, len(sound), FRAME_BYTES):
        engine.feed(sound[at : at + FRAME_BYTES])
    return engine.finish()


def test_a_recognizer_hears_in_a_cue_what_it_says(tmp_path: Path) -> None:
    """PocketSphinx, on the sound between a caption's times, finds the caption's words."""
    spoken = made(tmp_path)
    samples, _ = soundfile.read(spoken.sound, dtype="int16")
    try:
        engine = PocketSphinxEngine()
    except EngineUnavailable as problem:
        require(None, str(problem))
        return
    engine.use(grammar_of(phrasebook("en")))
    tried = {text: (start, end) for start, end, text in cues(spoken) if text in PHRASES.values()}
    assert set(tried) == set(PHRASES.values())
    for text, (start, end) in tried.items():
        assert (
            _hear(engine, samples[round(start * RATE) : round(end * RATE)].tobytes()).text == text
        )


def test_prompts_are_said_by_the_real_voice(tmp_path: Path) -> None:
    """As in the job: the same rendering, silence around it trimmed."""
    folder = written(tmp_path, short()[:2])
    try:
        with Renderer(cache=tmp_path / "cache") as voice:
            spoken = make_spoken(folder, tmp_path / "out", voice)
            first = spoken.placed[0]
            alone = voice.render(first.told.words).at_rate(RATE)
    except VoiceUnavailable as problem:
        require(None, f"no voice here: {problem}")
        return
    samples, _ = soundfile.read(spoken.sound, dtype="int16")
    assert first.told.assistant
    assert np.array_equal(samples[: len(alone.samples)], alone.samples)


def test_the_voice_gets_what_it_got_in_the_job(tmp_path: Path) -> None:
    """Words only, no figures."""
    voice = ToneVoice()
    make_spoken(written(tmp_path, short()), tmp_path / "out", voice)
    assert voice.said
    assert not any(sign.isdigit() for words, _ in voice.said for sign in words)


def test_the_chapters_cover_the_sound(tmp_path: Path) -> None:
    """From the first cue to the end, read by webvtt-py."""
    spoken = made(tmp_path)
    found = webvtt.read(str(spoken.chapters)).captions
    assert [one.text for one in found] == ["Only section"]
    assert found[0].start == "00:00:00.000"
    assert found[-1].end_in_seconds == int(spoken.seconds)


def test_sound_that_was_not_kept_leaves_time_to_read(tmp_path: Path) -> None:
    """A second at least, silent; the text is in the captions."""
    spoken = made(tmp_path, note="a typed remark of some length, longer than a second to read")
    (note,) = [one for one in spoken.placed if one.told.text.startswith("a typed remark")]
    assert 1.0 <= note.end - note.start <= 6.0


def test_a_file_that_was_there_is_replaced_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk refuses midway, the old sound stays and nothing half lies about."""
    folder = written(tmp_path, short())
    spoken = make_spoken(folder, tmp_path / "out", ToneVoice())
    before = spoken.sound.read_bytes(), spoken.captions.read_bytes()

    def refuses(*_: object) -> None:
        raise OSError(28, "no space left")

    monkeypatch.setattr(soundfile.SoundFile, "write", refuses)
    with pytest.raises(BadInput, match="no space left"):
        make_spoken(folder, tmp_path / "out", ToneVoice())
    assert (spoken.sound.read_bytes(), spoken.captions.read_bytes()) == before
    assert not list((tmp_path / "out").glob("*.part"))

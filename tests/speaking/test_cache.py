"""Rendered phrases are kept whole, or not at all."""

from __future__ import annotations

import io
import logging
import os
import wave
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.speaking.cache import SpeechCache, cache_key, default_folder, pack, unpack
from assistant.speaking.speech import Speech

_SPEECH = Speech(bytes(range(200)) * 20, 22_050)


def test_a_kept_phrase_comes_back(tmp_path: Path) -> None:
    """What is put under a key is got under it, also by another process's cache object."""
    SpeechCache(tmp_path / "new").put("k", _SPEECH)
    assert SpeechCache(tmp_path / "new").get("k") == _SPEECH
    assert SpeechCache(tmp_path / "new").get("other") is None


def test_a_kept_phrase_is_an_ordinary_wav_file() -> None:
    """Python's own wave module reads the same samples and rate (an independent reader)."""
    with wave.open(io.BytesIO(pack(_SPEECH))) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        assert file.getframerate() == _SPEECH.rate
        assert file.readframes(file.getnframes()) == _SPEECH.pcm


@given(st.data())
def test_any_changed_byte_is_noticed(data: st.DataObject) -> None:
    """A file with one byte changed anywhere, or cut short, is damaged."""
    packed = bytearray(pack(_SPEECH))
    at = data.draw(st.integers(0, len(packed) - 1))
    if data.draw(st.booleans()):
        packed[at] ^= data.draw(st.integers(1, 255))
    else:
        del packed[at:]
    with pytest.raises(ValueError, match=r"bytes|header|check sum"):
        unpack(bytes(packed))


def test_a_damaged_file_counts_as_missing(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """It is named in the log and the phrase will be rendered again."""
    cache = SpeechCache(tmp_path)
    cache.put("k", _SPEECH)
    cache.path("k").write_bytes(cache.path("k").read_bytes()[:100])
    with caplog.at_level(logging.WARNING):
        assert cache.get("k") is None
    assert "k.wav" in caplog.text


def test_the_oldest_are_dropped_above_the_limit(tmp_path: Path) -> None:
    """A full cache drops what has not been used for longest, and stays below its limit."""
    size = len(pack(_SPEECH))
    cache = SpeechCache(tmp_path, limit_bytes=10 * size)
    for number in range(10):
        cache.put(f"{number}", _SPEECH)
        os.utime(cache.path(f"{number}"), (1_000 + number, 1_000 + number))
    assert cache.get("0") == _SPEECH  # now the most recently used
    cache.put("10", _SPEECH)
    left = {path.stem for path in tmp_path.glob("*.wav")}
    assert {"0", "10", "9"} <= left
    assert "1" not in left
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= 10 * size


def test_what_a_dead_process_left_is_removed(tmp_path: Path) -> None:
    """An old unfinished file is removed at the first write, a fresh one is left to its writer."""
    old, fresh = tmp_path / "a.1.1.part", tmp_path / "b.2.2.part"
    for part in (old, fresh):
        part.write_bytes(b"half")
    os.utime(old, (1_000, 1_000))
    SpeechCache(tmp_path).put("k", _SPEECH)
    assert not old.exists()
    assert fresh.exists()


def test_a_folder_that_cannot_be_written_is_survived(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Nothing is kept, nothing fails, and the log says so once."""
    (tmp_path / "file").write_text("in the way")
    cache = SpeechCache(tmp_path / "file" / "cache")
    with caplog.at_level(logging.WARNING):
        cache.put("k", _SPEECH)
        cache.put("k", _SPEECH)
        assert cache.get("k") is None
    assert caplog.text.count("can't be kept") == 1


def test_keys_tell_voice_rate_and_words_apart() -> None:
    """Any difference is another key."""
    keys = {
        cache_key(voice, rate, words)
        for voice in ("en-us", "ko")
        for rate in (120, 160)
        for words in ("stop", "stop.")
    }
    assert len(keys) == 8


def test_the_folder_can_be_moved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """GLOVESON_HOME holds the cache when it is set; else it is the user's cache folder."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    assert default_folder() == tmp_path / "cache" / "speech"
    monkeypatch.delenv("GLOVESON_HOME")
    assert "gloveson" in default_folder().parts

"""Rendered phrases kept on disk, so that a phrase is rendered once and then played at once.

Each is a plain WAV file that any player opens; a check sum in a chunk of its own (which players
skip) tells a damaged file from a whole one. Several processes may share the folder.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import os
import struct
import threading
import time
import zlib
from pathlib import Path

import platformdirs

from assistant.speaking.speech import Speech

LIMIT_BYTES = 200_000_000
"""About an hour and a quarter of speech at 22,050 Hz."""

_SUM = b"gsum"  # our chunk: CRC-32 of rate and samples, little-endian
_HEADER = struct.Struct("<4sI4s4sIHHIIHH4sI")
_TAIL = struct.Struct("<4sII")
_ORPHAN_S = 3600.0  # a temporary file this old was left by a process that died

log = logging.getLogger(__name__)


def default_folder() -> Path:
    """Return where rendered phrases lie: under GLOVESON_HOME if set, else the user's cache."""
    home = os.environ.get("GLOVESON_HOME")
    if home:
        return Path(home) / "cache" / "speech"
    return platformdirs.user_cache_path("gloveson") / "speech"


def cache_key(voice: str, rate: int, words: str) -> str:
    """Return the name under which a phrase is kept, 64 hexadecimal digits."""
    told = json.dumps([voice, rate, words], ensure_ascii=False)
    return hashlib.sha256(told.encode()).hexdigest()


class SpeechCache:
    """A bounded folder of WAV files; any thread may call it.

    A folder that can't be read or written only costs time: it is said once in the log, and the
    phrases are rendered each time.
    """

    def __init__(self, folder: Path, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder = folder
        self.limit_bytes = limit_bytes
        self._lock = threading.Lock()
        self._held: int | None = None  # bytes, counted at the first write
        self._complained = False

    def path(self, key: str) -> Path:
        """Return the file of this key."""
        return self.folder / f"{key}.wav"

    def get(self, key: str) -> Speech | None:
        """Return the phrase, or None when it is not here or its file is damaged."""
        path = self.path(key)
        try:
            speech = unpack(path.read_bytes())
            os.utime(path)  # the oldest are dropped first: it has just been of use
        except FileNotFoundError:
            return None
        except OSError as problem:
            self._complain(problem)
            return None
        except ValueError as problem:
            log.warning("damaged, rendered again: %s: %s", path, problem)
            return None
        return speech

    def put(self, key: str, speech: Speech) -> None:
        """Keep a phrase; a reader sees the old file or the new one, never half of one."""
        packed = pack(speech)
        path = self.path(key)
        part = self.folder / f"{key}.{os.getpid()}.{threading.get_ident()}.part"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            part.write_bytes(packed)
            part.replace(path)
            with self._lock:
                self._held = None if self._held is None else self._held + len(packed)
                if self._held is None or self._held > self.limit_bytes:
                    self._prune(keep=path)
        except OSError as problem:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            self._complain(problem)

    def _complain(self, problem: OSError) -> None:
        if not self._complained:
            self._complained = True
            log.warning("rendered phrases can't be kept in %s: %s", self.folder, problem)

    def _prune(self, keep: Path) -> None:
        """Count what is held; above the limit, drop the oldest until nine tenths are left."""
        files = []
        for path in self.folder.iterdir():
            with contextlib.suppress(FileNotFoundError):  # another process has dropped it
                about = path.stat()
                if path.suffix == ".wav":
                    files.append((about.st_mtime_ns, about.st_size, path))
                elif path.suffix == ".part" and about.st_mtime < time.time() - _ORPHAN_S:
                    path.unlink()
        held = sum(size for _, size, _ in files)
        if held > self.limit_bytes:
            for _, size, path in sorted(files):
                if path != keep:
                    path.unlink(missing_ok=True)
                    held -= size
                if held <= self.limit_bytes * 0.9:
                    break
        self._held = held


def pack(speech: Speech) -> bytes:
    """Return a WAV file's bytes (PCM, mono, 16 bit) with our check sum behind the samples."""
    size = len(speech.pcm)
    head = _HEADER.pack(
        b"RIFF", _HEADER.size - 8 + size + _TAIL.size, b"WAVE",
        b"fmt ", 16, 1, 1, speech.rate, 2 * speech.rate, 2, 16,
        b"data", size,
    )  # fmt: skip
    return head + speech.pcm + _TAIL.pack(_SUM, 4, _check_sum(speech))


def unpack(packed: bytes) -> Speech:
    """Return the speech of bytes that `pack` made.

    Raises:
        ValueError: they are not, or not any more; says what is wrong.
    """
    if len(packed) < _HEADER.size + _TAIL.size:
        raise ValueError(f"only {len(packed)} bytes")
    rate, size = _HEADER.unpack_from(packed)[7], len(packed) - _HEADER.size - _TAIL.size
    try:
        speech = Speech(packed[_HEADER.size : _HEADER.size + size], rate)
        whole = pack(speech) == packed
    except (ValueError, struct.error) as problem:
        raise ValueError(f"header or length is wrong: {problem}") from problem
    if not whole:
        raise ValueError("the check sum or the header does not fit the samples")
    return speech


def _check_sum(speech: Speech) -> int:
    return zlib.crc32(speech.pcm, speech.rate)

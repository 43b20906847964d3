"""The child speaks JSON lines and nothing else, and knows when a file is whole."""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.speaking import voice_child
from assistant.speaking.voice_child import complete


def _run(
    lines: list[str], environment: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-P", voice_child.__file__],
        input="".join(line + "\n" for line in lines),
        capture_output=True,
        text=True,
        timeout=60,
        env=environment,
        check=False,
    )


def _converse(lines: list[str]) -> list[dict[str, object]]:
    told = _run(lines)
    assert told.returncode == 0, told.stderr
    return [json.loads(line) for line in told.stdout.splitlines()]


def test_only_answers_come_out(tmp_path: Path) -> None:
    """Ready, then one answer for each request in order; the library's chatter is kept away."""
    request = {"text": "go on", "voice": "gmw/en-us", "rate": 160, "patience_s": 5}
    files = [tmp_path / f"{n}.wav" for n in range(3)]
    asked = [json.dumps(request | {"id": n, "file": str(f)}) for n, f in enumerate(files)]
    ready, *answers = _converse(asked)
    assert "ready" in ready
    assert answers == [{"id": 0}, {"id": 1}, {"id": 2}]
    assert all(complete(file) for file in files)


def test_an_unknown_voice_is_an_error(tmp_path: Path) -> None:
    """The library's own reports of a failure are passed on, and the next request works."""
    request = {"text": "go on", "rate": 160, "patience_s": 5, "file": str(tmp_path / "a.wav")}
    asked = [request | {"id": 1, "voice": "no such"}, request | {"id": 2, "voice": "gmw/en-us"}]
    _, first, second = _converse([json.dumps(one) for one in asked])
    assert "no such" in str(first["error"])
    assert second == {"id": 2}


def test_a_file_that_cannot_be_written_ends_the_child(tmp_path: Path) -> None:
    """An error that the library loses is the end of the child, with the error as its last words."""
    request = {"id": 1, "text": "go on", "voice": "gmw/en-us", "rate": 160, "patience_s": 5}
    ended = _run([json.dumps(request | {"file": str(tmp_path / "none" / "a.wav")})])
    assert ended.returncode == 3
    assert len(ended.stdout.splitlines()) == 1
    assert "No such file or directory" in ended.stderr


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the package is for Linux")
def test_a_deep_installation_folder_is_no_matter(tmp_path: Path) -> None:
    """The data of eSpeak NG are found also where their path is longer than its buffers."""
    import espeakng_loader  # noqa: PLC0415 - Linux only

    deep = tmp_path / ("x" * 100) / ("y" * 100)
    deep.mkdir(parents=True)
    (deep / "espeakng_loader").symlink_to(Path(espeakng_loader.__file__).parent)
    file = tmp_path / "a.wav"
    request = {"id": 1, "text": "go on", "voice": "gmw/en-us", "rate": 160, "patience_s": 5}
    told = _run([json.dumps(request | {"file": str(file)})], {"PYTHONPATH": str(deep)})
    assert told.returncode == 0, told.stderr
    assert complete(file)


@pytest.mark.parametrize(
    ("content", "whole"),
    [
        (b"RIFF" + struct.pack("<I", 92) + b"WAVE" + bytes(88), True),
        (b"FORM" + struct.pack(">I", 92) + b"AIFF" + bytes(88), True),
        (b"RIFF" + struct.pack("<I", 92) + b"WAVE" + bytes(87), False),
        (b"RIFF" + struct.pack("<I", 0) + b"WAVE" + bytes(88), False),
        (b"RIFF" + struct.pack("<I", 36) + b"WAVE" + bytes(32), False),
        (b"RIFF", False),
        (b"", False),
        (b"ID3 " + bytes(96), False),
    ],
)
def test_whole_files_are_told_from_parts(tmp_path: Path, content: bytes, whole: bool) -> None:
    """A file is whole when it is as long as its header says and holds samples."""
    file = tmp_path / "a.wav"
    file.write_bytes(content)
    assert complete(file) is whole


def test_a_missing_file_is_not_whole(tmp_path: Path) -> None:
    """No file yet is not a complete one."""
    assert not complete(tmp_path / "none.wav")

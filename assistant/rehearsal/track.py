"""The rehearsal as one audio file: what a person in the shop would have heard."""

from __future__ import annotations

from pathlib import Path

import soundfile

from assistant.speaking.file_mouth import FileMouth


def save_track(mouth: FileMouth, path: Path) -> Path:
    """Write prompts and answers, each in its place, as FLAC at 16 kHz."""
    track = mouth.track()
    soundfile.write(str(path), track.samples, track.rate, format="FLAC", subtype="PCM_16")
    return path

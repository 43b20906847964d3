"""A live job by voice on a real sound server: what its loudspeaker says, what its record holds."""

from __future__ import annotations

import contextlib
import os
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from assistant.hearing.source import room_tone
from assistant.record.chain import Chain, TornLine
from assistant.record.folder import JOURNAL
from tests.end_to_end.running import Live
from tests.hearing.clips import clip
from tests.virtual_sound import LOUDSPEAKER, MICROPHONE, RATE, VirtualSound

SPEAKER = "flite-rms"
TRIES = 4
_FEED = "shop_microphone_feed"
_SOUND = 200  # of 32768: a voice is far above it, the null sink's silence is zero


@dataclass
class Bay:
    """The job with its microphone and its loudspeaker.

    Attributes:
        spoken: how many utterances have been played into the microphone.
    """

    job: Live
    sound: VirtualSound
    folder: Path
    spoken: int = 0

    def entries(self, *kinds: str) -> list[dict[str, Any]]:
        """Data of the entries of these kinds that are on the disk."""
        found: list[dict[str, Any]] = []
        with (
            contextlib.suppress(TornLine, FileNotFoundError),  # it is being written to
            (self.folder / JOURNAL).open("rb") as file,
        ):
            chain = Chain(file, self.folder.name)
            found.extend(dict(entry.data) for entry in chain if entry.kind in kinds)
        return found

    def heard(self) -> list[str]:
        """Intents on record, in order."""
        return [str(data["intent"]["name"]) for data in self.entries("heard")]

    def wait_until_silent(self, timeout_s: float = 60.0) -> None:
        """Wait until the loudspeaker has said nothing for a while."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end:
            with self.sound.listen() as now:
                time.sleep(0.7)
            if not sounding(now.pcm):
                return
        raise AssertionError(f"it is never silent: {self.job.screen}")

    def say(self, words: str, wanted: str) -> bytes:
        """Say this until it is understood, as a person would; returns what was answered aloud."""
        for _ in range(TRIES):
            before = len(self.entries("heard", "unclear"))
            with self.sound.listen() as answer:
                self.spoken += 1
                self.sound.speak(clip(words, SPEAKER), tail_s=0.3)
                self._wait_for_more(before)
                self.wait_until_silent()
            if self.heard()[-1:] == [wanted]:
                return answer.pcm
        raise AssertionError(f'"{words}" was not understood: {self.job.screen[-8:]}')

    def _wait_for_more(self, before: int) -> None:
        end = time.monotonic() + 5
        while time.monotonic() < end and len(self.entries("heard", "unclear")) == before:
            time.sleep(0.05)


def sounding(pcm: bytes) -> float:
    """Seconds of sound in this."""
    samples = np.abs(np.frombuffer(pcm, dtype="<i2").astype(int))
    blocks = samples[: len(samples) // 320 * 320].reshape(-1, 320).max(axis=1, initial=0)
    return float((blocks > _SOUND).sum() * 320 / RATE)


@contextlib.contextmanager
def echoing(sound: VirtualSound) -> Iterator[None]:
    """The loudspeaker is heard by the microphone, as in a real shop."""
    arguments = (f"source={LOUDSPEAKER}.monitor", f"sink={_FEED}", "latency_msec=30")
    loaded = subprocess.run(
        ["pactl", "load-module", "module-loopback", *arguments],
        env=os.environ | sound.environment,
        capture_output=True,
        text=True,
        check=True,
        timeout=10,
    )
    yield
    if sound.running:
        subprocess.run(
            ["pactl", "unload-module", loaded.stdout.strip()],
            env=os.environ | sound.environment,
            check=True,
            timeout=10,
        )


@contextlib.contextmanager
def room_tone_into(sound: VirtualSound, longest_s: int = 180) -> Iterator[None]:
    """The microphone hears a quiet room, not the exact zeros of one that is muted."""
    shape = (f"--rate={RATE}", "--channels=1", "--format=s16le", "--raw")
    tone = sound.folder / "room.raw"
    tone.write_bytes(room_tone(RATE * longest_s))
    with tone.open("rb") as room:
        player = subprocess.Popen(
            ["pacat", "--playback", f"--device={_FEED}", *shape],
            env=os.environ | sound.environment,
            stdin=room,
        )
    try:
        yield
    finally:
        player.kill()
        player.wait()


def from_microphone(sound: VirtualSound, seconds: float) -> bytes:
    """What the microphone gets meanwhile."""
    shape = (f"--rate={RATE}", "--channels=1", "--format=s16le", "--raw", "--latency-msec=20")
    recorder = subprocess.Popen(
        ["parec", f"--device={MICROPHONE}", *shape],
        env=os.environ | sound.environment,
        stdout=subprocess.PIPE,
    )
    time.sleep(seconds)
    recorder.terminate()
    return recorder.communicate(timeout=10)[0]

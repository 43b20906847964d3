"""A sound system without devices: calls back in real time and keeps what it was given."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

BLOCK_S = 0.01


class FakePortAudioError(Exception):
    """What a `FakeSound` raises as sounddevice raises its own."""


class FakeStream:
    """One output stream; its thread asks for a block every 10 ms."""

    def __init__(self, sound: FakeSound, settings: dict[str, Any]) -> None:
        self.latency = sound.latency
        self.active = False
        self.closed = False
        self.starts = 0
        self.pcm = bytearray()
        self._sound = sound
        self._rate: int = settings["samplerate"]
        self._channels: int = settings["channels"]
        self._callback: Callable[..., None] = settings["callback"]
        self._finished: Callable[[], None] = settings["finished_callback"]
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to ask."""
        self.active = True
        self.starts += 1
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        frames = round(BLOCK_S * self._rate)
        status = SimpleNamespace(output_underflow=False)
        while self.active and self._sound.asking:
            out = bytearray(2 * frames * self._channels)
            times = SimpleNamespace(currentTime=5.0, outputBufferDacTime=5.0 + self._sound.dac_s)
            self._callback(out, frames, times, status)
            self.pcm += out
            time.sleep(BLOCK_S)

    def vanish(self) -> None:
        """End as a device does that is unplugged."""
        self.active = False
        self._finished()

    def abort(self) -> None:
        """End at once."""
        self._stop()

    def close(self) -> None:
        """End for good."""
        self._stop()
        self.closed = True

    def _stop(self) -> None:
        self.active = False
        if self._thread is not None:
            self._thread.join()


@dataclass
class FakeSound:
    """Stands in for the module sounddevice.

    Attributes:
        takes: rates and channels that its device takes.
        own_rate: the device's rate in Hz.
        latency: what its streams report, in seconds.
        dac_s: how long after the callback the samples sound, by its clock.
        asking: while False its streams ask for nothing, as a hung device.
        problem: raised when a stream is opened, while set.
        streams: all that were opened.
    """

    takes: frozenset[tuple[int, int]] = frozenset({(22_050, 1)})
    own_rate: int = 48_000
    latency: float = 0.02
    dac_s: float = 0.03
    asking: bool = True
    problem: Exception | None = None
    streams: list[FakeStream] = field(default_factory=list)
    PortAudioError: type[Exception] = FakePortAudioError

    def query_devices(self, device: int | str | None, kind: str) -> Any:  # noqa: ANN401 - as the real one
        """Know every device but "none"."""
        assert kind == "output"
        if device == "none":
            raise ValueError("No output device matching 'none'")
        return {"default_samplerate": float(self.own_rate)}

    def check_output_settings(self, **settings: object) -> None:
        """Take only what `takes` holds."""
        if (settings["samplerate"], settings["channels"]) not in self.takes:
            raise FakePortAudioError("Invalid sample rate or channels")

    def RawOutputStream(self, **settings: object) -> FakeStream:  # noqa: N802 - its name
        """Open a stream."""
        if self.problem is not None:
            raise self.problem
        stream = FakeStream(self, settings)
        self.streams.append(stream)
        return stream

"""A live microphone through PortAudio, watched, and taken back when it returns.

The audio callback only copies into a bounded queue and counts what it had to drop. PortAudio says
nothing when a device vanishes, so a watchdog in the reading thread looks for callbacks that stay
away.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import queue
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any, ClassVar, Final, Protocol

import numpy as np

from assistant.errors import AudioUnavailable
from assistant.hearing.source import FRAME_SAMPLES, RATE, TICK_S

_RATES: Final = (RATE, 3 * RATE)
"""Tried in this order: some devices give 48 kHz only, which is then brought down by three."""

_SILENT_S: Final = 0.5
"""Without a callback for this long the microphone is lost (library facts, watchdog)."""

_FIRST_S: Final = 5.0
"""A stream that has just been opened may take some seconds to the first callback."""

_RETRY_S: Final = 1.0
_CLOSING_S: Final = 2.0
_RESCAN_EVERY: Final = 3


class Stream(Protocol):
    """The part of a PortAudio stream that is used here."""

    @property
    def active(self) -> bool:
        """Whether callbacks are to be expected."""

    def close(self) -> None:
        """Stop it and give the device back."""


Callback = Callable[[Any, int, Any, Any], None]
Opener = Callable[[str | None, int, int, Callback], Stream]
"""Opens and starts a mono 16-bit input: (device name, rate, block size, callback)."""


def load_sounddevice() -> Any:  # noqa: ANN401 - the library ships no types
    """The sounddevice module.

    Raises:
        AudioUnavailable: it or PortAudio is not installed; says what to install.
    """
    try:
        import sounddevice  # noqa: PLC0415 - loads PortAudio, which a rehearsal doesn't need
    except ImportError as problem:
        raise AudioUnavailable("sounddevice is missing; pip install sounddevice") from problem
    except OSError as problem:
        raise AudioUnavailable(
            "PortAudio is not installed, so there is no microphone and no loudspeaker; on Debian "
            "and Ubuntu: apt install libportaudio2"
        ) from problem
    return sounddevice


def open_portaudio(device: str | None, rate: int, block: int, callback: Callback) -> Stream:
    """Open and start a PortAudio input stream.

    Raises:
        AudioUnavailable: no such device, or it can't be opened; says which and why.
    """
    sounddevice = load_sounddevice()
    try:
        stream = sounddevice.RawInputStream(
            samplerate=rate,
            blocksize=block,
            device=device,
            channels=1,
            dtype="int16",
            latency=0.1,
            callback=callback,
        )
        stream.start()
    except (sounddevice.PortAudioError, ValueError) as problem:
        named = f'microphone "{device}"' if device else "the default microphone"
        raise AudioUnavailable(
            f"{named} can't be opened: {problem}; inputs here: {_inputs(sounddevice)}"
        ) from problem
    return GuardedStream(stream, sounddevice)


class GuardedStream:
    """A PortAudio stream whose closing can't hang the job.

    When a sound server dies at the wrong moment, closing its stream never comes back (seen with
    PulseAudio 16 behind ALSA). Such a stream is left to itself, and PortAudio must then not be
    ended either, not even when the program ends: that would wait for the same stream.
    """

    stuck: ClassVar[bool] = False

    def __init__(self, stream: Any, sounddevice: Any) -> None:  # noqa: ANN401 - ship no types
        self._stream = stream
        self._sounddevice = sounddevice

    @property
    def active(self) -> bool:
        """Whether callbacks are to be expected."""
        return bool(self._stream.active)

    def close(self) -> None:
        """Close it, or leave it to itself when that takes too long."""
        closing = threading.Thread(target=self._stream.close, name="closing", daemon=True)
        closing.start()
        closing.join(_CLOSING_S)
        if closing.is_alive():
            GuardedStream.stuck = True
            atexit.unregister(self._sounddevice._exit_handler)  # noqa: SLF001 - it would hang


def _inputs(sounddevice: Any) -> str:  # noqa: ANN401 - the library ships no types
    names = [d["name"] for d in sounddevice.query_devices() if d["max_input_channels"] > 0]
    return ", ".join(names) or "none"


def rescan_devices() -> None:
    """Let PortAudio look for devices again. Kills every open stream of this process.

    When PortAudio can't start again now, opening a stream says so, and the next rescan tries anew.
    """
    if GuardedStream.stuck:
        return
    sounddevice = load_sounddevice()
    with contextlib.suppress(sounddevice.PortAudioError):  # it was not running: see above
        sounddevice._terminate()  # noqa: SLF001 - the only way; the device list is frozen otherwise
    with contextlib.suppress(sounddevice.PortAudioError):
        sounddevice._initialize()  # noqa: SLF001


@contextlib.contextmanager
def _libraries_silenced() -> Iterator[None]:
    """Keep ALSA's and PortAudio's own complaints off the screen.

    They write straight to the error output, several lines at every try, and a microphone that is
    away is tried every second: what the person has to read would be pushed out of sight.
    """
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


class Microphone:
    """A microphone chosen by name, None for the system's default.

    Args:
        device: the name or a part of it that only one device has.
        queue_s: how much sound waits for a slow reader before it is dropped.
        rescan: called at every third try to take a lost microphone back, with no stream of this
            microphone open. `rescan_devices` finds a device that was plugged in again, but kills
            every other open stream: close those first.
        opener: how a stream is opened.
        clock: monotonic seconds.

    Raises:
        AudioUnavailable: it can't be opened.
    """

    def __init__(
        self,
        device: str | None = None,
        *,
        queue_s: float = 10.0,
        rescan: Callable[[], None] | None = None,
        opener: Opener = open_portaudio,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.device = device
        self._opener = opener
        self._clock = clock
        self._rescan = rescan
        self._queue: queue.Queue[bytes] = queue.Queue(round(queue_s * RATE / FRAME_SAMPLES))
        self._deaf = False
        self._closed = False
        self._tries = 0
        self._tried_at = clock()
        self._heartbeat: float | None = None
        self.dropped = 0
        self.lost = False
        self._rate = RATE
        self._stream: Stream | None = self._open()

    def _open(self) -> Stream:
        self._opened_at = self._clock()
        self._heartbeat = None
        problem: AudioUnavailable | None = None
        for rate in _RATES:
            try:
                block = FRAME_SAMPLES * rate // RATE
                stream = self._opener(self.device, rate, block, self._arrived)
            except AudioUnavailable as refused:
                problem = problem or refused
            else:
                self._rate = rate
                self._down = ThirdRate()
                return stream
        raise problem or AudioUnavailable("no sample rate was tried")

    def _arrived(self, data: Any, _count: int, _times: Any, status: Any) -> None:  # noqa: ANN401
        """PortAudio's callback: copy, count, and nothing else."""
        self._heartbeat = self._clock()
        if self._deaf:
            return
        if status and status.input_overflow:
            self.dropped += 1
        try:
            self._queue.put_nowait(bytes(data))
        except queue.Full:
            self.dropped += 1

    def frames(self) -> Iterator[bytes]:
        """Frames as they come; empty ones while nothing comes. Ends when it is closed."""
        while not self._closed:
            try:
                block = self._queue.get(timeout=TICK_S)
            except queue.Empty:
                self._look_after()
                yield b""
                continue
            if self._stream is not None:  # a closing stream may still give its last blocks
                self.lost = False
            yield block if self._rate == RATE else self._down(block)

    def _look_after(self) -> None:
        """Nothing came: notice that it is lost, or try to take it back."""
        now = self._clock()
        if self._stream is not None and not self._alive(now):
            self.lost = True
            self._drop_stream()
        if self._stream is None and now - self._tried_at >= _RETRY_S and not self._closed:
            self._try_again()

    def _alive(self, now: float) -> bool:
        if self._stream is None or not self._stream.active:
            return False
        if self._heartbeat is None:
            return now - self._opened_at < _FIRST_S
        return now - self._heartbeat < _SILENT_S

    def _try_again(self) -> None:
        self._tried_at = self._clock()
        self._tries += 1
        with _libraries_silenced():
            if self._rescan is not None and self._tries % _RESCAN_EVERY == 0:
                self._rescan()
            try:
                self._stream = self._open()
            except AudioUnavailable:
                self._stream = None  # still away; `lost` says so until a stream gives sound again
            else:
                self._tries = 0

    def _drop_stream(self) -> None:
        stream, self._stream = self._stream, None
        self._tried_at = self._clock()
        if stream is not None:
            stream.close()

    def discard(self) -> None:
        """Forget what waits in the queue."""
        while True:
            try:
                self._queue.get_nowait()
            except queue.Empty:
                return

    @property
    def waiting_s(self) -> float:
        """Seconds of sound in the queue."""
        return self._queue.qsize() * FRAME_SAMPLES / RATE

    def deafen(self, deaf: bool) -> None:
        """While deaf, what arrives is not even queued."""
        self._deaf = deaf

    def close(self) -> None:
        """Give the device back; `frames` ends."""
        self._closed = True
        self._drop_stream()


class ThirdRate:
    """Brings 48 kHz down to 16 kHz, block by block, without a seam.

    A windowed-sinc low-pass (Blackman, 97 taps, cut-off 7.2 kHz) and every third sample of it.
    """

    def __init__(self) -> None:
        taps = 97
        at = np.arange(taps) - (taps - 1) / 2
        kernel = np.sinc(at * 2 * 7_200 / 48_000) * np.blackman(taps)
        self._kernel = kernel / kernel.sum()
        self._before = np.zeros(taps - 1)

    def __call__(self, block: bytes) -> bytes:
        """The block, whose length is a multiple of three samples, at a third of its rate."""
        samples = np.concatenate([self._before, np.frombuffer(block, dtype="<i2")])
        self._before = samples[-(len(self._kernel) - 1) :]
        low = np.convolve(samples, self._kernel, mode="valid")[::3]
        return bytes(np.clip(np.round(low), -32768, 32767).astype("<i2").tobytes())

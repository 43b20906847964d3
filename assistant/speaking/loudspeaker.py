"""The loudspeaker, through PortAudio: plays speech, can be cut, knows when the sound has ended.

The stream stays open between two utterances and plays silence: starting a device takes from tens
of milliseconds to two seconds, and some swallow the first word. PortAudio's thread calls `_fill`,
which only copies, counts and returns; every other method may wait and belongs to ordinary threads.
"""

from __future__ import annotations

import contextlib
import math
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from assistant.errors import AudioUnavailable
from assistant.speaking.speech import Speech

if TYPE_CHECKING:
    from numpy.typing import NDArray

LATENCY_S = 0.025
"""What is asked of the device: with two blocks more, a cut is heard within 50 ms."""

_CUT_S = 0.04  # a device that keeps more than this in store is emptied at a cut
_FADE_S = 0.005  # a cut without a click
_LEAD_S = 0.15  # of silence that a device must have taken before the first word
_START_S = 5.0  # how long it may take for that
_SILENT_S = 1.0  # a stream that has asked for nothing for so long is lost
_LOOK_S = 0.01  # how often a waiting `play` looks


class OutputStream(Protocol):
    """What is used of `sounddevice.RawOutputStream`."""

    active: bool
    latency: float

    def start(self) -> None:
        """Begin to call for samples."""

    def abort(self) -> None:
        """End at once; what is in store is not played."""

    def close(self) -> None:
        """Give the device back."""


class Sound(Protocol):
    """What is used of the module `sounddevice`; tests give their own."""

    PortAudioError: type[Exception]

    def query_devices(self, device: int | str | None, kind: str) -> Any:  # noqa: ANN401 - a dict
        """Return a device's properties, among them "default_samplerate"."""

    def check_output_settings(self, **settings: object) -> None:
        """Raise `PortAudioError` when the device doesn't take these settings."""

    def RawOutputStream(self, **settings: object) -> OutputStream:  # noqa: N802 - its name
        """Return a stream that is not started yet."""


@dataclass(frozen=True, slots=True)
class Played:
    """What came out of the loudspeaker.

    Attributes:
        seconds: how much of the speech was played.
        cut: whether it was cut short.
        began_mono: `time.monotonic` when the first sample sounded.
        ended_mono: `time.monotonic` when the last one had, the device's own delay included.
    """

    seconds: float
    cut: bool
    began_mono: float
    ended_mono: float


@dataclass(slots=True)
class _Job:
    """One speech on its way; `at` and the times belong to PortAudio's thread."""

    samples: NDArray[np.int16]  # shape (n, channels)
    at: int = 0
    began: float = math.nan
    ended: float = math.nan
    cut: bool = False


@dataclass(slots=True)
class _Open:
    """An open stream and its shape."""

    rate: int
    channels: int
    stream: OutputStream | None = None
    lost: threading.Event = field(default_factory=threading.Event)
    taken: int = 0  # samples the device has asked for
    asked: float = field(default_factory=time.monotonic)  # when it last did
    job: _Job | None = None
    fade: NDArray[np.float64] = field(init=False)

    def __post_init__(self) -> None:
        self.fade = np.linspace(1.0, 0.0, max(1, round(_FADE_S * self.rate)))[:, np.newaxis]


class Loudspeaker:
    """Plays one speech after another; opened when first needed, and again after a loss.

    Args:
        device: PortAudio's name or part of it (numbers change when devices are plugged), or None
            for the system's default.
        sound: the module `sounddevice`, imported when first needed, or a stand-in.

    Attributes:
        underflows: how often the device ran dry since it was opened first.
    """

    def __init__(self, device: str | int | None = None, sound: Sound | None = None) -> None:
        self.device = device
        self.underflows = 0
        self._sound = sound
        self._open: _Open | None = None
        self._one = threading.Lock()

    def open(self, rate: int = 22_050) -> None:
        """Open the device, so that the first word doesn't wait for it.

        Raises:
            AudioUnavailable: PortAudio or the device is missing or doesn't start.
        """
        with self._one:
            self._ready(rate)

    def play(self, speech: Speech, cut: threading.Event) -> Played:
        """Play it; return when the last sample has sounded, or has been cut.

        Args:
            speech: what to play.
            cut: set it from any thread to have silence within 50 ms.

        Raises:
            AudioUnavailable: PortAudio or the device is missing, or was lost while playing. The
                next call opens it again.
        """
        with self._one:
            if cut.is_set() or not speech.pcm:
                now = time.monotonic()
                return Played(0.0, cut.is_set(), now, now)
            opened = self._ready(speech.rate)
            mono = speech.at_rate(opened.rate).samples
            job = _Job(np.repeat(mono[:, np.newaxis], opened.channels, axis=1))
            opened.job = job
            while math.isnan(job.ended):
                if not job.cut and cut.wait(_LOOK_S):
                    self._cut(opened, job)
                elif job.cut:
                    time.sleep(_LOOK_S)
                self._watch(opened, _SILENT_S)
            time.sleep(max(0.0, job.ended - time.monotonic()))
            return Played(job.at / opened.rate, job.cut, job.began, job.ended)

    def close(self) -> None:
        """Give the device back; `play` would open it again."""
        with self._one:
            self._drop()

    @contextlib.contextmanager
    def apart(self) -> Iterator[bool]:
        """Keep the device closed while the block lasts, so that PortAudio can be started anew.

        Gives:
            False when something is being played: then nothing was closed, and it must not be.
        """
        if not self._one.acquire(blocking=False):
            yield False
            return
        try:
            self._drop()
            yield True
        finally:
            self._one.release()

    def _cut(self, opened: _Open, job: _Job) -> None:
        job.cut = True
        if opened.stream is not None and opened.stream.latency > _CUT_S:
            with self._translated():
                opened.stream.abort()  # throws away what the device has in store
                opened.lost.clear()
                opened.asked = time.monotonic()
                opened.stream.start()

    def _watch(self, opened: _Open, patience_s: float) -> None:
        """Notice a device that is gone.

        PortAudio tells of that in no certain way: the stream ends, or it just asks for no more.
        """
        alive = False
        with self._quietly():
            alive = opened.stream is not None and opened.stream.active and not opened.lost.is_set()
        if not alive or time.monotonic() - opened.asked > patience_s:
            self._drop()
            raise AudioUnavailable(f"the loudspeaker {self._name} was lost while it was in use")

    @property
    def _name(self) -> str:
        return "(the system's default)" if self.device is None else repr(self.device)

    def _ready(self, rate: int) -> _Open:
        """Return the open stream; opens it, or opens it again if it was lost while idle."""
        opened = self._open
        if opened is not None:
            try:
                self._watch(opened, _SILENT_S)
            except AudioUnavailable:
                opened = None
        if opened is None:
            opened = self._open = self._start(rate)
            while opened.taken < _LEAD_S * opened.rate:
                time.sleep(_LOOK_S)
                self._watch(opened, _START_S)
        return opened

    def _start(self, rate: int) -> _Open:
        with self._translated():
            sound = self._load()
            rate, channels = self._shape(sound, rate)
            opened = _Open(rate, channels)
            opened.stream = sound.RawOutputStream(
                device=self.device,
                samplerate=rate,
                channels=channels,
                dtype="int16",
                latency=LATENCY_S,
                callback=self._filler(opened),
                finished_callback=opened.lost.set,
            )
            try:
                opened.stream.start()
            except Exception:
                opened.stream.close()
                raise
        return opened

    def _shape(self, sound: Sound, rate: int) -> tuple[int, int]:
        """Return a rate in Hz and a count of channels that the device takes.

        The speech's own rate and one channel if it may be; else the device's rate, for which
        `Speech.at_rate` is better than what sound systems do, and the same everywhere.
        """
        own = int(sound.query_devices(self.device, "output")["default_samplerate"])
        tries = [(rate, 1), (rate, 2), (own, 1), (own, 2)]
        for tried in tries:
            last = tried == tries[-1]
            with contextlib.nullcontext() if last else contextlib.suppress(sound.PortAudioError):
                sound.check_output_settings(
                    device=self.device, samplerate=tried[0], channels=tried[1], dtype="int16"
                )
                return tried
        raise AssertionError("the last try returns or raises")  # pragma: no cover

    def _load(self) -> Sound:
        if self._sound is None:
            import sounddevice  # noqa: PLC0415 - fails where PortAudio is missing: only when needed

            self._sound = sounddevice
        return self._sound

    @contextlib.contextmanager
    def _translated(self) -> Iterator[None]:
        """Turn a foreign failure into ours; the one place where that happens."""
        try:
            yield
        except OSError as problem:
            raise AudioUnavailable(
                "PortAudio is not installed: on Linux install libportaudio2 (and for PulseAudio or "
                f"PipeWire libasound2-plugins): {problem}"
            ) from problem
        except Exception as problem:
            known = (ValueError, getattr(self._sound, "PortAudioError", ValueError))
            if not isinstance(problem, known):
                raise
            self._drop()
            raise AudioUnavailable(
                f"the loudspeaker {self._name} can't be opened; "
                f"is it plugged in and the sound server running? {problem}"
            ) from problem

    def _drop(self) -> None:
        """Close a stream, in whatever state it is."""
        opened, self._open = self._open, None
        if opened is None or opened.stream is None:
            return
        with self._quietly():
            opened.stream.abort()
        with self._quietly():
            opened.stream.close()

    def _quietly(self) -> contextlib.suppress:
        """Leave out a failure of a stream that may be gone already."""
        return contextlib.suppress(getattr(self._sound, "PortAudioError", OSError))

    def _filler(self, opened: _Open) -> Callable[[Any, int, Any, Any], None]:
        """Return what PortAudio calls for more samples."""

        def fill(out: Any, frames: int, times: Any, status: Any) -> None:  # noqa: ANN401 - untyped
            now = opened.asked = time.monotonic()
            opened.taken += frames
            self.underflows += bool(status.output_underflow)
            block = np.frombuffer(out, dtype=np.int16).reshape(frames, opened.channels)
            filled = _take(opened, block)
            if filled is None:
                return
            job, first, last, over = filled
            delay = times.outputBufferDacTime - times.currentTime
            if not 0 <= delay < _START_S and opened.stream is not None:
                delay = opened.stream.latency  # some drivers tell no times
            if first:
                job.began = now + delay
            if over:
                opened.job = None
                job.ended = now + delay + last / opened.rate

        return fill


def _take(opened: _Open, block: NDArray[np.int16]) -> tuple[_Job, bool, int, bool] | None:
    """Fill a block from the job, the rest with silence.

    Returns:
        The job, whether these are its first samples, how many of the block it filled, and whether
        they are its last; None when there is no job.
    """
    job = opened.job
    if job is None:
        block[:] = 0
        return None
    first = job.at == 0
    piece = job.samples[job.at : job.at + len(block)]
    if job.cut:
        piece = piece[: len(opened.fade)]
        block[: len(piece)] = piece * opened.fade[: len(piece)]
    else:
        block[: len(piece)] = piece
    block[len(piece) :] = 0
    job.at += len(piece)
    return job, first, len(piece), job.cut or job.at == len(job.samples)

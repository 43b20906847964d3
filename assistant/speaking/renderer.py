"""Words become speech: rendered in a child process, kept, and rendered ahead of need.

One worker thread talks to the child, one phrase at a time. What somebody waits for overtakes what
is rendered ahead; the longest it can wait for the phrase at work is about 20 ms on Linux.
"""

from __future__ import annotations

import contextlib
import itertools
import logging
import shutil
import tempfile
import threading
from collections import deque
from collections.abc import Iterable
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

import soundfile

from assistant.errors import BadInput, VoiceUnavailable
from assistant.speaking.cache import SpeechCache, cache_key, default_folder
from assistant.speaking.phrasing import check_words, pieces
from assistant.speaking.speech import Speech, join
from assistant.speaking.voice_process import Voice, VoiceFailed, VoiceProcess, find_voice

DEFAULT_VOICE = "en-us"
DEFAULT_RATE = 150
"""Words per minute: the slow end of ordinary speech (150 to 190; common practice, no source)."""

SLOWLY = 0.75
_RATES = range(80, 451)  # what eSpeak NG takes (espeakRATE_MINIMUM, espeakRATE_MAXIMUM)
_START_S = 30.0  # a cold start on a slow disk; 0.2 s is usual
_PAUSE_S = 0.30  # between two sentences, at the default rate

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Order:
    """One piece to be rendered; whoever wants it waits for `done`."""

    words: str
    rate: int
    done: Future[Speech] = field(default_factory=Future, compare=False)


class Renderer:
    """Renders words through pyttsx3 with a cache; any thread may call any method.

    Args:
        voice: id, name or language of a voice; None for American English.
        rate: words per minute, 80 to 450.
        cache: folder of rendered phrases; None for `cache.default_folder()`.
        patience_s: how long the child may take for one sentence before it is replaced.

    Attributes:
        restarts: how many children have been replaced.
        ahead_problem: why the last rendering ahead failed, or None; `render` would say the same.

    Raises:
        BadInput: the rate is not possible.
    """

    def __init__(
        self,
        voice: str | None = None,
        rate: int = DEFAULT_RATE,
        cache: Path | None = None,
        patience_s: float = 5.0,
    ) -> None:
        if rate not in _RATES:
            raise BadInput(
                f"a rate of {rate} words per minute is not possible: "
                f"{_RATES.start} to {_RATES.stop - 1} are"
            )
        self.voice = voice or DEFAULT_VOICE
        self.rate = rate
        self.restarts = 0
        self.ahead_problem: VoiceUnavailable | None = None
        self._cache = SpeechCache(default_folder() if cache is None else cache)
        self._patience_s = patience_s
        self._urgent: deque[_Order] = deque()
        self._ahead: deque[_Order] = deque()
        self._changed = threading.Condition()
        self._closing = False
        self._busy = False
        self._worker: threading.Thread | None = None
        self._process: VoiceProcess | None = None
        self._folder: Path | None = None
        self._numbers = itertools.count(1)
        self._asking = threading.Lock()  # held while the child is used

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def render(self, words: str, *, slowly: bool = False) -> Speech:
        """Return the words as speech; blocks until it is there.

        Args:
            words: worded for the ear: no digits, no symbols.
            slowly: at three quarters of the rate.

        Raises:
            ValueError: the words hold digits or symbols, or nothing to say.
            VoiceUnavailable: no voice here, not the one asked for, or it failed twice.
        """
        rate = self._words_per_minute(slowly=slowly)
        parts = [self._cached(piece, rate) or piece for piece in pieces(check_words(words))]
        orders = {part: _Order(part, rate) for part in parts if isinstance(part, str)}
        self._queue(self._urgent, orders.values())
        said = [orders[part].done.result() if isinstance(part, str) else part for part in parts]
        return join(said, _PAUSE_S * DEFAULT_RATE / rate)

    def ahead(self, texts: Iterable[str], *, slowly: bool = False) -> None:
        """Have these rendered in the background, in this order; returns at once.

        The newest call goes first: it is about what comes next. A failure is kept in
        `ahead_problem` and drops the rest, since `render` will meet and raise it.

        Args:
            texts: worded for the ear.
            slowly: as in `render`.

        Raises:
            ValueError: one of them holds digits or symbols, or nothing to say.
        """
        rate = self._words_per_minute(slowly=slowly)
        wanted = dict.fromkeys(piece for text in texts for piece in pieces(check_words(text)))
        orders = [_Order(piece, rate) for piece in wanted]
        known = {(order.words, order.rate) for order in orders}
        with self._changed:
            later = [order for order in self._ahead if (order.words, order.rate) not in known]
            self._ahead.clear()
            self._queue(self._ahead, [*orders, *later])

    def settle(self, patience_s: float | None = None) -> bool:
        """Wait until everything asked for has been rendered; False when that took too long."""
        with self._changed:
            return self._changed.wait_for(
                lambda: not (self._urgent or self._ahead or self._busy), patience_s
            )

    def list_voices(self) -> tuple[Voice, ...]:
        """Return every voice of this machine, in the driver's order.

        Raises:
            VoiceUnavailable: nothing here can speak.
        """
        with self._asking:
            return self._running().voices

    def close(self) -> None:
        """End the child and the background work; what is waited for fails at once."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
            process = self._process
        if process is not None:
            process.kill()
        if self._worker is not None:
            self._worker.join()
        with self._asking:
            if self._process is not None:
                self._process.close()
                self._process = None
            if self._folder is not None:
                shutil.rmtree(self._folder, ignore_errors=True)
                self._folder = None

    def _words_per_minute(self, *, slowly: bool) -> int:
        return max(_RATES.start, round(self.rate * SLOWLY)) if slowly else self.rate

    def _cached(self, piece: str, rate: int) -> Speech | None:
        return self._cache.get(cache_key(self.voice, rate, piece))

    def _queue(self, where: deque[_Order], orders: Iterable[_Order]) -> None:
        with self._changed:
            if self._closing:
                raise VoiceUnavailable("the voice has been closed")
            where.extend(orders)
            if where and self._worker is None:
                self._worker = threading.Thread(target=self._work, name="voice", daemon=True)
                self._worker.start()
            self._changed.notify_all()

    # What follows runs on the worker thread.

    def _work(self) -> None:
        while True:
            with self._changed:
                self._busy = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._closing or self._urgent or self._ahead)
                if self._closing:
                    break
                urgent = bool(self._urgent)
                order = (self._urgent or self._ahead).popleft()
                self._busy = True
            try:
                order.done.set_result(self._cached(order.words, order.rate) or self._make(order))
            except VoiceUnavailable as problem:
                order.done.set_exception(problem)
                if not urgent:
                    self._give_up_ahead(problem)
            except Exception as problem:  # whoever waits must get it, or would wait for ever
                log.exception("rendering failed")
                order.done.set_exception(problem)
        for order in self._urgent:
            order.done.set_exception(VoiceUnavailable("the voice has been closed"))

    def _give_up_ahead(self, problem: VoiceUnavailable) -> None:
        log.warning("not rendered ahead: %s", problem)
        with self._changed:
            self.ahead_problem = problem
            self._ahead.clear()

    def _make(self, order: _Order) -> Speech:
        """Render one piece and keep it; a child that fails is replaced and asked once more."""
        with self._asking:
            try:
                speech = self._ask(order)
            except VoiceFailed as first:
                log.warning("the voice is started again: %s", first)
                self._replace()
                try:
                    speech = self._ask(order)
                except VoiceFailed as second:
                    self._replace()
                    raise VoiceUnavailable(
                        f"the voice failed twice at {order.words!r}: {first}; then: {second}"
                    ) from second
        self._cache.put(cache_key(self.voice, order.rate, order.words), speech)
        return speech

    def _ask(self, order: _Order) -> Speech:
        process = self._running()
        voice = find_voice(process, self.voice)
        if voice is None:
            some = ", ".join(sorted({voice.language for voice in process.voices})[:200])
            raise VoiceUnavailable(
                f"no voice {self.voice!r} on this machine; there are voices for: {some}"
            )
        file = self._temporary() / f"{next(self._numbers)}.wav"
        try:
            process.save(order.words, voice.id, order.rate, file, self._patience_s)
            return _read(file)
        finally:
            with contextlib.suppress(OSError):  # a folder that is gone is nothing to clean up
                file.unlink(missing_ok=True)

    def _running(self) -> VoiceProcess:
        """Return the child, started if need be."""
        if self._process is None:
            with self._changed:
                if self._closing:
                    raise VoiceUnavailable("the voice has been closed")
            try:
                self._process = VoiceProcess(self._temporary(), _START_S)
            except (VoiceFailed, OSError) as problem:
                raise VoiceUnavailable(
                    "no speech synthesizer could be started; on Linux install the Python package "
                    f"espeakng-loader or the system's espeak-ng: {problem}"
                ) from problem
        return self._process

    def _replace(self) -> None:
        """End a child that failed; the next use starts another."""
        if self._process is not None:
            self._process.close()
            self._process = None
            self.restarts += 1

    def _temporary(self) -> Path:
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="gloveson-voice-"))
        return self._folder


def _read(file: Path) -> Speech:
    """Read the child's file (WAV, or AIFF on macOS): the first channel, without silence around."""
    try:
        samples, rate = soundfile.read(file, dtype="int16", always_2d=True)
    except (OSError, soundfile.SoundFileError) as problem:
        raise VoiceFailed(f"the rendered file can't be read: {problem}") from problem
    if not len(samples):
        raise VoiceFailed("the rendered file is empty")
    return Speech.from_samples(samples[:, 0], rate).trimmed()

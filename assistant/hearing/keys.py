"""Keys beside the voice: a keyboard, or a pedal that types like one."""

from __future__ import annotations

import io
import queue
import threading
from typing import TextIO


class KeyboardKeys:
    """Lines from a text stream, read in a thread of its own so that listening goes on.

    `line` is called by the thread that owns the job. When the stream ends, `ended` becomes true
    and no more lines come. Bytes that are no text come as a sign that no phrase has.

    Args:
        stream: None where the program has no input at all (a service); that has ended already.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self.ended = stream is None
        self._lines: queue.Queue[str | None] = queue.Queue()
        if stream is not None:
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")
            reader = threading.Thread(target=self._read, args=(stream,), name="keys", daemon=True)
            reader.start()

    def _read(self, stream: TextIO) -> None:
        try:
            for line in stream:
                self._lines.put(line.rstrip("\r\n"))
        finally:
            self._lines.put(None)

    def line(self, patience_s: float) -> str | None:
        """The next line typed, or None when there was none within the patience or ever again."""
        if self.ended:
            return None
        try:
            line = self._lines.get(timeout=patience_s) if patience_s else self._lines.get_nowait()
        except queue.Empty:
            return None
        self.ended = line is None
        return line

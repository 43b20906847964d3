"""An engine that decides nothing before the utterance is over."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.lines import Grammar


class Unhurried:
    """As the engine within, but it tells nothing while the utterance goes on.

    So the ear waits for the long silence after it.
    """

    def __init__(self, inner: Engine) -> None:
        self._inner = inner
        self.name, self.model = inner.name, inner.model
        self.unknown_words: Callable[[Iterable[str]], frozenset[str]] = inner.unknown_words
        self.use: Callable[[Grammar], None] = inner.use
        self.start, self.feed, self.finish = inner.start, inner.feed, inner.finish

    def partial(self) -> str:
        """Nothing yet."""
        return ""

    def glance(self) -> Recognized | None:
        """Nothing yet."""
        return None

"""The pronouncing dictionary that the pocketsphinx package carries, looked up in its file.

A decoder that loads it keeps all its 134,860 entries, 23 MB, of which a job says some hundreds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from assistant.errors import EngineUnavailable


class Dictionary:
    """Finds the words that are asked for; each is looked for once.

    Args:
        path: lines "word PH PH" and "word(2) PH PH" for the second way to say it, in UTF-8.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._looked_for: set[str] = set()

    def new(self, words: Iterable[str]) -> Iterator[tuple[str, str]]:
        """Entries of these words as the file has them, in its order, and their phones.

        A word that was asked for before has none any more. One pass over the file, 0.03 s.

        Raises:
            EngineUnavailable: the file can't be read.
        """
        wanted = set(words) - self._looked_for
        if not wanted:
            return
        try:
            with self._path.open(encoding="utf-8") as file:
                for line in file:
                    entry, _, phones = line.partition(" ")
                    if entry.partition("(")[0] in wanted and phones:
                        yield entry, phones.strip()
        except (OSError, UnicodeDecodeError) as problem:
            raise EngineUnavailable(
                f"pocketsphinx's dictionary {self._path} can't be read: {problem}"
            ) from problem
        self._looked_for |= wanted

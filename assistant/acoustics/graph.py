"""The decoding graph of a Vosk model whose phrases are given at run time.

`HCLr.fst` maps transitions to words: a tree of all pronunciations, each phone one looping state
with an optional blank behind it, back to a loop with optional silence. `[unk]` is a word that any
phones make, each at a price. `Gr.fst` is a loop over all words, which Vosk replaces by the phrases
it is given. The words are renumbered by OpenFst's `fstconvert`, which makes the looked-ahead form.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from assistant.acoustics.fst import Fst, read_pairs, write_const, write_vector
from assistant.acoustics.phones import CLASS, PHONES, Dictionary
from assistant.errors import BadInput

UNKNOWN: Final = "[unk]"
_KINDS: Final = {"B": "begin", "I": "internal", "E": "end", "S": "singleton"}
_NAMES: Final = ("SIL", "BLK_I", *(f"{phone}_{place}" for phone in PHONES for place in _KINDS))
_NUMBER: Final = {name: number for number, name in enumerate(_NAMES, start=1)}
ANSWERS: Final = (0, 0, *(CLASS[phone] for phone in PHONES for _ in _KINDS))
"""The network's output for each phone of the graph, from phone 1 on."""

_PRELOADED: Final = "libfstlookahead.so.22"


@dataclass(frozen=True, slots=True)
class Prices:
    """What paths cost, in natural logarithms.

    Attributes:
        unknown: each phone of "[unk]".
        enter: beginning "[unk]".
        blank: each answer that is no phone; `export` takes it off the network's answers. A
            network trained for a minute is so often unsure that silence would always win.
    """

    unknown: float = 3.5
    enter: float = 0.0
    blank: float = 0.0


def _on(name: str) -> int:
    return 2 * _NUMBER[name]


def _stay(name: str) -> int:
    return 2 * _NUMBER[name] - 1


class _Lexicon:
    """The graph while it grows; state 0 is the loop's start, 1 comes after optional silence."""

    def __init__(self, words: Sequence[str]) -> None:
        self.numbers = {word: number for number, word in enumerate([*words, UNKNOWN], start=1)}
        self.fst = Fst()
        self._loop, self._word, silence = (self.fst.state() for _ in range(3))
        self.fst.finals = {self._word: 0.0, silence: 0.0}
        self.fst.add(self._loop, (0, 0, 0.0, self._word))
        self.fst.add(self._loop, (_on("SIL"), 0, 0.0, silence))
        self.fst.add(silence, (_stay("SIL"), 0, 0.0, silence))
        self.fst.add(silence, (0, 0, 0.0, self._word))
        self._tree: dict[tuple[str, ...], tuple[int, ...]] = {(): (self._word,)}

    def _phone(self, sources: Iterable[int], name: str, price: float = 0.0) -> int:
        state = self.fst.state()
        for source in sources:
            self.fst.add(source, (_on(name), 0, price, state))
        self.fst.add(state, (_stay(name), 0, 0.0, state))
        return state

    def _blank(self, before: int) -> int:
        state = self.fst.state()
        self.fst.add(before, (_on("BLK_I"), 0, 0.0, state))
        self.fst.add(state, (_stay("BLK_I"), 0, 0.0, state))
        return state

    def _node(self, names: tuple[str, ...]) -> tuple[int, ...]:
        if names not in self._tree:
            phone = self._phone(self._node(names[:-1]), names[-1])
            ends = names[-1][-1] in "ES"
            self._tree[names] = (phone,) if ends else (phone, self._blank(phone))
        return self._tree[names]

    def add_word(self, word: str, phones: Sequence[str]) -> None:
        """One pronunciation of a word."""
        last = len(phones) - 1
        places = ["S"] if not last else ["B", *"I" * (last - 1), "E"]
        names = tuple(f"{phone}_{place}" for phone, place in zip(phones, places, strict=True))
        (end,) = self._node(names)
        arc = (0, self.numbers[word], 0.0, self._loop)
        if arc not in self.fst.arcs[end]:
            self.fst.add(end, arc)

    def add_unknown(self, prices: Prices) -> None:
        """Any phones at all, as the word `[unk]`."""
        first, inside = self.fst.state(), self.fst.state()
        self.fst.add(self._word, (0, self.numbers[UNKNOWN], prices.enter, first))
        for phone in PHONES:
            alone = self._phone([first], f"{phone}_S", prices.unknown)
            self.fst.add(alone, (0, 0, 0.0, self._loop))
            for source, place in ((first, "B"), (inside, "I")):
                state = self._phone([source], f"{phone}_{place}", prices.unknown)
                self.fst.add(state, (0, 0, 0.0, inside))
                self.fst.add(self._blank(state), (0, 0, 0.0, inside))
            end = self._phone([inside], f"{phone}_E", prices.unknown)
            self.fst.add(end, (0, 0, 0.0, self._loop))


def tools_missing() -> str:
    """What has to be installed to build a graph; empty when nothing."""
    return "" if shutil.which("fstconvert") else "OpenFst's fstconvert (Debian: libfst-tools)"


def _looked_ahead(folder: Path, fst: Fst) -> dict[int, int]:
    """Write HCLr.fst; returns which number became which."""
    if missing := tools_missing():
        raise BadInput(f"a graph can't be built without {missing}")
    plain, pairs = folder / "HCL.fst", folder / "pairs.txt"
    for arcs in fst.arcs:
        arcs.sort(key=lambda arc: arc[1])
    write_vector(plain, fst)
    command = ["env", f"LD_PRELOAD={_PRELOADED}", "fstconvert", "--fst_type=olabel_lookahead"]
    command += [f"--save_relabel_opairs={pairs}", str(plain), str(folder / "HCLr.fst")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - fixed
    if done.returncode:
        raise BadInput(f"fstconvert failed: {done.stderr.strip()}")
    numbers = read_pairs(pairs.read_text(encoding="ascii"))
    plain.unlink()
    pairs.unlink()
    return numbers


def build_graph(folder: Path, words: Iterable[str], dictionary: Dictionary, prices: Prices) -> None:
    """Write the graph folder of a model.

    Raises:
        BadInput: a word without a pronunciation, or the tool is missing or fails.
    """
    listed = sorted(set(words))
    if unknown := [word for word in listed if word not in dictionary]:
        raise BadInput(f"no pronunciation for: {', '.join(unknown[:10])}")
    (folder / "phones").mkdir(parents=True, exist_ok=True)
    lexicon = _Lexicon(listed)
    for word in listed:
        for way in dictionary[word]:
            lexicon.add_word(word, [phone.rstrip("012") for phone in way])
    lexicon.add_unknown(prices)
    renumbered = _looked_ahead(folder, lexicon.fst)
    names = {renumbered[number]: word for word, number in lexicon.numbers.items()}
    symbols = {0: "<eps>"} | dict(sorted(names.items()))
    loop = Fst(finals={0: 0.0})
    loop.state()
    for number in sorted(names):
        loop.add(0, (number, number, math.log(len(names)), 0))
    write_const(folder / "Gr.fst", loop, symbols, sorted_inputs=True)
    _lines(folder / "words.txt", (f"{name} {number}" for number, name in symbols.items()))
    phones = ("<eps>", *_NAMES)
    _lines(folder / "phones.txt", (f"{name} {number}" for number, name in enumerate(phones)))
    _lines(folder / "phones" / "word_boundary.int", (
        f"{number} {_boundary(name)}" for name, number in _NUMBER.items()))  # fmt: skip
    _lines(folder / "disambig_tid.int", [str(2 * len(_NAMES) + 1)])


def _boundary(name: str) -> str:
    return "nonword" if name == "SIL" else _KINDS[name[-1]]


def _lines(path: Path, lines: Iterable[str]) -> None:
    path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")

"""Fills a file with synthetic speech; several of these run side by side.

python -m assistant.acoustics.synthesize KIND PACK OUT --seconds S --seed N
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from assistant.acoustics.classic_voices import Espeak, Flite
from assistant.acoustics.phones import CLASS, Pronunciation
from assistant.acoustics.statistical_voices import Pico, RHVoice
from assistant.acoustics.texts import Words, phrase

Piece = tuple[npt.NDArray[np.int16], Sequence[int]]
Lexicon = dict[str, Pronunciation]

_CLASSIC: Final[dict[str, Callable[[Path], Any]]] = {
    "flite": Flite,
    "espeak": lambda folder: Espeak(folder / "libespeak-ng.so", folder),
    "pico": Pico,
    "rhvoice": RHVoice,
}


def read_pack(folder: Path) -> tuple[Words, Lexicon]:
    """The words to say and how to say them, as `pack` wrote them."""
    found = json.loads((folder / "words.json").read_text(encoding="utf-8"))
    lexicon = {word: tuple(ways.split()) for word, ways in found["lexicon"].items()}
    return Words(found["phrases"], found["common"], found["rare"]), lexicon


def neural(pack: Path, words: Words, lexicon: Lexicon, chance: random.Random) -> Iterator[Piece]:
    """Phrases of the neural voices, without end."""
    import torch  # noqa: PLC0415 - seconds to load, here only

    from assistant.acoustics.neural_voice import NeuralVoice, read_styles  # noqa: PLC0415

    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.set_num_threads(1)
    torch.backends.cuda.matmul.allow_tf32 = True
    alphabet = json.loads((pack / "alphabet.json").read_text(encoding="utf-8"))
    voice = NeuralVoice(pack / "neural.onnx", alphabet, read_styles(pack / "styles"), device)
    while True:
        texts = [phrase(words, chance) for _ in range(40)]
        said = [[lexicon[word] for word in text.split()] for text in texts]
        yield from ((piece.samples, piece.classes) for piece in voice.speak(said, chance))


def classic(kind: str, pack: Path, words: Words, lexicon: Lexicon, chance: random.Random,
            ) -> Iterator[Piece]:  # fmt: skip
    """Phrases of a synthesizer that is called in its shared library, without end."""
    from scipy.signal import resample_poly  # noqa: PLC0415 - here only

    voice: Any = _CLASSIC[kind](pack / kind)
    rate = getattr(voice, "rate", 16_000)
    common = math.gcd(rate, 16_000)
    while True:
        text = phrase(words, chance)
        sound = voice.speak(text, chance).astype(np.float64)
        if not len(sound) or not np.abs(sound).max():
            continue
        sound = resample_poly(sound, 16_000 // common, rate // common)
        whole = np.rint(sound / np.abs(sound).max() * 0.7 * 32767).astype(np.int16)
        yield whole, [CLASS[p.rstrip("012")] for word in text.split() for p in lexicon[word]]


def write(path: Path, pieces: Sequence[Piece]) -> None:
    """One file: all samples, where each piece ends, all classes, where each piece's end."""
    np.savez(
        path,
        samples=np.concatenate([piece[0] for piece in pieces]),
        ends=np.cumsum([len(piece[0]) for piece in pieces]),
        classes=np.concatenate([np.array(piece[1], np.uint8) for piece in pieces]),
        class_ends=np.cumsum([len(piece[1]) for piece in pieces]),
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Synthesize for a while."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("kind", choices=("neural", *_CLASSIC))
    parser.add_argument("pack", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, required=True, help="how long to work")
    parser.add_argument(
        "--most", type=float, default=1e9, help="stop at this many seconds of speech"
    )
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    words, lexicon = read_pack(given.pack)
    chance = random.Random(given.seed)  # noqa: S311 - no secrets
    ending = time.monotonic() + given.seconds
    made = (
        neural(given.pack, words, lexicon, chance)
        if given.kind == "neural"
        else classic(given.kind, given.pack, words, lexicon, chance)
    )
    pieces: list[Piece] = []
    length = 0.0
    for piece in made:
        pieces.append(piece)
        length += len(piece[0]) / 16_000
        if time.monotonic() > ending or length > given.most:
            break
    write(given.out, pieces)
    sys.stdout.write(f"{given.out.name}: {len(pieces)} pieces, {length / 60:.1f} min\n")


if __name__ == "__main__":
    main()

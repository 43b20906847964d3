"""Puts a trained network and a vocabulary together into a folder that Vosk loads.

python -m assistant.acoustics.export WEIGHTS FOLDER [--words FILE]
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import torch

from assistant.acoustics.features import CEPSTRA, OPTIONS
from assistant.acoustics.graph import ANSWERS, Prices, build_graph
from assistant.acoustics.kaldi import write_model
from assistant.acoustics.net import Net
from assistant.acoustics.phones import CLASSES, Dictionary
from assistant.acoustics.train import load
from assistant.acoustics.vocabulary import dictionary, vocabulary

_SETTINGS: Final = """--min-active=200
--max-active=3000
--beam=13.0
--lattice-beam=6.0
--phone-determinize=false
--acoustic-scale=1.0
--frame-subsampling-factor=3
--frames-per-chunk=51
--endpoint.silence-phones=1:2
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=1.0
--endpoint.rule4.min-trailing-silence=2.0
"""
"""Of Vosk's decoder. In lasting noise a lattice of some seconds took up to 12 s to make
deterministic by phones first; without that step 0.15 s, and of 142 tuning utterances 141 had the
same likeliest texts, with scores within 0.001."""


@torch.no_grad()
def export(
    net: Net,
    folder: Path,
    words: Iterable[str],
    pronunciations: Dictionary,
    prices: Prices,
) -> None:
    """Write a model folder.

    Args:
        net: trained.
        folder: made if it isn't there.
        words: the vocabulary.
        pronunciations: of at least these words.
        prices: of "[unk]" and of silence.

    Raises:
        BadInput: see `graph.build_graph`.
    """
    for place in ("am", "conf"):
        (folder / place).mkdir(parents=True, exist_ok=True)
    layers = list(net.eval().layers())
    price = np.zeros(CLASSES, np.float32)
    price[0] = prices.blank
    layers[-1] = replace(layers[-1], bias=layers[-1].bias - price)
    context = net.shape.before, net.shape.after
    write_model(folder / "am" / "final.mdl", ANSWERS, layers, CEPSTRA, context)
    (folder / "conf" / "mfcc.conf").write_text(OPTIONS, encoding="ascii")
    (folder / "conf" / "model.conf").write_text(_SETTINGS, encoding="ascii")
    build_graph(folder / "graph", words, pronunciations, prices)


def main(arguments: Sequence[str] | None = None) -> None:
    """Export once."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("weights", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--unknown", type=float, default=Prices().unknown)
    parser.add_argument("--blank", type=float, default=Prices().blank)
    given = parser.parse_args(arguments)
    known = dictionary()
    prices = Prices(unknown=given.unknown, blank=given.blank)
    export(load(given.weights)[0], given.folder, vocabulary(known), known, prices)


if __name__ == "__main__":
    main()

"""Recognisers by name, as the command line names them."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from assistant import packaged
from assistant.errors import BadInput
from assistant.hearing.engines import Engine
from assistant.language.grammar import Grammar, build_grammar

POCKETSPHINX = "pocketsphinx"
VOSK = "vosk"
PAIR = "pair"
SHIPPED_MODEL = "en-shop-1"
"""Our own small English Vosk model, inside the package; see assistant/acoustics/MODEL_CARD.md."""


def open_engine(name: str) -> Engine:
    """The recogniser named "pocketsphinx", "vosk:MODEL" or "pair", or "pair:MODEL".

    MODEL is a model's name or folder; "en-shop-1" and "pair" by itself mean the one that comes
    with the package. A pair is PocketSphinx and that model side by side.

    Raises:
        BadInput: no such engine or model.
        EngineUnavailable: it can't be loaded here.
    """
    kind, _, model = name.partition(":")
    if kind == POCKETSPHINX and not model:
        from assistant.hearing.engines.pocketsphinx_engine import (  # noqa: PLC0415 - 0.2 s to load
            PocketSphinxEngine,
        )

        return PocketSphinxEngine()
    if kind == PAIR:
        from assistant.hearing.engines.pair import PairEngine  # noqa: PLC0415 - as above

        return PairEngine(_model_folder(model or SHIPPED_MODEL))
    if kind == VOSK and model:
        from assistant.hearing.engines.vosk_engine import (  # noqa: PLC0415 - as above
            VoskEngine,
        )

        return VoskEngine(_model_folder(model))
    msg = f'no engine "{name}"; write pocketsphinx, pair, or vosk:MODEL with a model name or folder'
    raise BadInput(msg)


def _model_folder(model: str) -> Path:
    """A model of the package, or one that `gloveson model` knows."""
    if model == SHIPPED_MODEL:
        return Path(str(files("assistant.hearing"))) / "data" / "models" / SHIPPED_MODEL
    from assistant.hearing.models import find_model  # noqa: PLC0415 - loads the engine's room

    return find_model(model)


def whole_grammar(language: str) -> Grammar:
    """Everything that can ever be said in a language, for finding words an engine lacks.

    Raises:
        BadInput: the program doesn't speak this language.
    """
    book = packaged.phrasebook(language)
    try:
        filled = {"read_back": packaged.stop_texts(language).read_backs()}
    except BadInput:  # a phrasebook for trials alone has no safety texts
        filled = {}
    return build_grammar(book, book.sayable(filled), filled)

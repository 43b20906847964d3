"""Recognisers by name, as the command line names them."""

from __future__ import annotations

from assistant import packaged
from assistant.errors import BadInput
from assistant.hearing.engines import Engine
from assistant.language.grammar import Grammar, build_grammar

POCKETSPHINX = "pocketsphinx"
VOSK = "vosk"


def open_engine(name: str) -> Engine:
    """The recogniser named "pocketsphinx", or "vosk:MODEL" with a model's name or folder.

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
    if kind == VOSK and model:
        from assistant.hearing.engines.vosk_engine import (  # noqa: PLC0415 - as above
            VoskEngine,
        )
        from assistant.hearing.models import find_model  # noqa: PLC0415 - as above

        return VoskEngine(find_model(model))
    msg = f'no engine "{name}"; write pocketsphinx, or vosk:MODEL with a model name or folder'
    raise BadInput(msg)


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

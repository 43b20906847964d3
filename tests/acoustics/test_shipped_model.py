"""The model that comes with the package, in the real recogniser."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
import soundfile

from assistant.engines import SHIPPED_MODEL, open_engine, whole_grammar
from assistant.hearing.engines import Engine
from assistant.trial.phrases import of_list

_FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
_MODEL = Path(__file__).parents[2] / "assistant/hearing/data/models" / SHIPPED_MODEL
_PHRASES = (
    "step complete", "say again", "what torque", "affirm", "negative", "stand by", "carry on",
    "hold everything", "report trouble", "fluid leak", "correction", "disregard",
)  # fmt: skip


@pytest.fixture(scope="module")
def engine() -> Engine:
    """The shipped model, loaded once."""
    return open_engine(f"vosk:{SHIPPED_MODEL}")


def _clips(voice: str) -> list[tuple[str, bytes]]:
    with (_FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["speaker"] == voice]
    found = []
    for row in rows:
        if row["transcript"] in _PHRASES:
            samples, _ = soundfile.read(_FIXTURES / row["file"], dtype="int16")
            found.append((row["transcript"], samples.tobytes()))
    return found


def test_it_knows_every_word_of_the_phrasebook(engine: Engine) -> None:
    """Nothing in the phrasebook can go unheard for want of a word."""
    assert engine.unknown_words(whole_grammar("en").words()) == frozenset()


def test_it_is_small_enough_to_ship() -> None:
    """The whole folder stays under 8 MB."""
    assert sum(path.stat().st_size for path in _MODEL.rglob("*")) < 8_000_000


@pytest.mark.parametrize("voice", ["flite-rms", "espeak-f2"])
def test_voices_that_it_never_met_are_heard(engine: Engine, voice: str) -> None:
    """Of a dozen phrases by a voice that was not trained on, at most one is not heard right."""
    grammar = of_list("\n".join(_PHRASES), "test", "en").unrelated()
    engine.use(grammar)
    right = 0
    clips = _clips(voice)
    for words, pcm in clips:
        engine.start()
        engine.feed(pcm)
        right += engine.finish().text == words
    assert len(clips) == len(_PHRASES)
    assert right >= len(_PHRASES) - 1


def test_noise_is_no_phrase(engine: Engine) -> None:
    """A clip of a phrase that isn't admitted comes out as none of those that are."""
    engine.use(of_list("step complete\nwhat torque", "test", "en").unrelated())
    for words, pcm in _clips("flite-rms"):
        if words in {"step complete", "what torque"}:
            continue
        engine.start()
        engine.feed(pcm)
        assert engine.finish().text not in {"step complete", "what torque"}

"""Field log, replayed through the ear: words not meant, other bays, lost and perfect silence."""

from __future__ import annotations

import atexit
from functools import cache

import numpy as np
import pytest

from assistant.cli.live import check_words
from assistant.engines import open_engine
from assistant.errors import UnknownWords
from assistant.hearing.ear import FAR_OFF, Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.masking import FAR_DB
from assistant.hearing.noise import active_level_db, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.source import RATE, PcmSource
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.phrasebook import extend
from assistant.opening import setting_of, words_of
from assistant.packaged import phrasebook
from assistant.sounding import addition_findings
from tests.bays import shop
from tests.hearing.clips import clip
from tests.job.bench import at_step, setting

NEAR = -24.0


ENGINES = ("pair", "pocketsphinx")
"""What listens by default, and what works without a model of ours."""


@cache
def _engine(name: str = "pocketsphinx") -> Engine:
    return open_engine(name)


# Vosk's own destructors need its module, so its recognizers must go before the interpreter does.
atexit.register(_engine.cache_clear)


@cache
def _step() -> Grammar:
    """What the bay listens for at an open step."""
    return shop(spoken=True, state=at_step("wipe-down").state).bay.grammar()


def _said(*lines: tuple[str, float]) -> bytes:
    """Lines at these levels, with pauses, in a quiet room."""
    pieces = [np.zeros(RATE)]
    for words, level in lines:
        spoken = from_pcm(clip(words))
        gain = 10 ** ((level - active_level_db(spoken, RATE)) / 20)
        pieces += [spoken * gain, np.zeros(int(1.5 * RATE))]
    whole = np.concatenate(pieces)
    return to_pcm(whole + at_level_db(pink(len(whole), 2), -70.0))


def _heard(pcm: bytes, grammar: Grammar, engine: str) -> list[Heard]:
    ear = Ear(PcmSource(pcm), _engine(engine))
    found: list[Heard] = []
    while True:
        heard = ear.hear(grammar)
        if isinstance(heard, Nothing):
            return found
        found.append(heard)


@pytest.mark.parametrize("engine", ENGINES)
def test_a31_full_confidence_in_the_wrong_word(engine: str) -> None:
    """Caught when decoded: words that are no phrase here are never taken for one that is."""
    book = phrasebook("en")
    steps = build_grammar(book, ["step_done", "go_back", "stand_by", "freeze", "affirm"])
    others = ("customer declined it", "another kind of trouble", "inspected and not needed")
    heard = _heard(_said(*((words, NEAR) for words in others)), steps, engine)
    assert len(heard) == len(others)
    assert [one.verdict for one in heard] == ["unclear"] * len(others)
    assert all(one.intent is None for one in heard)


@pytest.mark.parametrize("engine", ENGINES)
def test_a32_a_voice_from_another_bay(engine: str) -> None:
    """Caught by its level: the very words, but far under this person's voice, are asked again."""
    lines = [("where are we", NEAR), ("what torque", NEAR), ("what size", NEAR)]
    far = ("what torque", NEAR - FAR_DB - 6)
    heard = _heard(_said(*lines, far), _step(), engine)
    assert [one.verdict for one in heard] == [*["accepted"] * 3, "unclear"]
    assert heard[-1].why == FAR_OFF


def test_a38_the_tail_of_a_shop_s_own_phrase_is_named() -> None:
    """Caught by `check`: a refusal whose tail is a command is told with both phrases."""
    book = phrasebook("en")
    text = 'language: en\nintents:\n  freeze: ["do not carry on"]\n'
    found = list(addition_findings(book, extend(book, text, "f"), {}, "f"))
    assert any('"carry on"' in one.message and '"do not carry on"' in one.message for one in found)


def test_a39_a_name_that_no_model_has_seen() -> None:
    """Prevented at the start: the job is not begun, and the phrase that can't be heard is named."""
    plan = setting().plan
    with pytest.raises(UnknownWords, match=r"hand over to <name>.*xqzkw"):
        check_words(_engine(), setting_of(plan, {"mara": "Mara", "x": "Xqzkw"}), words_of("en"))


def test_a40_silence_that_is_too_perfect() -> None:
    """Caught when the sound stops being sound: said and shown, the job waits, keys work."""
    ear = Ear(PcmSource(bytes(RATE * 2 * 5), tail_s=0.0), _engine())
    assert ear.hear(_step()) == Nothing("dead")
    made = shop(typed=True, spoken=True, state=at_step("wipe-down").state).work()
    assert made.ear is not None
    made.ear.say(Nothing("dead"))
    made.bay.turn(0.0)
    assert made.mouth.texts[-1].startswith("The microphone gives no sound at all.")
    assert made.shown[-1].startswith("The microphone gives no sound at all.")
    assert made.step() == "wipe-down"
    made.type("where are we")
    assert made.events() == ["where_are_we"]

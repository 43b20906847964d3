"""PocketSphinx, the real one, on spoken fixtures of a voice that it was not tuned on."""

from __future__ import annotations

import itertools

import pytest

from assistant.errors import EngineUnavailable, UnknownWords
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.room import Room
from assistant.hearing.source import FRAME_BYTES, RATE, room_tone
from assistant.packaged import phrasebook
from assistant.soundcheck.run import grammar_of
from tests.hearing.clips import clip
from tests.hearing.phrases import Phrases

SAID = ("step complete", "what torque", "say again slowly", "hold everything", "stand by")
DIGITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
PHRASES = Phrases.of(*SAID, "say again", "carry on", "what size", "negative", "smell of fuel")


@pytest.fixture(scope="module")
def engine() -> PocketSphinxEngine:
    """One engine for all tests here: loading it takes a while."""
    return PocketSphinxEngine()


def _hear(engine: PocketSphinxEngine, pcm: bytes) -> Recognized:
    sound = room_tone(6_400) + pcm + room_tone(8_000)
    engine.start()
    for at in range(0, len(sound), FRAME_BYTES):
        engine.feed(sound[at : at + FRAME_BYTES])
    return engine.finish()


@pytest.mark.parametrize("words", SAID)
def test_commands_are_heard(engine: PocketSphinxEngine, words: str) -> None:
    """A clearly spoken command is recognised, and nearly all decodings agree on it."""
    engine.use(PHRASES)
    heard = _hear(engine, clip(words))
    assert heard.text == words
    assert heard.details["agreement"] >= 0.8


@pytest.mark.parametrize("speaker", ["flite-rms", "neural-nezumi", "espeak-f2"])
def test_the_first_command_is_heard_as_well(speaker: str) -> None:
    """A recogniser that has heard nothing yet finds the words among the whole phrasebook's."""
    fresh = PocketSphinxEngine()
    fresh.use(grammar_of(phrasebook("en")))
    assert _hear(fresh, clip("report trouble", speaker)).text == "report trouble"


def test_partial_results_grow_to_the_phrase(engine: PocketSphinxEngine) -> None:
    """While a phrase is being said, what is known so far is told, and at its end all of it."""
    engine.use(PHRASES)
    sound = clip("say again slowly") + room_tone(8_000)
    engine.start()
    partials = []
    for at in range(0, len(sound), FRAME_BYTES):
        engine.feed(sound[at : at + FRAME_BYTES])
        partials.append(engine.partial())
    engine.finish()
    assert partials[-1] == "say again slowly"
    assert len(set(partials)) > 2


def test_grammar_in_force_is_the_one_last_used(engine: PocketSphinxEngine) -> None:
    """Another grammar admits other phrases only; the first, used again, works as before."""
    engine.use(PHRASES)
    assert _hear(engine, clip("stand by")).text == "stand by"
    engine.use(Phrases.of("negative", "what torque"))
    assert _hear(engine, clip("stand by")).text != "stand by"
    engine.use(PHRASES)
    assert _hear(engine, clip("stand by")).text == "stand by"


def test_many_grammars_do_not_pile_up(engine: PocketSphinxEngine) -> None:
    """Compiled grammars are dropped, oldest first, and made anew when they come again."""
    engine.use(PHRASES)
    for words in itertools.combinations(DIGITS, 3):
        engine.use(Phrases.of(*words))
    assert len(engine._searches) <= 2
    engine.use(PHRASES)
    assert _hear(engine, clip("what torque")).text == "what torque"


def test_unknown_words_are_named_with_their_phrases(engine: PocketSphinxEngine) -> None:
    """A word without a pronunciation is an error that names every phrase that holds it."""
    with pytest.raises(UnknownWords) as caught:
        engine.use(Phrases.of("step complete", "loosen the zorbleflange", "zorbleflange"))
    assert caught.value.unknown == {
        "loosen the zorbleflange": ("zorbleflange",),
        "zorbleflange": ("zorbleflange",),
    }


def test_given_pronunciation_makes_a_word_known(engine: PocketSphinxEngine) -> None:
    """A word that the dictionary lacks is heard once its sounds are given.

    The made-up word is spelled with the sounds of "what torque", so the clip of that must match.
    """
    words = Phrases.of("whuttork", "negative", "step complete")
    taught = Phrases(words.intents, words.costs, pronunciations={"whuttork": ("W AH T T AO R K",)})
    engine.use(taught)
    assert _hear(engine, clip("what torque")).text == "whuttork"


def test_other_languages_are_refused(engine: PocketSphinxEngine) -> None:
    """Its model is English, so a grammar of another language is refused with a way out."""
    with pytest.raises(EngineUnavailable, match="Vosk"):
        engine.use(Phrases.of("oui", language="fr"))


def test_bad_grammar_is_refused_in_our_words(
    engine: PocketSphinxEngine, capfd: pytest.CaptureFixture[str]
) -> None:
    """A grammar that can't be compiled is our error, and the library's log stays quiet."""

    class Broken(Phrases):
        def jsgf(self) -> str:
            return "#JSGF V1.0;\ngrammar x;\npublic <command> = (say again;\n"

    with pytest.raises(EngineUnavailable, match="refuses the grammar"):
        engine.use(Broken.of("say again"))
    assert capfd.readouterr() == ("", "")


def test_noise_alone_gives_no_confident_command(engine: PocketSphinxEngine) -> None:
    """Two seconds of noise get no agreement of all decodings on a command."""
    engine.use(PHRASES)
    for kind in ("white", "pink", "engine"):
        sound = b"".join(itertools.islice(Room(kind, 0.0).frames(), 62))
        heard = _hear(engine, sound)
        assert heard.confidence < 0.8, (kind, heard)


def test_the_longest_utterance_after_short_ones_is_followed() -> None:
    """What is longer than all that was decoded as a whole before is still followed to its end.

    The library's buffers grow with what is decoded as a whole; without room made at the start an
    utterance of 6.46 s after nineteen of at most 6.27 s crashed the program, each time anew.
    """
    engine = PocketSphinxEngine()
    engine.use(Phrases.of("step complete", "what torque"))
    for _ in range(2):
        engine.start()
        engine.feed(clip("what torque"))
        engine.finish()
    engine.start()
    said = room_tone(RATE // 2) + clip("step complete")
    long = (said * (12 * RATE * 2 // len(said) + 1))[: 12 * RATE * 2]
    for at in range(0, len(long), FRAME_BYTES):
        engine.feed(long[at : at + FRAME_BYTES])
    assert engine.partial() in {"step complete", "what torque"}

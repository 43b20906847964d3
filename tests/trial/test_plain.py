"""Engines driven plainly, with PocketSphinx as the real one."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest

from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.ear import Heard, Nothing
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.phrases import vosk_list
from assistant.hearing.noise import from_pcm
from assistant.hearing.source import FRAME_S, RATE
from assistant.trial.bench import Bench
from assistant.trial.listeners import Listener, Ours, Plain
from assistant.trial.phrases import of_list
from assistant.trial.plain import LibraryCut, PlainPocketSphinx, plain_listener
from assistant.trial.sound import CLEAN, Scene, make_scene
from tests.hearing.clips import FIXTURES, clip
from tests.hearing.fakes import Parrot
from tests.trial.clips import row, silence

GRAMMAR = of_list("stand by\ncarry on\nwhat size\nsay again\n", "words.txt", "en").unrelated()


def bench(words: str) -> Bench:
    """A bench that plays a fixture."""
    one = row(transcript=words)
    path = FIXTURES / f"en/flite-rms/{words.replace(' ', '-')}.flac"
    made = Bench()
    made.play(make_scene(type(one)(path, "command", words, "flite-rms"), CLEAN, None))
    return made


def first(listener: Listener, patience_s: float = 5.0) -> Heard | Nothing:
    """The first thing that a listener hears."""
    return listener.hear(GRAMMAR, patience_s)


def test_plain_pocketsphinx_hears_a_clean_phrase() -> None:
    """A clean synthetic phrase is heard by the library alone, with its own endpointing."""
    heard = first(PlainPocketSphinx(bench("carry on")))
    assert isinstance(heard, Heard)
    assert (heard.text, heard.verdict) == ("carry on", "accepted")


def test_plain_pocketsphinx_takes_other_speech_for_a_phrase() -> None:
    """Without rejection a strict grammar makes a phrase of anything: what it is there to show."""
    heard = first(PlainPocketSphinx(bench("take a note")))
    assert isinstance(heard, Heard)
    assert heard.intent is not None


def test_our_ear_refuses_what_the_plain_engine_takes() -> None:
    """The same sound and phrases through our path: nothing is acted on."""
    heard = first(Ours("pocketsphinx")(bench("take a note"), ""))
    assert isinstance(heard, Heard)
    assert heard.intent is None


def test_silence_is_waited_for_no_longer_than_patience() -> None:
    """Nothing said: the library's endpointer finds nothing, the wait ends."""
    quiet = Bench()
    quiet.play(Scene(silence(2.0), silence(1.0), 0.0))
    assert first(Plain("pocketsphinx")(quiet, ""), 1.0) == Nothing("silence")


def chatter() -> Bench:
    """A bench that plays a phrase in a room where speech never pauses."""
    pcm = from_pcm(clip("what size"))
    voiced = pcm[np.abs(pcm) > 0.01]
    one = Bench()
    one.play(Scene(np.resize(voiced, 2 * RATE), from_pcm(clip("carry on")), 0.5))
    return one


def until(one: Bench, limit_s: float) -> Callable[[], bool]:
    """Says no from so long after the clip on."""
    return lambda: one.after_clip_s < limit_s


@pytest.mark.parametrize("engine", ["pocketsphinx", "vosk:en-shop-1", "parrot"])
def test_what_never_ends_is_ended_where_it_is_asked_to(engine: str) -> None:
    """The answer comes with the frame after which nobody waits any longer."""
    one = chatter()
    if engine == "parrot":
        listener: Listener = LibraryCut(one, Parrot([Recognized("carry on", 0.9)]))
    else:
        listener = Plain(engine)(one, "")
    heard = listener.hear(GRAMMAR, None, until(one, 1.0))
    assert isinstance(heard, Heard)
    assert 1.0 <= one.after_clip_s < 1.0 + 1.5 * FRAME_S


def test_where_nothing_is_said_nothing_is_answered() -> None:
    """Silence when it is asked to end: nobody was heard."""
    for engine in ("pocketsphinx", "vosk:en-shop-1"):
        quiet = Bench()
        quiet.play(Scene(silence(2.0), silence(1.0), 0.0))
        heard = Plain(engine)(quiet, "").hear(GRAMMAR, None, until(quiet, 0.0))
        assert heard == Nothing("stopped")


def test_without_endpointing_too_long_is_no_phrase() -> None:
    """Behind our bars a piece of twelve seconds is not looked through, as in our ear."""
    parrot = Parrot([Recognized("carry on", 0.9)])
    bars = shipped_bars()["pair"]
    heard = LibraryCut(chatter(), parrot, bars).hear(GRAMMAR, 0.8)
    assert isinstance(heard, Heard)
    assert (heard.intent, heard.text) == (None, "")


def test_vosk_gets_its_word_for_other_speech() -> None:
    """As in the list of its own example, where the model knows that word."""
    phrases = GRAMMAR.vosk_phrases()
    assert json.loads(vosk_list(phrases, rejects=True)) == [*phrases, "[unk]"]
    assert json.loads(vosk_list(phrases, rejects=False)) == [*phrases]


def test_any_other_engine_is_driven_behind_the_library_endpointer() -> None:
    """An engine that has no plain way of its own gets the pieces, and its words count as such."""
    parrot = Parrot([Recognized("stand by", 0.0)])
    listener = plain_listener(bench("carry on"), "parrot", parrot)
    assert isinstance(listener, LibraryCut)
    heard = first(listener)
    assert isinstance(heard, Heard)
    assert heard.intent is not None
    spoken = len(from_pcm(clip("carry on"))) / 16_000
    assert 0.5 * spoken < len(b"".join(parrot.heard)) / 32_000 < spoken + 0.7

"""When what was said is over."""

from __future__ import annotations

import pytest

from assistant.hearing.ear import Ear, Heard
from assistant.hearing.engines import Recognized
from assistant.hearing.source import FRAME_S
from assistant.language.intent import Cost
from tests.hearing.fakes import QUIET, VOICE, Parrot, Tape, voiced
from tests.hearing.phrases import Phrases

PAUSE = [QUIET] * 40
SURE = Recognized("what size", 1.0)


def _heard(
    glance: Recognized | None,
    frames: list[bytes],
    grammar: Phrases,
    said: Recognized = SURE,
) -> tuple[Heard, Parrot]:
    parrot = Parrot([said], glance)
    heard = Ear(Tape(frames), parrot, detector=voiced).hear(grammar)
    assert isinstance(heard, Heard)
    return heard, parrot


def _one_word(grammar: Phrases, glance: Recognized | None = SURE) -> Heard:
    return _heard(glance, [*PAUSE, *[VOICE] * 12, *PAUSE], grammar)[0]


@pytest.mark.parametrize(
    ("cost", "most_s"),
    [
        (Cost.QUESTION, 0.064),
        (Cost.CONTROL, 0.064),
        (Cost.VALUE, 0.13),
        (Cost.CONFIRMATION, 0.17),
        (Cost.READ_BACK, 0.26),
    ],
)
def test_who_is_sure_decides_soon_and_later_the_dearer(cost: Cost, most_s: float) -> None:
    """An engine that is sure already ends the wait, after a silence that its cost asks for."""
    heard = _one_word(Phrases.of("what size", cost=cost))
    assert heard.intent is not None
    assert heard.decided_s - heard.ended_s == pytest.approx(most_s, abs=0.02)


def test_who_is_not_quite_sure_waits_a_little() -> None:
    """What would be accepted without being certain is decided after an ordinary short silence."""
    heard = _one_word(Phrases.of("what size"), Recognized("what size", 0.9))
    assert heard.decided_s - heard.ended_s == pytest.approx(0.13, abs=0.02)


@pytest.mark.parametrize("cost", [Cost.QUESTION, Cost.CONTROL, Cost.VALUE])
def test_what_a_glance_doubts_is_heard_as_a_whole_at_once(cost: Cost) -> None:
    """A phrase that a glance isn't sure of is decided by all the evidence, just as soon."""
    heard = _one_word(Phrases.of("what size", cost=cost), Recognized("what size", 0.1))
    assert heard.confidence == SURE.confidence
    assert heard.decided_s - heard.ended_s == pytest.approx(0.13, abs=0.02)


def test_the_whole_is_not_believed_at_once_where_it_is_dear() -> None:
    """A glance at a cheap phrase never makes a dear one decided sooner than by itself."""
    grammar = Phrases.of("what size", "fuel isolated")
    grammar.costs["fuel_isolated"] = Cost.READ_BACK
    frames, doubt = [*PAUSE, *[VOICE] * 12, *PAUSE], Recognized("what size", 0.1)
    heard, _ = _heard(doubt, frames, grammar, Recognized("fuel isolated", 1.0))
    assert heard.intent is not None
    assert heard.decided_s - heard.ended_s > 0.44


def test_what_the_whole_leaves_in_doubt_is_not_heard_again() -> None:
    """A result that is not accepted waits for the end of the silence, and is the result then."""
    doubt = Recognized("what size", 0.2)
    frames = [*PAUSE, *[VOICE] * 12, *PAUSE]
    parrot = Parrot([doubt, SURE], doubt)
    heard = Ear(Tape(frames), parrot, detector=voiced).hear(Phrases.of("what size"))
    assert isinstance(heard, Heard)
    assert (heard.intent, heard.confidence) == (None, 0.2)
    assert len(parrot.heard) == 1


def test_who_goes_on_after_the_whole_was_heard_is_heard_from_the_beginning() -> None:
    """The engine begins anew with all the sound so far, and the first result is forgotten."""
    doubt = Recognized("what size", 0.2)
    frames = [*PAUSE, *[VOICE] * 12, *[QUIET] * 6, *[VOICE] * 12, *PAUSE]
    parrot = Parrot([doubt, SURE], doubt)
    heard = Ear(Tape(frames), parrot, detector=voiced).hear(Phrases.of("what size"))
    assert isinstance(heard, Heard)
    assert heard.confidence == SURE.confidence
    assert len(parrot.heard) == 2
    assert parrot.heard[-1] == heard.clip


def test_who_is_not_sure_waits() -> None:
    """A glance that would not be accepted changes nothing, nor one at no phrase at all."""
    grammar = Phrases.of("what size", cost=Cost.CONFIRMATION)
    for glance in (Recognized("what size", 0.1), Recognized("what sighs", 1.0), None):
        heard = _one_word(grammar, glance)
        assert heard.decided_s - heard.ended_s > 0.4


def test_a_phrase_that_may_go_on_waits_longer() -> None:
    """A phrase that another one extends waits for it; a number waits for the long silence."""
    grammar = Phrases.of("say again", "say again slowly", cost=Cost.QUESTION)
    heard = _one_word(grammar, Recognized("say again", 1.0))
    assert 0.4 <= heard.decided_s - heard.ended_s < 0.45
    number = Phrases.of("two", "two hundred", cost=Cost.VALUE)
    heard, _ = _heard(
        Recognized("two", 1.0),
        [*PAUSE, *[VOICE] * 12, *PAUSE],
        number,
        Recognized("two", 1.0),
    )
    assert heard.decided_s - heard.ended_s > 0.8


def test_what_was_thought_in_a_pause_is_forgotten_when_speech_goes_on() -> None:
    """A glance in a pause within a phrase is no decision about what comes after it."""
    grammar = Phrases.of("what size", cost=Cost.READ_BACK)
    frames = [*PAUSE, *[VOICE] * 12, *[QUIET] * 5, *[VOICE] * 12, *PAUSE]
    heard, parrot = _heard(SURE, frames, grammar)
    assert parrot.glances >= 2
    assert heard.ended_s > (40 + 12 + 5 + 11) * FRAME_S


def test_a_glance_is_taken_once_in_a_silence_of_its_length() -> None:
    """The work is not done again at each frame."""
    _, parrot = _heard(
        Recognized("what size", 0.1), [*PAUSE, *[VOICE] * 12, *PAUSE], Phrases.of("what size")
    )
    assert parrot.glances == 2


def test_a_long_talk_is_not_looked_into() -> None:
    """Somebody who talks on for seconds says no phrase: its pauses cost no work, nor its end.

    Five frames of silence are looked at twice, and only four such pauses lie in the first seconds.
    """
    talk = [*PAUSE, *([*[VOICE] * 40, *[QUIET] * 5] * 8), *PAUSE]
    _, parrot = _heard(SURE, talk, Phrases.of("what size", cost=Cost.READ_BACK))
    assert parrot.glances == 8

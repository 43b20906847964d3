"""What takes say about an utterance, with a held-out fixture voice."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.hearing.enrollment.evidence import enrolled, nearness, too_alike
from assistant.hearing.enrollment.spectrum import (
    CEPSTRA,
    DIMENSIONS,
    Frames,
    mel_powers,
    shipped_metric,
    take_of,
)
from assistant.hearing.noise import from_pcm, mixed, pink
from assistant.hearing.source import read_audio
from tests.hearing.clips import FIXTURES

VOICE = FIXTURES / "en" / "flite-rms"
PHRASES = ("step complete", "done and checked", "affirm", "stand by")


def said(phrase: str) -> Frames:
    """The voice's recording of a phrase."""
    return from_pcm(read_audio(VOICE / f"{phrase.replace(' ', '-')}.flac"))


@pytest.mark.parametrize("phrase", PHRASES)
def test_a_phrase_in_noise_is_nearest_to_its_own_take(phrase: str) -> None:
    """In pink noise at 10 dB each phrase still leads the others."""
    takes = {text: [(take_of(said(text)), said(text))] for text in PHRASES}
    sound = said(phrase)
    noisy = mixed(sound, pink(len(sound), 5), 10, 16_000)
    found = nearness(enrolled(takes), noisy)
    assert found[0].text == phrase
    assert found[0].lead > 0 > found[1].lead


def test_phrases_said_too_alike_are_named() -> None:
    """Two phrases whose takes are crossed are named as a pair, the others are not."""
    first, second, third = (said(text) for text in PHRASES[:3])
    crossed = {"one": [first, second], "two": [second, first], "three": [third, third]}
    takes = {text: [(take_of(s), s) for s in sounds] for text, sounds in crossed.items()}
    assert too_alike(takes, enrolled(takes)) == (("one", "two"),)


def test_a_phrase_alone_leads_nothing() -> None:
    """With one phrase that may be meant, being the nearest says nothing: only the fit does."""
    takes = {"affirm": [(take_of(said("affirm")), said("affirm"))]}
    (alone,) = nearness(enrolled(takes), said("stand by"))
    assert alone.lead == 0
    assert alone.fit > 1


def test_a_click_is_near_nothing() -> None:
    """Too little sound for one frame is no evidence, and no take."""
    takes = {"affirm": [(take_of(said("affirm")), said("affirm"))]}
    assert nearness(enrolled(takes), np.zeros(100)) == ()
    assert nearness((), said("affirm")) == ()
    with pytest.raises(BadInput, match="too few"):
        mel_powers(np.zeros(100))


def test_the_metric_fits_the_features() -> None:
    """The shipped metric maps cepstra and two differences, and holds real numbers."""
    metric = shipped_metric()
    assert metric.shape == (3 * CEPSTRA, DIMENSIONS)
    assert np.isfinite(metric).all()


def test_a_tone_lies_in_its_mel_band() -> None:
    """The loudest band is the one around the tone on the scale 2595 log10(1 + f/700)."""
    low, high = (2595 * float(np.log10(1 + edge / 700)) for edge in (100, 7600))
    mel = np.linspace(low, high, 34)[1:-1]
    for hertz in (400, 1000, 3000):
        tone = np.sin(2 * np.pi * hertz * np.arange(8000) / 16_000)
        loudest = int(np.argmax(mel_powers(tone).mean(axis=0)))
        assert loudest == int(np.argmin(np.abs(mel - 2595 * np.log10(1 + hertz / 700))))

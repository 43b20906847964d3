"""What is tried at a read-back: the right one, and everything that must not pass it."""

from __future__ import annotations

import random
from collections.abc import Iterator

import numpy as np

from assistant.hearing.noise import NOISES, babble, from_pcm, to_pcm
from assistant.hearing.source import RATE
from assistant.language.numbers import digits
from assistant.packaged import numbers_of
from assistant.speaking.phrasing import check_words, pieces
from assistant.speaking.renderer import Renderer
from tests.end_to_end.stop_verdict import Try
from tests.end_to_end.stops_by_voice import HELD_OUT, PLACES, VoiceJob
from tests.hearing.clips import clip

DIGITS = "012345789"
"""A challenge has no six."""

UNRELATED = (
    "could you hand me the other lamp please it is far too dark down here",
    "the customer said he will come by at about half past three",
)
CONFIRMATIONS = ("affirm", "step complete", "done and checked")
_NOISE_S = 4.0


def right(job: VoiceJob, voice: str, tries: int) -> list[Try]:
    """The right read-back, said again until it passes or the tries are used up."""
    done: list[Try] = []
    while len(done) < tries and not (done and done[-1].passed):
        pcm = job.spoken(voice, job.words(job.waits_for), job.number)
        done.append(job.sounds("right", f"{voice}: right", pcm))
    return done


def wrong_words(job: VoiceJob, voice: str, places: tuple[str, ...] = PLACES) -> Iterator[Try]:
    """The words of other read-backs with the number that is asked."""
    for other in places:
        if other != job.waits_for:
            pcm = job.spoken(voice, job.words(other), job.number)
            yield job.sounds("wrong words", f"{voice}: {job.words(other)} + {job.number}", pcm)


def wrong_digit(job: VoiceJob, voice: str, at: int, other: str) -> Try:
    """The right words, and the asked number with its digit at 0 or 1 changed (to a near one)."""
    asked = job.number
    if asked[at] == other:
        other = DIGITS[DIGITS.index(other) - 1]
    said = other + asked[1] if at == 0 else asked[0] + other
    pcm = job.spoken(voice, job.words(job.waits_for), said)
    return job.sounds("wrong digit", f"{voice}: right words + {said} for {asked}", pcm)


def some_wrong_digits(
    job: VoiceJob, voice: str, chooser: random.Random, count: int
) -> Iterator[Try]:
    """The right words with one digit changed by chance; then with the digits swapped."""
    for turn in range(count):
        yield wrong_digit(job, voice, turn % 2, chooser.choice(DIGITS))
    asked = job.number
    if asked[0] != asked[1]:
        pcm = job.spoken(voice, job.words(job.waits_for), asked[::-1])
        yield job.sounds("wrong digit", f"{voice}: right words + {asked[::-1]} for {asked}", pcm)


def every_wrong_digit(job: VoiceJob, voice: str) -> Iterator[Try]:
    """The right words with each digit in turn in either place, as the number changes."""
    for at in (0, 1):
        for other in DIGITS:
            yield wrong_digit(job, voice, at, other)


def old_number(job: VoiceJob, voice: str) -> Try:
    """The right words with the number that was live before this one."""
    old = job.number
    wrong = str(next(n for n in range(10, 100) if str(n) != old and "6" not in str(n)))
    job.type(f"{job.words(job.waits_for)} {digits(wrong, numbers_of('en'))}")
    pcm = job.spoken(voice, job.words(job.waits_for), old)
    return job.sounds("old number", f"{voice}: right words + {old}, now {job.number}", pcm)


def own_prompt(job: VoiceJob, renderer: Renderer, *, apart: bool = True) -> Iterator[Try]:
    """What was said last, heard once more right after it; then each sentence of it apart."""
    text, pcm = job.prompt()
    yield job.sounds("own prompt", "the whole prompt once more", pcm)
    for sentence in pieces(check_words(text)) if apart else ():
        yield job.sounds("own sentence", sentence, _own(renderer, sentence))


def _own(renderer: Renderer, text: str) -> bytes:
    return renderer.render(text).at_rate(RATE).pcm


def said_again(job: VoiceJob) -> Try:
    """Once "say again" has been typed, its prompt is heard once more."""
    job.type("say again")
    return job.sounds("say again", "the prompt of say again once more", job.prompt()[1])


def while_speaking(job: VoiceJob, voice: str) -> Try:
    """The right read-back, as the assistant says everything again."""
    pcm = job.spoken(voice, job.words(job.waits_for), job.number)
    return job.sounds(
        "while speaking", f"{voice}: right, under the prompt", pcm, during="say again"
    )


def across_the_end(job: VoiceJob, voice: str) -> Try:
    """The right read-back, begun while the assistant speaks: only its number comes after."""
    job.type("say again")
    lasts = len(job.prompt()[1]) / 2 / RATE
    words = job.spoken(voice, job.words(job.waits_for))
    pcm = job.spoken(voice, job.words(job.waits_for), job.number)
    lead = max(0.0, lasts - len(words) / 2 / RATE)
    quiet = to_pcm(np.full(round(lead * RATE), 1e-4))
    sound = f"{voice}: right, words under the prompt, number after"
    return job.sounds("across the end", sound, quiet + pcm, during="say again")


def halves(job: VoiceJob, voice: str) -> Iterator[Try]:
    """Words without the number, the number without words, and what confirms elsewhere."""
    words = job.spoken(voice, job.words(job.waits_for))
    yield job.sounds("half of it", f"{voice}: words without a number", words)
    yield job.sounds("half of it", f"{voice}: number only", job.spoken(voice, "", job.number))
    for phrase in CONFIRMATIONS:
        yield job.sounds("half of it", f"{voice}: {phrase}", job.spoken(voice, phrase))
        pcm = job.spoken(voice, phrase, job.number)
        yield job.sounds("half of it", f"{voice}: {phrase} + number", pcm)


def unrelated(job: VoiceJob, other: Renderer) -> Iterator[Try]:
    """Other talk, silence, and every noise as loud as a person."""
    for sentence in UNRELATED:
        yield job.sounds("unrelated", sentence, other.render(sentence).at_rate(RATE).pcm)
        with_number = f"{sentence} {digits(job.number, numbers_of('en'))}"
        pcm = other.render(with_number).at_rate(RATE).pcm
        yield job.sounds("unrelated", f"{sentence} + number", pcm)
    yield job.sounds("silence", "nothing", b"")
    samples = round(_NOISE_S * RATE)
    for kind, make in NOISES.items():
        yield job.sounds("noise", kind, to_pcm(make(samples, RATE, 3) * 0.1))
    clips = [from_pcm(clip(words, voice)) for voice in HELD_OUT for words in CONFIRMATIONS]
    yield job.sounds("noise", "babble", to_pcm(babble(samples, clips, 3) * 0.1))

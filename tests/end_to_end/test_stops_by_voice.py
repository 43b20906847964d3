"""Every safety stop, the second person's read-back and the freeze's: heard, said back, refused."""

from __future__ import annotations

import functools
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from assistant.cli.live_options import ENGINE
from assistant.engines import open_engine
from assistant.job.state import JobState, Mode
from assistant.record.audit import audit
from assistant.speaking.renderer import Renderer
from tests.end_to_end import stop_tries as tries
from tests.end_to_end.stop_verdict import Try
from tests.end_to_end.stops_by_voice import HELD_OUT, PLACES, STOPS, VoiceJob

ASKED_AGAIN = {"wrong number", "wrong words"}


@dataclass(frozen=True, slots=True)
class Played:
    """The job, once it is released.

    Attributes:
        voices: place -> the voice that was heard there.
    """

    done: tuple[Try, ...]
    voices: dict[str, str]
    state: JobState
    on_record: JobState
    folder: Path

    def of(self, case: str, place: str = "") -> list[Try]:
        """The tries of a case, at one place or at all."""
        return [t for t in self.done if t.case == case and place in ("", t.place)]


@functools.cache
def played() -> Played:
    """One job by two held-out voices in turn; kept until the tests end."""
    done: list[Try] = []
    voices: dict[str, str] = {}
    with Renderer() as renderer, Renderer("en-gb") as other:
        jobs = Path(tempfile.mkdtemp(prefix="gloves-on-test-"))
        job = VoiceJob(jobs, open_engine(ENGINE), renderer, other, seed=20)
        for number, place in enumerate(job.places()):
            voice = voices[place] = HELD_OUT[number % 2]
            done.append(job.sounds("echo", "the prompt, as it is said", b""))
            done.extend(tries.own_prompt(job, renderer, apart=False))
            other_place = PLACES[(PLACES.index(place) + 1) % len(PLACES)]
            done.extend(tries.wrong_words(job, voice, (other_place,)))
            done.append(tries.wrong_digit(job, voice, at=number % 2, other="4"))
            done.append(tries.old_number(job, voice))
            done.append(tries.said_again(job))
            done.append(tries.while_speaking(job, voice))
            done.extend(tries.right(job, voice, tries=4))
        result = Played(tuple(done), voices, job.bay.state, job.on_record(), job.job.folder)
        job.close()
    return result


def test_every_read_back_was_met() -> None:
    """The job has all seven stops, a second person and a freeze, in both voices."""
    assert set(played().voices) == set(PLACES)
    assert set(played().voices.values()) == set(HELD_OUT[:2])
    asked = {tried.asked for tried in played().of("right")}
    assert len(asked) >= len(PLACES) - 2, "the numbers hardly differ"


@pytest.mark.parametrize("place", PLACES)
def test_right_words_and_number_pass(place: str) -> None:
    """The read-back passes by voice, and only that one try of all."""
    passed = [tried for tried in played().done if tried.place == place and tried.passed]
    assert [tried.case for tried in passed] == ["right"], passed


@pytest.mark.parametrize("place", PLACES)
def test_own_voice_is_not_heard_while_it_speaks(place: str) -> None:
    """The prompt goes into the microphone as it is said, and no utterance comes of it."""
    (tried,) = played().of("echo", place)
    assert (tried.verdict, tried.heard, tried.fresh) == ("nothing", (), False)


@pytest.mark.parametrize("case", ["own prompt", "say again"])
@pytest.mark.parametrize("place", PLACES)
def test_own_prompt_played_back_passes_nothing(case: str, place: str) -> None:
    """A prompt that reaches the open ear is heard, and is no read-back: its number stays live."""
    (tried,) = played().of(case, place)
    assert tried.heard, "it never reached the ear"
    assert not tried.passed
    assert not tried.fresh, tried


@pytest.mark.parametrize("place", PLACES)
def test_words_of_another_stop_are_refused(place: str) -> None:
    """The right number after the words of another stop is not taken for an answer."""
    (tried,) = played().of("wrong words", place)
    assert tried.heard
    assert tried.verdict in ASKED_AGAIN | {"not understood"}, tried


@pytest.mark.parametrize("case", ["wrong digit", "old number"])
@pytest.mark.parametrize("place", PLACES)
def test_wrong_number_is_refused_with_a_fresh_one(case: str, place: str) -> None:
    """The right words with another number than the live one: not the number, and a fresh one."""
    (tried,) = played().of(case, place)
    assert tried.verdict in {"wrong number", "not understood"}, tried
    assert tried.fresh == (tried.verdict == "wrong number"), tried


@pytest.mark.parametrize("case", ["wrong digit", "old number"])
def test_wrong_numbers_are_heard_as_what_they_are(case: str) -> None:
    """Most wrong numbers are refused for their number, and not for being unclear."""
    verdicts = [tried.verdict for tried in played().of(case)]
    assert verdicts.count("wrong number") >= len(PLACES) - 2, verdicts


@pytest.mark.parametrize("place", PLACES)
def test_right_read_back_under_the_prompt_is_not_heard(place: str) -> None:
    """Half duplex: nothing that is said while the assistant speaks counts."""
    (tried,) = played().of("while speaking", place)
    assert (tried.verdict, tried.heard, tried.fresh) == ("nothing", (), False)


def test_the_record_shows_no_other_pass() -> None:
    """The journal on disk replays to one spoken pass for each read-back, and verifies."""
    done = played()
    assert done.on_record == done.state
    assert done.state.mode is Mode.RELEASED
    spoken = [entry.stop for entry in done.on_record.passed if entry.via == "voice"]
    assert sorted(spoken) == sorted(STOPS)
    numbers = {t.place: t.asked for t in done.of("right") if t.passed}
    for entry in done.on_record.passed:
        if entry.via == "voice":
            assert entry.number == numbers[entry.stop]
    checked = audit(done.folder)
    assert checked.ok, checked.problem

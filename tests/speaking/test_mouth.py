"""One contract for every mouth: the real one, the rehearsal's and the scripted one."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from assistant.errors import AudioUnavailable, VoiceUnavailable
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.mouth import HEARD, NOT_HEARD, Mouth, Turns, VoiceMouth
from assistant.speaking.renderer import Renderer
from assistant.speaking.testing import ScriptedMouth
from tests.speaking.fake_sound import FakePortAudioError, FakeSound
from tests.virtual_sound import virtual_sound

_LONG = "this goes on and on " * 40


def _voice(folder: Path) -> Mouth:
    return VoiceMouth(Renderer(cache=folder, rate=300), Loudspeaker(sound=FakeSound()))


def _file(folder: Path) -> Mouth:
    return FileMouth(Renderer(cache=folder, rate=300))


def _file_realtime(folder: Path) -> Mouth:
    return FileMouth(Renderer(cache=folder, rate=300), realtime=True)


def _scripted(_folder: Path) -> Mouth:
    return ScriptedMouth()


@pytest.fixture(params=[_voice, _file, _file_realtime, _scripted])
def mouth(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Mouth]:
    """Each kind of mouth."""
    make: Callable[[Path], Mouth] = request.param
    made = make(tmp_path)
    yield made
    made.close()


def test_what_is_said_has_times(mouth: Mouth) -> None:
    """It holds the words and ends after it began; the next begins no earlier."""
    first = mouth.say("go on")
    second = mouth.say("and on")
    assert (first.text, second.text) == ("go on", "and on")
    assert not first.cut
    assert 0.1 < first.ended_mono - first.began_mono < 5
    assert second.began_mono >= first.ended_mono


def test_slowly_takes_longer(mouth: Mouth) -> None:
    """The same words last longer when said slowly."""
    words = "lower the tank on to the bench"
    usual, slow = mouth.say(words), mouth.say(words, slowly=True)
    assert slow.ended_mono - slow.began_mono > usual.ended_mono - usual.began_mono


def test_chimes_are_told_apart(mouth: Mouth) -> None:
    """The two sounds come back under their own names, and are short."""
    good, bad = mouth.chime(True), mouth.chime(False)
    assert (good.text, bad.text) == (HEARD, NOT_HEARD)
    assert all(one.ended_mono - one.began_mono < 2 for one in (good, bad))


@pytest.mark.parametrize("words", ["22 N·m", "torque: ½", "", "..."])
def test_no_mouth_takes_what_is_not_words(mouth: Mouth, words: str) -> None:
    """Digits, symbols and nothing are refused by all alike, now and ahead."""
    with pytest.raises(ValueError, match=r"ear|nothing"):
        mouth.say(words)
    with pytest.raises(ValueError, match=r"ear|nothing"):
        mouth.ahead([words])
    assert not mouth.speaking


def test_quiet_in_silence_changes_nothing(mouth: Mouth) -> None:
    """What is said after it is said in full."""
    mouth.quiet()
    assert not mouth.say("go on").cut


def test_ahead_returns_at_once(mouth: Mouth) -> None:
    """It readies without speaking."""
    mouth.ahead(["one more", "and another"])
    assert not mouth.speaking
    assert not mouth.say("and another").cut


@pytest.mark.parametrize("make", [_voice, _file_realtime])
def test_quiet_cuts_what_is_being_said(make: Callable[[Path], Mouth], tmp_path: Path) -> None:
    """From another thread, in the middle; the next thing said is whole."""
    mouth = make(tmp_path)

    def interrupt() -> None:
        while not mouth.speaking:
            time.sleep(0.01)
        time.sleep(1.0)
        mouth.quiet()

    thread = threading.Thread(target=interrupt)
    thread.start()
    spoken = mouth.say(_LONG)
    thread.join()
    assert spoken.cut
    assert spoken.text == _LONG
    assert spoken.ended_mono - spoken.began_mono < 10
    assert not mouth.say("go on").cut
    mouth.close()


def test_the_scripted_mouth_is_cut_in_the_middle() -> None:
    """A test can speak up while it speaks, and see that it does."""
    mouth = ScriptedMouth()
    seen: list[bool] = []

    def interrupt() -> None:
        seen.append(mouth.speaking)
        mouth.quiet()

    mouth.while_speaking = interrupt
    assert mouth.say("all of this").cut
    mouth.while_speaking = None
    assert not mouth.say("go on").cut
    assert seen == [True]
    mouth.chime(True)
    assert mouth.texts == ["all of this", "go on"]


def test_the_scripted_mouth_can_fail() -> None:
    """A lost loudspeaker is one line in a test."""
    mouth = ScriptedMouth()
    mouth.failure = AudioUnavailable("lost")
    with pytest.raises(AudioUnavailable):
        mouth.say("go on")
    mouth.failure = None
    assert mouth.say("go on").text == "go on"


def test_failures_of_voice_and_loudspeaker_come_through(tmp_path: Path) -> None:
    """Neither is swallowed, and the mouth can be used again."""
    sound = FakeSound(problem=FakePortAudioError("Device unavailable"))
    mouth = VoiceMouth(Renderer(cache=tmp_path), Loudspeaker(sound=sound))
    with pytest.raises(AudioUnavailable):
        mouth.say("go on")
    sound.problem = None
    assert not mouth.say("go on").cut
    mouth.close()
    dumb = VoiceMouth(Renderer(voice="tlh", cache=tmp_path), Loudspeaker(sound=FakeSound()))
    with pytest.raises(VoiceUnavailable):
        dumb.say("go on")
    assert not dumb.speaking
    dumb.close()


def test_utterances_wait_for_each_other() -> None:
    """A second thread speaks when the first has ended, and quiet cuts only the first."""
    turns = Turns()
    order: list[str] = []
    inside = threading.Event()

    def second() -> None:
        assert inside.wait(5)
        with turns.turn() as cut:
            order.append(f"second, cut: {cut.is_set()}")

    thread = threading.Thread(target=second)
    thread.start()
    with turns.turn() as cut:
        inside.set()
        time.sleep(0.05)
        turns.quiet()
        order.append(f"first, cut: {cut.is_set()}")
    thread.join()
    assert order == ["first, cut: True", "second, cut: False"]


def test_words_are_heard_from_a_real_device(tmp_path: Path) -> None:
    """Rendered words come out of a virtual loudspeaker, as loud and as long as they were made."""
    with virtual_sound(tmp_path) as sound:
        renderer = Renderer(cache=tmp_path / "speech")
        mouth = VoiceMouth(renderer, Loudspeaker("pulse"))
        mouth.chime(True)
        with sound.listen() as heard:
            spoken = mouth.say("Disconnect the negative cable first.")
        mouth.close()
    # compared by energy: the same words, whole, once
    from assistant.speaking.speech import Speech  # noqa: PLC0415 - only here

    with Renderer(cache=tmp_path / "speech") as again:
        made = again.render("Disconnect the negative cable first.").at_rate(16_000)
    got = Speech(heard.pcm, 16_000).samples.astype(float)
    expected = made.samples.astype(float)
    assert spoken.ended_mono - spoken.began_mono == pytest.approx(made.seconds, abs=0.5)
    assert (got**2).sum() == pytest.approx((expected**2).sum(), rel=0.1)

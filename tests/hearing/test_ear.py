"""The ear: one path from frames to what was meant."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.hearing.activity import PRE_ROLL_S
from assistant.hearing.ear import Ear, Heard, Nothing, Trouble
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.noise import from_pcm, to_pcm
from assistant.hearing.room import Room
from assistant.hearing.source import FRAME_BYTES, FRAME_S, FileSource, PcmSource, room_tone
from assistant.language.intent import Cost, Intent
from tests.hearing.clips import clip
from tests.hearing.fakes import DEAD, NOTHING, QUIET, VOICE, Parrot, Tape, voiced
from tests.hearing.phrases import Phrases

PAUSE = [QUIET] * 20
WORD = [*PAUSE, *[VOICE] * 12, *PAUSE]
STEP = Phrases.of("step complete", "say again", "say again slowly", "end of note")


def ear_of(
    tape: Tape,
    *said: Recognized | str,
    trouble: Callable[[Trouble], None] = lambda _trouble: None,
    longest_s: float = 12.0,
) -> tuple[Ear, Parrot]:
    """An ear on a tape, with an engine that says what it is told."""
    parrot = Parrot(said)
    return Ear(tape, parrot, detector=voiced, trouble=trouble, longest_s=longest_s), parrot


def test_utterance_becomes_its_intent() -> None:
    """A phrase of the grammar is accepted as its intent, with its times and its clip."""
    ear, _ = ear_of(Tape(WORD), "step complete")
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.intent) == ("accepted", Intent("step_complete", (), heard.text))
    assert heard.began_s == pytest.approx(20 * FRAME_S)
    assert heard.ended_s == pytest.approx(32 * FRAME_S)
    assert heard.decided_s >= heard.ended_s + 0.25
    assert len(heard.clip) % FRAME_BYTES == 0


def test_first_word_is_never_cut() -> None:
    """The engine and the clip get at least 0.4 s from before the detector fired."""
    tape = Tape([*[QUIET] * 40, *[VOICE] * 12, *PAUSE])
    ear, parrot = ear_of(tape, "step complete")
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    before = heard.clip.index(VOICE) / FRAME_BYTES * FRAME_S
    assert 0.4 <= before <= PRE_ROLL_S
    assert parrot.heard == [heard.clip]


def test_other_words_are_unclear_and_mean_nothing() -> None:
    """Words that are no phrase of the grammar never carry an intent."""
    ear, _ = ear_of(Tape(WORD), "step incomplete")
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.intent, heard.why) == ("unclear", None, "no phrase")


def test_low_confidence_is_unclear() -> None:
    """The right words without confidence are asked again, and carry no intent."""
    ear, _ = ear_of(Tape(WORD), Recognized("step complete", 0.01))
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.intent) == ("unclear", None)
    assert heard.text == "step complete"


def test_silence_outlasts_patience() -> None:
    """Without a voice the wait ends when patience does, counted in sound and not by the clock."""
    ear, _ = ear_of(Tape([QUIET] * 1000))
    assert ear.hear(STEP, patience_s=5.0) == Nothing("silence")
    assert ear.now_s == pytest.approx(5.0, abs=FRAME_S)


def test_word_begun_within_patience_is_heard_to_its_end() -> None:
    """An utterance that begins in time is heard although it ends after patience has run out."""
    ear, _ = ear_of(Tape(WORD), "step complete")
    assert isinstance(ear.hear(STEP, patience_s=22 * FRAME_S), Heard)


def test_end_of_sound() -> None:
    """A source that has no more says so, and an utterance cut by its end is still decided."""
    ear, _ = ear_of(Tape([*PAUSE, *[VOICE] * 12]), "step complete")
    assert isinstance(ear.hear(STEP), Heard)
    assert ear.hear(STEP) == Nothing("ended")


def test_click_is_no_utterance() -> None:
    """Two loud frames are a click: the ear goes on listening and asks nothing."""
    ear, _ = ear_of(Tape([*PAUSE, VOICE, VOICE, *PAUSE, *WORD]), "", "step complete")
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert heard.text == "step complete"


def test_endless_utterance_is_ended_and_unclear() -> None:
    """What goes on for too long is cut and never accepted, whatever the engine makes of it."""
    talk = [*[VOICE] * 20, *[QUIET] * 8] * 20
    ear, _ = ear_of(Tape(talk), "say again", longest_s=12.0)
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.intent, heard.why) == ("unclear", None, "too long")
    assert len(heard.clip) / 32_000 == pytest.approx(12.0, abs=0.1)


def test_phrase_that_nothing_extends_is_decided_early() -> None:
    """A question that is surely complete is decided before the whole trailing silence."""
    grammar = Phrases.of("say again", "say again slowly", "what size", cost=Cost.QUESTION)
    complete, _ = ear_of(Tape(WORD), "what size")
    extendable, _ = ear_of(Tape(WORD), "say again")
    early, late = complete.hear(grammar), extendable.hear(grammar)
    assert isinstance(early, Heard)
    assert isinstance(late, Heard)
    assert early.decided_s - early.ended_s < 0.35
    assert late.decided_s - late.ended_s > 0.4


@pytest.mark.parametrize("cost", [Cost.CONFIRMATION, Cost.READ_BACK])
def test_dear_phrases_are_never_decided_early(cost: Cost) -> None:
    """A confirmation or read-back always takes its whole trailing silence."""
    ear, _ = ear_of(Tape(WORD), "step complete")
    heard = ear.hear(Phrases.of("step complete", cost=cost))
    assert isinstance(heard, Heard)
    assert heard.decided_s - heard.ended_s > 0.4


def test_own_voice_is_not_heard() -> None:
    """What waits from before, and what comes within the guard time, is not heard at all."""
    tape = Tape([*[VOICE] * 9, *WORD])
    ear, parrot = ear_of(tape, "step complete")
    ear.deafen()
    ear.listen_again(guard_s=0.3)
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert tape.deaf == [True, False]
    assert tape.discarded == 2
    assert parrot.heard[0].count(VOICE) == 12


def test_discard_forgets_the_pre_roll() -> None:
    """Sound from before a discard never comes into a later clip."""
    mark = bytes([11, 0]) * (FRAME_BYTES // 2)
    tape = Tape([mark] * 10 + WORD)
    ear, _ = ear_of(tape, "step complete")
    assert ear.hear(STEP, patience_s=10 * FRAME_S) == Nothing("silence")
    ear.discard()
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert mark not in heard.clip


def test_full_duplex_stops_with_the_speech() -> None:
    """Listening beside the assistant's voice ends when the caller says that it has ended."""
    left = iter([True] * 10 + [False])
    ear, _ = ear_of(Tape([QUIET] * 100))
    assert ear.hear(STEP, going=lambda: next(left)) == Nothing("stopped")


def test_lost_microphone_is_told_and_taken_back() -> None:
    """A microphone that goes is told once at once, then waited for; its return is told too."""
    told: list[Trouble] = []
    tape = Tape([*PAUSE, "lost", *[NOTHING] * 30, "back", *WORD])
    ear, _ = ear_of(tape, "step complete", trouble=told.append)
    assert ear.hear(STEP, patience_s=9.0) == Nothing("lost")
    assert ear.hear(STEP, patience_s=1.0) == Nothing("lost")
    assert isinstance(ear.hear(STEP, patience_s=9.0), Heard)
    assert told == ["lost", "back"]


def test_microphone_lost_within_a_word_is_unclear() -> None:
    """An utterance that the microphone's loss cut short is never accepted."""
    tape = Tape([*PAUSE, *[VOICE] * 12, "lost", *[NOTHING] * 20])
    ear, _ = ear_of(tape, "step complete")
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.why) == ("unclear", "sound was lost")


def test_dropped_sound_within_a_word_is_unclear() -> None:
    """An utterance with a hole in it is never accepted, and the drop is told."""
    told: list[Trouble] = []
    tape = Tape([*PAUSE, *[VOICE] * 6, "drop", *[VOICE] * 6, *PAUSE])
    ear, _ = ear_of(tape, "step complete", trouble=told.append)
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert (heard.verdict, heard.why) == ("unclear", "sound was lost")
    assert told == ["dropped"]


def test_dead_microphone_is_told() -> None:
    """A microphone that gives nothing but zeros for three seconds is told, and its recovery."""
    told: list[Trouble] = []
    ear, _ = ear_of(Tape([DEAD] * 100 + [QUIET] * 5), trouble=told.append)
    assert ear.hear(STEP) == Nothing("dead")
    assert ear.hear(STEP) == Nothing("ended")
    assert told == ["dead", "alive"]


def test_note_is_kept_until_its_closing_phrase() -> None:
    """A spoken note holds all utterances before "end of note", and not that phrase itself."""
    tape = Tape(WORD * 3)
    ear, _ = ear_of(tape, "say again", "step complete", "end of note")
    note = ear.record_speech(Phrases.of("end of note"), until_silence_s=2.0)
    assert note.ended_by == "phrase"
    assert note.clip.count(VOICE) == 24
    assert note.began_s == pytest.approx(20 * FRAME_S)


def test_note_ends_with_long_silence() -> None:
    """A spoken note without a closing phrase ends with silence, and then with the sound."""
    ear, _ = ear_of(Tape(WORD + [QUIET] * 200), "")
    assert ear.record_speech(STEP, until_silence_s=2.0).ended_by == "silence"
    assert ear.record_speech(STEP, until_silence_s=60.0).ended_by == "ended"


def test_note_has_a_limit() -> None:
    """A spoken note that never ends is cut at its limit."""
    ear, _ = ear_of(Tape(WORD * 50))
    note = ear.record_speech(Phrases.of("end of note"), longest_s=5.0)
    assert note.ended_by == "limit"
    assert len(note.clip) / 32_000 == pytest.approx(5.0, abs=1.5)


def test_file_room_and_memory_are_heard_alike(tmp_path: Path) -> None:
    """The real path hears a command the same from memory, from a file and in a room."""
    import soundfile  # noqa: PLC0415 - only here

    pcm = room_tone(8_000) + clip("step complete")
    path = tmp_path / "said.flac"
    soundfile.write(path, from_pcm(pcm), 16_000)
    room = Room()
    room.speak(pcm)
    engine = PocketSphinxEngine()
    for source in (PcmSource(pcm), FileSource(path), room):
        heard = Ear(source, engine).hear(STEP, patience_s=5.0)
        assert isinstance(heard, Heard)
        assert (heard.verdict, heard.text) == ("accepted", "step complete")


def test_signal_to_noise_is_measured() -> None:
    """A command in pink noise at 15 dB is measured within 4 dB of that.

    The tolerance is that of a level over voiced frames against the active level of ITU-T P.56.
    """
    room = Room("pink", 15.0)
    room.speak(clip("step complete"), after_s=1.0)
    heard = Ear(room, PocketSphinxEngine()).hear(STEP, patience_s=5.0)
    assert isinstance(heard, Heard)
    assert heard.snr_db == pytest.approx(15.0, abs=4.0)


def test_overdriven_word_is_told() -> None:
    """A command recorded at ten times full scale is told as clipping."""
    told: list[Trouble] = []
    loud = to_pcm(from_pcm(clip("step complete")) * 30)
    ear = Ear(PcmSource(room_tone(8_000) + loud), PocketSphinxEngine(), trouble=told.append)
    ear.hear(STEP)
    assert "clipping" in told

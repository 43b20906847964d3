"""The bay: what is heard is written down, decided, and answered, and nothing else counts."""

from __future__ import annotations

import threading
import time

import pytest

from assistant.errors import AudioUnavailable, JournalUnwritable, VoiceUnavailable
from assistant.hearing.ear import Nothing
from assistant.job.events import Clip, Heard, Resumed
from assistant.job.machine import replay
from assistant.job.serial import KINDS, from_data
from assistant.job.state import Mode
from tests.bays import Shop, shop
from tests.job.bench import PLAIN, at_step


def at(step: str, *, typed: bool = True, spoken: bool = False, headset: bool = False) -> Shop:
    """A bay whose job has come as far as this step."""
    made = shop(typed=typed, spoken=spoken, headset=headset, state=at_step(step).state)
    return made.work()


def replayed(made: Shop) -> bool:
    """Whether the entries on record give the state that the bay is in."""
    events = [
        from_data(entry.kind, entry.data, entry.wall, entry.mono)
        for entry in made.keeper.entries
        if entry.kind in KINDS
    ]
    return replay(made.bay.setting, events) == made.bay.state


def test_an_event_is_on_record_before_its_answer_sounds() -> None:
    """When the assistant begins to speak, what it answers is written down already."""
    made = shop(typed=True).open()
    on_record: list[list[str]] = []
    made.mouth.while_speaking = lambda: on_record.append(made.events())
    made.type("affirm")
    assert on_record == [["opened", "affirm"]]


def test_what_is_said_is_on_record_before_it_sounds() -> None:
    """Every line that is spoken is in an entry "said" by then."""
    made = shop(typed=True)
    seen: list[bool] = []

    def look() -> None:
        seen.append(made.keeper.entries[-1].kind == "said")

    made.mouth.while_speaking = look
    made.open().type("affirm", "what is next", "what is off")
    assert len(seen) == 4
    assert all(seen)


def test_the_record_replays_to_the_state() -> None:
    """The entries alone give the state that the bay has reached, by voice and by keys."""
    made = shop(typed=True, spoken=True).open()
    made.say("affirm", "mumble mumble").type("what torque").work()
    made.say("step complete", "what is off")
    assert made.events()[:3] == ["opened", "affirm", "unclear"]
    assert made.step() == "negative-off"
    assert replayed(made)


def test_a_whole_job_by_keys_is_released_and_sealed() -> None:
    """Typed answers alone bring a job to its release, and the record is closed."""
    made = shop(typed=True, text=PLAIN).open()
    made.type("affirm")
    for _ in range(3):
        made.work().type("step complete")
    assert made.mode() is Mode.STOP
    made.type(made.read_back())
    assert made.bay.closed
    assert made.bay.seal == made.keeper.sealed != ""
    assert made.keeper.entries[-1].kind == "sealed"
    assert "Sealed. The fingerprint is" in made.shown[-1]
    assert replayed(made)


def test_run_ends_with_the_seal() -> None:
    """`run` goes on until the record is sealed, not only until the release."""
    made = shop(typed=True, text=PLAIN, state=at_step("", Mode.STOP, PLAIN).state)
    assert made.keys is not None
    made.keys.type(None, made.read_back())
    made.bay.run(0.0)
    assert made.bay.closed


@pytest.mark.parametrize("way", ["voice", "keys"])
def test_how_it_came_in_is_on_record(way: str) -> None:
    """A spoken command has its sound beside it, a typed one is marked as typed."""
    made = shop(typed=True, spoken=True).open()
    if way == "voice":
        made.say("affirm")
    else:
        made.type("affirm")
    heard = made.keeper.of("heard")[0]
    assert heard["via"] == ("voice" if way == "voice" else "typed")
    assert ("clip" in heard) == (way == "voice")
    assert len(made.keeper.clips) == (way == "voice")


def test_what_was_not_understood_is_kept_and_asked_again() -> None:
    """An unclear utterance leaves its sound and the guess in the record, and nothing moves."""
    made = at("pad-wear", spoken=True, typed=False)
    before = made.bay.state.progress
    made.say("step compleat")
    assert made.keeper.of("unclear")[0]["text"] == "step compleat"
    assert made.keeper.of("unclear")[0]["clip"]["file"] == "clips/000001.flac"
    assert made.bay.state.progress == before
    assert made.shown == ["Once more, please."]


def test_silence_writes_nothing() -> None:
    """An idle turn leaves no entry and no word."""
    made = shop(typed=True, spoken=True).open()
    before = len(made.keeper.entries), len(made.mouth.spoken)
    assert not made.bay.turn(0.0)
    assert (len(made.keeper.entries), len(made.mouth.spoken)) == before


# Typing


@pytest.mark.parametrize(
    "typed",
    [
        "reading 12.4 V",
        "reading 12.4 volts",
        "reading one two point four volts",
        "Reading  12.4 V",
    ],
)
def test_figures_may_be_typed(typed: str) -> None:
    """A reading may be typed in figures with the unit's symbol, and it is read back."""
    made = at("resting-voltage").type(typed)
    assert made.mode() is Mode.READING_CHECK
    assert made.shown[-1] == "resting voltage: 12.4, volts, key off. Is that right?"
    assert "one two point four" in made.mouth.texts[-1]


@pytest.mark.parametrize("typed", ["WLCW10", "wl-cw-10", "WL CW 10", "W L C W 1 0"])
def test_a_part_number_may_be_typed_as_it_is_printed(typed: str) -> None:
    """Letters and figures as they stand on the part, not only in the words for them."""
    made = at("hose-on").type("read part number").type(typed)
    assert any(shown.startswith("Same number.") for shown in made.shown)


@pytest.mark.parametrize("typed", ["reading 12.4", "reading V", "reading 12,4 V", "12.4 V", "☃"])
def test_what_is_no_phrase_is_refused_on_the_screen(typed: str) -> None:
    """A typed line that means nothing here leaves no entry; the screen says how to type it."""
    made = at("resting-voltage").type(typed)
    assert made.mode() is Mode.STEP
    assert made.keeper.entries == []
    assert made.shown == ["That is not a phrase that counts now. Type it as you would say it."]


def test_a_typed_read_back_may_hold_the_number_in_figures() -> None:
    """The number of a safety stop may be typed in figures, apart or together."""
    for way in ("{0} {1}", "{0}{1}"):
        made = shop(typed=True, state=at_step("line-off", Mode.STOP).state)
        before = len(made.bay.state.passed)
        words = made.read_back().rsplit(" ", 2)[0]
        challenge = made.bay.state.challenge
        assert challenge is not None
        made.type(f"{words} {way.format(*challenge.number)}")
        assert len(made.bay.state.passed) == before + 1
        assert made.bay.state.passed[-1].via == "typed"


@pytest.mark.parametrize(
    ("key", "intent"),
    [("", "step_done"), ("!", "freeze"), (".", "stand_by"), ("?", "say_again")],
)
def test_single_keys(key: str, intent: str) -> None:
    """A single key stands for its phrase, and the record says that it was a key."""
    made = at("wipe-down").type(key)
    heard = made.keeper.of("heard")[0]
    assert heard["intent"]["name"] == intent
    assert heard["via"] == "key"


def test_keys_answer_a_question() -> None:
    """Plus and minus are yes and no."""
    made = shop(typed=True).open()
    made.type("-")
    assert made.mode() is Mode.STANDING
    made.type("+")
    assert made.mode() is Mode.STEP


@pytest.mark.parametrize("mode", [Mode.STOP, Mode.SECOND_PERSON, Mode.FROZEN])
def test_no_key_ends_what_takes_a_read_back(mode: Mode) -> None:
    """Neither a pedal press nor any other key passes a stop, a second look or a freeze."""
    step = {Mode.STOP: "line-off", Mode.SECOND_PERSON: "leak-check"}.get(mode)
    if step is None:
        made = at("pad-wear").type("!", ",")
    else:
        made = shop(typed=True, state=at_step(step, mode).state)
    assert made.mode() is mode
    before = made.bay.state
    for key in ("", "+", "-", "  ", "+ "):
        made.type(key)
    assert made.mode() is mode
    assert made.bay.state.passed == before.passed
    assert made.bay.state.progress.done == before.progress.done


# Free speech


def test_a_note_is_kept_as_sound() -> None:
    """What is said between "take a note" and "end of note" is a clip, and no command."""
    made = at("pad-wear", typed=False, spoken=True)
    assert made.ear is not None
    made.ear.say("take a note", "step complete", "scratch on the tank", "end of note")
    made.bay.turn(0.0)
    assert made.mode() is Mode.NOTE
    made.bay.turn(0.0)
    dictated = made.keeper.of("dictated")[0]
    assert dictated["seconds"] == pytest.approx(6 * 0.4)  # the words of the note, no others
    assert dictated["clip"]["file"] == "clips/000002.flac"
    assert made.mode() is Mode.STEP
    assert made.step() == "pad-wear"


def test_hold_everything_in_a_note_freezes() -> None:
    """The freeze counts in the middle of a note too, by voice as by keys, and its sound is kept."""
    made = at("pad-wear", typed=False, spoken=True)
    assert made.ear is not None
    made.ear.say("take a note", "it smells odd", "hold everything")
    made.bay.turn(0.0)
    made.bay.turn(0.0)
    assert made.mode() is Mode.FROZEN
    assert made.keeper.of("heard")[-1]["clip"]["file"] == "clips/000002.flac"
    typed = at("pad-wear").type("take a note", "hold everything")
    assert typed.mode() is Mode.FROZEN


def test_a_typed_note() -> None:
    """A note may be typed; blanks are tidied and an endless one is cut."""
    made = at("pad-wear").type("take a note", "  scratch\ton the   tank ")
    assert made.bay.state.notes[-1].text == "scratch on the tank"
    made.type("take a note", "x" * 10_000)
    assert len(made.bay.state.notes[-1].text) == 500


@pytest.mark.parametrize("name", ["", "x" * 41, "step complete", "the affirm lever", "☃ shield"])
def test_a_part_gets_only_a_name_that_can_be_read_aloud(name: str) -> None:
    """A typed name that the voice can't say, or that would confirm something, is refused."""
    made = at("pad-wear").type("also off", "something else", name)
    assert made.mode() is Mode.OFF_LABEL
    assert made.shown[-1].startswith("That cannot be read aloud")
    made.type("heat shield", "count two", "affirm")
    off = [item.item for item in made.bay.state.progress.off.open_items()]
    assert off == ["heat shield, added by voice"]


# The ear is shut while the assistant speaks


def test_the_assistant_never_hears_itself() -> None:
    """What sounds while the assistant speaks reaches nobody; afterwards the ear is open."""
    made = shop(spoken=True)
    ear = made.ear
    assert ear is not None
    deaf: list[bool] = []

    def echo() -> None:
        deaf.append(ear.deaf)
        ear.overhear("affirm")

    made.mouth.while_speaking = echo
    made.open()
    made.bay.turn(0.0)
    assert deaf == [True]
    assert made.mode() is Mode.STANDING
    assert made.events() == ["opened"]
    made.say("affirm")
    assert made.mode() is Mode.STEP


@pytest.mark.parametrize("failure", [AudioUnavailable("no loudspeaker"), VoiceUnavailable("none")])
def test_without_a_voice_the_screen_does(failure: Exception) -> None:
    """A lost loudspeaker or voice is told once on the screen, and the job goes on."""
    made = shop(typed=True, spoken=True)
    made.mouth.failure = failure
    made.open().say("affirm").type("what is off")
    assert made.shown.count(f"({failure})") == 1
    assert made.shown[-1] == "Nothing is off."
    assert made.mode() is Mode.STEP
    assert made.ear is not None
    assert not made.ear.deaf
    made.mouth.failure = None
    made.type("what is off")
    made.mouth.failure = failure
    made.type("what is off")
    assert made.shown.count(f"({failure})") == 2  # lost anew, told anew


def test_the_next_lines_are_rendered_ahead() -> None:
    """When a step is open, what its confirmation will make the assistant say is made ready."""
    made = shop(typed=True).open().type("affirm")
    made.work().type("step complete")
    assert any(text.startswith("Logged.") for text in made.mouth.readied)
    spoken = made.mouth.texts[-1]
    assert all(part in " ".join(made.mouth.readied) for part in spoken.split(". ")[:2])


# With a headset the technician may interrupt


class _Interrupted:
    """Speaks until it is told to be quiet, and has the ear hear a line meanwhile."""

    def __init__(self, made: Shop, line: str) -> None:
        self.cut = threading.Event()
        self.made = made
        self.line = line
        self.said = False

    def __call__(self) -> None:
        if self.said:
            return
        self.said = True
        assert self.made.ear is not None
        self.made.ear.say(self.line)
        for _ in range(200):  # the mouth is cut by another thread; two seconds are ample
            if not self.made.ear.waiting:
                return
            time.sleep(0.01)


def test_hold_everything_while_it_speaks_freezes() -> None:
    """With a headset "hold everything" cuts the voice and freezes the job."""
    made = shop(spoken=True, headset=True)
    made.mouth.while_speaking = _Interrupted(made, "hold everything")
    made.open()
    assert made.mode() is Mode.FROZEN
    assert made.events() == ["opened", "freeze"]
    assert made.keeper.of("heard")[0]["clip"]["file"] == "clips/000001.flac"
    assert replayed(made)


def test_quiet_please_while_it_speaks_only_silences() -> None:
    """With a headset "quiet please" cuts the voice; the job stays where it was."""
    made = shop(spoken=True, headset=True)
    made.mouth.while_speaking = _Interrupted(made, "quiet please")
    made.open()
    assert made.mode() is Mode.STANDING
    assert made.events() == ["opened", "quiet"]


@pytest.mark.parametrize("line", ["affirm", "step complete", "carry on", "what is off"])
def test_nothing_else_counts_while_it_speaks(line: str) -> None:
    """Any other words during the voice, even its own echo, change nothing at all."""
    made = shop(spoken=True, headset=True)
    made.mouth.while_speaking = _Interrupted(made, line)
    made.open()
    assert made.mode() is Mode.STANDING
    assert made.events() == ["opened"]


# The record can't be written


def test_a_full_disk_stops_the_job_aloud() -> None:
    """When an entry can't be written it did not happen, and the assistant says so (I6)."""
    made = at("wipe-down")
    before = made.bay.state
    made.keeper.failure = "no space left"
    made.type("step complete")
    assert made.bay.state == before
    assert made.keeper.entries == []
    assert made.mouth.texts[-1].startswith("Stop work. The record cannot be written.")
    assert "no space left" in made.shown[-1]


def test_nothing_counts_until_writing_works_again() -> None:
    """What is typed or said on a full disk is dropped, answered by the alarm, never made up for."""
    made = at("wipe-down", spoken=True)
    before = made.bay.state
    made.keeper.failure = "no space left"
    made.type("step complete")
    alarms = len(made.mouth.texts)
    made.type("step complete").say("step complete")
    assert len(made.mouth.texts) == alarms + 2
    assert made.keys is not None
    made.keys.type("step complete", "step complete")  # still waiting when the disk is back
    made.keeper.failure = ""
    made.bay.turn(0.0)
    assert made.bay.state == before
    assert made.mouth.texts[-1].startswith("The record can be written again.")
    made.type("step complete")
    assert made.events() == ["step_done"]


def test_the_alarm_is_repeated_but_not_all_the_time() -> None:
    """While the disk stays full the alarm comes back now and then, not at every turn."""
    made = at("wipe-down")
    made.keeper.failure = "no space left"
    made.type("step complete")
    for _ in range(60):
        made.bay.turn(0.0)
        made.work(0.5)
    assert 2 <= len(made.mouth.texts) <= 4


def test_a_clip_that_cannot_be_kept_stops_the_job_too() -> None:
    """Speech whose sound can't be kept doesn't count: in a command, a note and an interruption."""
    made = at("wipe-down", typed=False, spoken=True)
    made.keeper.failure = "no space left"
    made.say("step complete")
    assert made.mouth.texts[-1].startswith("Stop work.")
    assert made.keeper.entries == []
    noted = at("pad-wear", typed=False, spoken=True)
    assert noted.ear is not None
    noted.ear.say("take a note", "a scratch", "end of note")
    noted.bay.turn(0.0)
    noted.keeper.failure = "no space left"
    noted.bay.turn(0.0)
    assert noted.mouth.texts[-1].startswith("Stop work.")
    assert noted.mode() is Mode.NOTE


def test_a_job_begins_only_on_record() -> None:
    """A first event that can't be written is made again once the disk takes it."""
    made = shop(typed=True)
    made.keeper.failure = "no space left"
    made.open()
    assert made.mode() is Mode.NEW
    made.type("affirm")
    assert made.mode() is Mode.NEW
    made.keeper.failure = ""
    for _ in range(2):
        made.bay.turn(0.0)
    assert made.mode() is Mode.STANDING
    assert made.events() == ["opened"]


def test_a_resumed_job_asks_how_the_machine_stands_even_after_a_full_disk() -> None:
    """Resuming is never skipped because its entry could not be written at once (I5)."""
    made = at("hose-on")
    made.keeper.failure = "no space left"
    made.bay.begin(lambda: Resumed(made.bay.stamp(), "mara"))
    made.keeper.failure = ""
    for _ in range(2):
        made.bay.turn(0.0)
    assert made.events() == ["resumed"]
    assert made.mode() is Mode.STANDING


def test_a_line_that_cannot_be_written_is_not_said() -> None:
    """What the assistant says is on record or it isn't said; the alarm alone needs no entry."""
    made = at("wipe-down")
    append = made.keeper.append

    def no_said(kind: str, data: dict[str, object], wall: str, mono: float) -> None:
        if kind == "said":
            raise JournalUnwritable("no space left")
        append(kind, data, wall, mono)

    made.keeper.append = no_said  # type: ignore[method-assign] # a disk that fills at this moment
    made.type("what is off")
    assert [text.split(".")[0] for text in made.mouth.texts] == ["Stop work"]


def test_a_seal_that_cannot_be_written_is_tried_again() -> None:
    """A released job is sealed as soon as the disk takes it, not forgotten."""
    made = shop(typed=True, text=PLAIN, state=at_step("", Mode.STOP, PLAIN).state)
    seal = made.keeper.seal

    def full(wall: str, mono: float) -> str:
        del wall, mono
        raise JournalUnwritable("no space left")

    made.keeper.seal = full  # type: ignore[method-assign] # the disk fills between the two
    made.type(made.read_back())
    assert made.mode() is Mode.RELEASED
    assert not made.bay.closed
    made.keeper.seal = seal  # type: ignore[method-assign]
    for _ in range(2):
        made.bay.turn(0.0)
    assert made.bay.closed
    assert "The record can be written again" in " ".join(made.shown)


def test_a_job_released_before_the_program_died_is_sealed_on_resume() -> None:
    """Between release and seal the program may be killed; taking the job up again seals it."""
    made = shop(typed=True, text=PLAIN, state=at_step("", Mode.RELEASED, PLAIN).state)
    made.bay.begin(lambda: Resumed(made.bay.stamp(), "mara"))
    made.bay.turn(0.0)
    assert made.bay.closed
    assert made.events() == ["sealed"]


# Odds and ends


def test_a_lost_microphone_leaves_the_keys() -> None:
    """While nothing can be heard the job waits, and the keys work."""
    made = shop(typed=True, spoken=True).open()
    assert made.ear is not None
    made.ear.say("affirm")
    made.ear.waiting.appendleft(Nothing("lost"))
    assert not made.bay.turn(0.0)
    assert made.mode() is Mode.STANDING
    made.type("affirm")
    assert made.mode() is Mode.STEP


def test_a_timer_rings_by_itself() -> None:
    """A timer that is due is told at the next turn, and that is on record."""
    made = at("pad-wear").type("start timer 5 minutes")
    made.work(299).bay.turn(0.0)
    assert made.shown[-1] == "Timer running, 5 min."
    made.work(2).bay.turn(0.0)
    assert made.shown[-1] == "Timer over: 5 min."
    assert made.events() == ["start_timer", "tick"]


def test_the_grammar_is_what_counts_now() -> None:
    """The ear listens for what the state admits and nothing else."""
    made = at("wipe-down", spoken=True)
    grammar = made.bay.grammar()
    assert grammar.match("step complete") is not None
    assert grammar.match("reading one two volts") is None
    made.type("!", ",")
    assert made.bay.grammar().match("step complete") is None
    assert made.bay.grammar().match(made.read_back()) is not None


def test_what_was_acted_on_is_told() -> None:
    """Whoever watches the bay sees each event once, after it is on record."""
    made = shop(typed=True, spoken=True).open().say("affirm").type("what is off")
    assert [type(event).__name__ for event in made.acted] == ["Opened", "Heard", "Heard"]
    assert isinstance(made.acted[1], Heard)
    assert isinstance(made.acted[1].clip, Clip)

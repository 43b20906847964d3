"""Field log, replayed: heard though not meant, numbers, half heard, and said wrongly."""

from __future__ import annotations

import pytest

from assistant.errors import BadFile
from assistant.hearing.ear import Nothing
from assistant.job.state import Mode
from assistant.language.grammar import build_grammar
from assistant.language.numbers import digits
from assistant.language.phrasebook import extend
from assistant.language.wording import for_ear
from assistant.opening import words_of
from assistant.packaged import numbers_of, phrasebook, wording
from tests.bays import shop
from tests.field_log.replay import codes, done, job, told
from tests.job.bench import at_step

GAP = """\
- step: gap
  do: "Set the gap."
  readings:
    - {name: "gap", unit: mm, at_least: "10 mm", at_most: "60 mm"}
- step: after
  do: "Wipe the bench."
"""


def test_a32_a_voice_from_a_loudspeaker() -> None:
    """Caught at the stop: the very words of a radio don't pass, without this moment's number."""
    made = shop(spoken=True, typed=True, state=at_step("line-off", Mode.STOP).state)
    passed = made.bay.state.passed
    right = made.read_back()
    words = right.rsplit(" ", 2)[0]
    made.say("step complete", "affirm", "carry on", words, f"{words} zero zero")
    assert made.mode() is Mode.STOP
    assert made.bay.state.passed == passed
    made.say(right)  # recorded before: the number has changed since
    assert made.bay.state.passed == passed


def test_a33_dictation_left_running() -> None:
    """Caught at the end of the note: nothing in it was a command, and it says how long it was.

    It does not say its first words.
    """
    made = shop(spoken=True, state=at_step("pad-wear").state)
    assert made.ear is not None
    made.ear.say("take a note", "scratch on the tank", "step complete", "affirm")
    made.bay.turn(0.0)
    made.bay.turn(0.0)
    assert (made.mode(), made.step()) == (Mode.STEP, "pad-wear")
    assert made.events()[-2:] == ["take_note", "dictated"]
    assert any(text.startswith("Note kept") for text in made.mouth.texts)


def test_a33_the_first_words_are_in_the_note() -> None:
    """Who dictates at once is not talked over: the prompt stays unsaid, no word is lost."""
    made = shop(spoken=True, state=at_step("pad-wear").state)
    assert made.ear is not None
    made.ear.meanwhile.append("scratch on the tank")
    made.say("take a note")
    made.ear.say("left side", "end of note")
    made.bay.turn(0.0)
    assert made.events()[-2:] == ["take_note", "dictated"]
    assert made.keeper.of("dictated")[0]["seconds"] == pytest.approx(6 * 0.4)  # all six words
    assert "Recording a note." in made.shown
    assert "Recording a note." not in made.mouth.texts


def test_a34_it_said_its_own_name() -> None:
    """Prevented while it speaks: the ear is shut; `check` refuses texts that would confirm."""
    says_it = '- step: a\n  do: "When it is tight, say step complete."\n'
    assert codes(says_it) == {"confirming-phrase"}
    made = shop(spoken=True)
    assert made.ear is not None
    ear = made.ear
    made.mouth.while_speaking = lambda: ear.overhear("affirm")
    made.open()
    made.bay.turn(0.0)
    assert made.mode() is Mode.STANDING
    assert made.events() == ["opened"]


def test_a35_fifteen_became_fifty_fifty_became_sixty() -> None:
    """Caught at the read-back: digit by digit with the unit, and only an affirm makes it count."""
    bench = job(GAP)
    bench.answer()
    bench.hear("reading", number="50", unit="mm")  # fifteen was said
    assert "five zero, millimeters" in told(bench)
    done(bench)
    bench.unclear("fifteen")
    assert not bench.state.progress.readings
    bench.hear("negative")
    bench.hear("reading", number="15", unit="mm")
    assert "one five, millimeters" in told(bench)
    bench.hear("affirm")
    (taken,) = bench.state.progress.readings
    assert str(taken.value) == "15 mm"


def test_a36_the_right_figure_for_the_wrong_quantity() -> None:
    """Prevented at the reading: a number without its unit is no phrase; another unit is refused."""
    grammar = build_grammar(phrasebook("en"), ["reading"])
    assert grammar.match("reading two five") is None
    assert grammar.match("reading two five millimeters") is not None
    bench = job(GAP)
    bench.answer()
    assert "reading.wrong_quantity" in bench.hear("reading", number="25", unit="N·m")
    assert bench.state.mode is Mode.STEP


def test_a37_it_says_oh_and_wants_zero() -> None:
    """Prevented in the language data: every digit is accepted as it is spoken, and none as "oh"."""
    numbers = numbers_of("en")
    words = "nothing off and all proven"
    grammar = build_grammar(phrasebook("en"), ["read_back"], {"read_back": {"release": (words,)}})
    for number in range(10, 100):
        spoken = digits(str(number), numbers)
        heard = grammar.match(f"{words} {spoken}")
        assert heard is not None
        assert heard.get("challenge") == str(number)
        assert "oh" not in spoken.split()
    assert grammar.match(f"{words} one oh") is None


@pytest.mark.parametrize(
    "said", ["negative step complete", "no not step complete", "step complete not", "complete"]
)
def test_a38_no_dont_do_that_arrived_as_do_that(said: str) -> None:
    """Caught by the grammar: only a whole phrase counts, never the tail of another one."""
    made = shop(spoken=True, state=at_step("wipe-down").state)
    made.work().say(said)
    assert made.events() in (["unclear"], [])
    assert made.step() == "wipe-down"


def test_a38_a_shop_phrase_that_ends_like_another() -> None:
    """A shop can't give the tail of a confirmation a second meaning."""
    with pytest.raises(BadFile, match="step complete"):
        extend(
            phrasebook("en"),
            'language: en\nintents:\n  negative: ["step complete"]\n',
            "shop.yaml",
        )


def test_a40_the_headset_went_away() -> None:
    """Caught when the sound stops: the job waits where it is, keys work, and it comes back."""
    made = shop(typed=True, spoken=True, state=at_step("wipe-down").state).work()
    assert made.ear is not None
    made.ear.say(Nothing("lost"))
    made.bay.turn(0.0)
    assert (made.mode(), made.step()) == (Mode.STEP, "wipe-down")
    made.type("where are we")
    assert "where_are_we" in made.events()
    made.say("what is off")
    assert made.events()[-1] == "what_is_off"


@pytest.mark.parametrize(
    ("text", "words"),
    [("Keep 3 m away.", "three meters"), ("22 N·m", "newton meters"), ("5 min", "five minutes")],
)
def test_a41_3m_spoken_as_three_minutes(text: str, words: str) -> None:
    """Prevented before the voice: units become words from one table, none reaches it short."""
    assert words in for_ear(text, wording("en"))
    bench = job(f'- step: a\n  do: "{text}"\n')
    bench.answer()
    spoken = words_of("en").spoken(bench.lines()[1])
    assert words in spoken
    assert not any(sign.isdigit() for sign in spoken)

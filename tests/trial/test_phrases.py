"""What is admitted when a clip is heard."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import packaged
from assistant.errors import BadFile, BadInput
from assistant.language.intent import Cost
from assistant.trial.phrases import Phrases, of_list, read_phrases
from tests.trial.clips import row


@pytest.fixture(scope="module")
def book() -> Phrases:
    """The packaged phrasebook."""
    return read_phrases(None, "en")


def test_a_list_admits_all_its_phrases_always() -> None:
    """Each line is a command of its own; empty lines and comments are none."""
    phrases = of_list("# words\nGo\n\nturn it left\nno\n", "words.txt", "en")
    grammar, meant = phrases.meant(row(transcript="TURN it left"))
    assert meant.name == "turn it left"
    assert set(grammar.vosk_phrases()) >= {"go", "no"}
    assert grammar.cost_of("go") is Cost.CONTROL
    assert phrases.unrelated() is grammar or phrases.unrelated().match("go") is not None


@pytest.mark.parametrize(
    ("text", "line"), [("go\n5 bolts\n", 2), ("go\n\nturn <way>\n", 3), ("# none\n", 0)]
)
def test_a_line_that_is_no_phrase_is_named(text: str, line: int) -> None:
    """Figures, slots and an empty list are errors of their line."""
    with pytest.raises(BadFile) as caught:
        of_list(text, "words.txt", "en")
    assert caught.value.findings[0].line == line


def test_a_command_is_heard_in_a_state_of_the_job(book: Phrases) -> None:
    """An ordinary command meets an open step; an answer meets the state that asks for it."""
    step, meant = book.meant(row(transcript="step complete"))
    assert meant.name == "step_done"
    assert step.match("reading two two newton meters") is not None
    assert step.match("reading two two millimeters") is None
    assert step.match("affirm") is None
    asked, meant = book.meant(row(transcript="affirm"))
    assert meant.name == "affirm"
    assert asked.match("step complete") is None


def test_a_reading_is_heard_by_a_step_that_asks_for_its_unit(book: Phrases) -> None:
    """Units of another kind, or that sound like it, are not admitted; fractions for inches only."""
    step, meant = book.meant(row("reading", "reading one two point four millimeters"))
    assert meant.get("number") == "12.4"
    assert step.match("reading four liters") is None
    assert step.match("reading nine sixteenths inch") is None
    assert step.match("step complete") is not None
    inches, meant = book.meant(row("reading", "reading nine sixteenths inch"))
    assert meant.get("number") == "9/16"
    assert inches.match("reading one two point four millimeters") is not None


def test_every_fixture_is_a_phrase_of_some_state(book: Phrases) -> None:
    """Nothing of the phrasebook falls between the states: each taught phrase has one."""
    whole = packaged.phrasebook("en")
    for name, entry in whole.intents.items():
        for text in entry.phrases:
            if "<" not in text:
                assert book.meant(row(transcript=text))[1].name == name


def test_a_read_back_is_heard_where_only_it_counts(book: Phrases) -> None:
    """A safety stop admits its own words with a number; unrelated speech meets all of them."""
    ways = list(packaged.stop_texts("en").read_backs().values())
    first, second = (way[0] for way in ways[:2])
    grammar, meant = book.meant(row(transcript=f"{first} four two"))
    assert meant.name == "read_back"
    assert grammar.match(f"{second} four two") is None
    unrelated = book.unrelated()
    for way in ways:
        found = unrelated.match(f"{way[0]} four two")
        assert found is not None
        assert unrelated.cost_of(found.name) is Cost.READ_BACK
    assert unrelated.match("step complete") is not None
    assert unrelated.match("affirm") is not None


def test_wrong_labels_are_all_named_before_anything_is_heard(book: Phrases) -> None:
    """A command that is no phrase, and unrelated speech that is one."""
    book.check([row("command", "step complete"), row("speech", "the step is complete")])
    with pytest.raises(BadInput) as caught:
        book.check([row("command", "open the pod"), row("speech", "Step complete.")])
    first, second = str(caught.value).splitlines()
    assert first == 'clips.csv:2: "open the pod" is not among the phrases of the phrasebook'
    assert second.startswith("clips.csv:2: kind speech, but")


def test_a_phrasebook_of_ones_own_is_read_and_its_errors_named(tmp_path: Path) -> None:
    """A book without the job's intents has one state; a wrong one is told by file and line."""
    file = tmp_path / "own.yaml"
    file.write_text(
        'language: en\nintents:\n  lights: {cost: control, phrases: ["lights on"], help: "on"}\n'
    )
    phrases = read_phrases(file, "en")
    assert phrases.meant(row(transcript="lights on"))[1].name == "lights"
    assert phrases.unrelated().match("lights on") is not None
    file.write_text("language: en\nintents:\n  lights: {cost: free}\n")
    with pytest.raises(BadFile) as caught:
        read_phrases(file, "en")
    assert str(caught.value).startswith(f"{file}:3")


def test_a_book_with_units_that_the_trade_has_not_is_heard_as_it_is(tmp_path: Path) -> None:
    """A unit of one's own narrows nothing and stops nothing."""
    file = tmp_path / "own.yaml"
    file.write_text(
        "language: en\nslots: {unit: {grub: [grubs]}}\nintents:\n"
        '  step_done: {cost: confirmation, phrases: ["step complete"], help: "done"}\n'
        '  reading: {cost: value, phrases: ["reading <number> <unit>"], help: "a value"}\n'
    )
    grammar, meant = read_phrases(file, "en").meant(row("reading", "reading two grubs"))
    assert meant.get("unit") == "grub"
    assert grammar.match("step complete") is not None


def test_a_list_may_be_of_any_language() -> None:
    """Words of a language that no phrasebook is packaged for are taken as they are."""
    assert of_list("seis\n", "words.txt", "es").unrelated().language == "es"

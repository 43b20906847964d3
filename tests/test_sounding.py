"""What sounds alike in the shipped phrases, in a roster, and in a shop's own phrases."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.checking import check_shop
from assistant.checklist.loader import load
from assistant.language.confusion import alike, fixed_phrases
from assistant.language.intent import Cost
from assistant.language.phrasebook import extend
from assistant.packaged import phrasebook
from assistant.shelf import checklists_folder, find_checklist, load_checklist
from assistant.sounding import (
    addition_findings,
    dictionary_for,
    grammars,
    roster_findings,
    unit_findings,
    wrench_findings,
)
from tests.field_log.replay import checklist

PEOPLE = {"mara": "Mara", "ines": "Ines", "tobin": "Tobin"}


def test_what_sounds_alike_among_the_shipped_phrases() -> None:
    """In no state does a phrase that confirms or steers sound like another; the rest is known.

    Two questions change nothing when they are confused. Names of parts are read back with their
    count before they count.
    """
    book = phrasebook("en")
    pairs = set()
    for _, grammar in grammars(book, PEOPLE):
        phrases = fixed_phrases(grammar.patterns)
        for pair in alike(phrases, dictionary_for(grammar)):
            intents = [phrases[tuple(each.split())][0] for each in (pair.one, pair.other)]
            costs = {book.intents[intent].cost for intent in intents}
            assert costs <= {Cost.QUESTION, Cost.VALUE}, str(pair)
            pairs.add(tuple(sorted(intents)))
    assert pairs == {
        ("what_parts", "what_torque"),
        ("name_part", "name_part"),
        ("name_part", "why"),  # hose
    }


def test_every_word_of_the_shipped_phrases_can_be_compared() -> None:
    """No phrase is passed over because a word of it has no pronunciation."""
    for _, grammar in grammars(phrasebook("en"), PEOPLE):
        assert grammar.words() <= dictionary_for(grammar).keys()


def test_no_unit_of_a_shipped_checklist_sounds_like_another() -> None:
    """Units that are asked for in one step of a shipped checklist can be told apart."""
    folder = checklists_folder()
    for path in sorted(folder.glob("*.yaml")):
        assert list(unit_findings(load_checklist(find_checklist(str(path))))) == [], path


def test_units_that_sound_alike_in_one_step() -> None:
    """A step that asks for liters and milliliters is told, with the step and both units."""
    text = checklist(
        """\
        - step: fill
          do: "Fill it."
          readings:
            - {name: "level", unit: mm, at_least: "1 mm", at_most: "9 mm"}
            - {name: "amount", unit: mL, at_least: "1 mL", at_most: "9 mL"}
        """
    )
    found = list(unit_findings(load({"small.yaml": text}, "small.yaml")))
    assert any("milliliters" in one.message and "millimeters" in one.message for one in found)
    assert all(one.line > 0 and one.code == "sounds-alike" for one in found)


def test_names_that_sound_alike() -> None:
    """Two people whose names are confused by ear are both named."""
    roster = {"dan": "Dan", "ben": "Ben", "mara": "Mara"}
    (found,) = roster_findings(phrasebook("en"), roster, "shop.yaml")
    assert '"hand over to dan" and "hand over to ben"' in found.message
    assert (found.level, found.code, found.file) == ("warning", "sounds-alike", "shop.yaml")


def test_a_name_that_begins_another() -> None:
    """A name that another one goes on from is told: it is decided only after silence."""
    found = list(roster_findings(phrasebook("en"), {"ann": "Ann", "ap": "Ann Parker"}, "shop.yaml"))
    assert {one.code for one in found} == {"part-of-a-phrase"}


def test_wrenches_that_sound_alike() -> None:
    """Two torque wrenches that differ by one sound are both named; a single one never is."""
    book = phrasebook("en")
    (found,) = wrench_findings(book, ["small wrench", "tall wrench"], "shop.yaml")
    assert '"use the small wrench" and "use the tall wrench"' in found.message
    assert list(wrench_findings(book, ["small wrench"], "shop.yaml")) == []
    assert list(wrench_findings(book, ["small wrench", "the long bar"], "shop.yaml")) == []


def test_the_people_of_the_demo_can_be_told_apart() -> None:
    """Mara, Ines and Tobin do not sound alike."""
    assert list(roster_findings(phrasebook("en"), PEOPLE, "shop.yaml")) == []


@pytest.mark.parametrize(
    ("intent", "phrase", "code", "other"),
    [
        ("say_again", "step incomplete", "sounds-alike", "step complete"),
        ("what_is_off", "where are we now", "part-of-a-phrase", "where are we"),
        ("freeze", "do not carry on", "part-of-a-phrase", "carry on"),
    ],
)
def test_a_shop_s_own_phrase_that_collides(intent: str, phrase: str, code: str, other: str) -> None:
    """An addition that sounds like, begins or ends another phrase is told with both."""
    book = phrasebook("en")
    text = f'language: en\nintents:\n  {intent}: ["{phrase}"]\n'
    added = extend(book, text, "shop.yaml")
    found = list(addition_findings(book, added, PEOPLE, "shop.yaml"))
    assert any(
        one.code == code and f'"{phrase}"' in one.message and f'"{other}"' in one.message
        for one in found
    ), found


def test_a_shop_s_own_phrase_that_is_its_own() -> None:
    """An addition unlike anything else is no finding, and what came with the book is not told."""
    book = phrasebook("en")
    text = 'language: en\nintents:\n  what_is_off: ["list everything removed"]\n'
    assert list(addition_findings(book, extend(book, text, "f"), PEOPLE, "f")) == []


def test_the_shop_file_is_checked(tmp_path: Path) -> None:
    """`check` tells of the shop's names only when there is something to tell."""
    assert check_shop(tmp_path) is None
    path = tmp_path / "shop.yaml"
    path.write_text("roster: {mara: Mara, ines: Ines}\n", encoding="utf-8")
    assert check_shop(tmp_path) is None
    path.write_text("roster: {dan: Dan, ben: Ben}\n", encoding="utf-8")
    checked = check_shop(tmp_path)
    assert checked is not None
    assert checked.ok
    assert len(checked.findings) == 1
    path.write_text("roster: [dan]\n", encoding="utf-8")
    broken = check_shop(tmp_path)
    assert broken is not None
    assert not broken.ok

"""Loading phrasebooks, and a shop's own additions."""

from __future__ import annotations

import pytest

from assistant.errors import BadFile
from assistant.language.grammar import build_grammar
from assistant.language.intent import Cost
from assistant.language.numbers import NumberWords
from assistant.language.phrasebook import Phrasebook, Slot, extend, load_phrasebook, parts

SMALL = """\
language: en
state_slots: [name]
intents:
  done: {cost: confirmation, phrases: ["step complete", "done and checked"], help: "h"}
  give: {cost: control, phrases: ["hand over to <name>"], help: "h"}
  what: {cost: value, phrases: ["<part>"], help: "h"}
slots:
  part:
    bolt: ["bolt", "bolts"]
    nut: ["nut"]
"""


def findings(text: str, numbers: NumberWords | None = None) -> list[tuple[str, int]]:
    """Codes and lines of what is wrong."""
    with pytest.raises(BadFile) as caught:
        load_phrasebook(text, "book.yaml", numbers)
    assert all(f.file == "book.yaml" and f.message for f in caught.value.findings)
    return [(f.code, f.line) for f in caught.value.findings]


def test_the_english_phrasebook(book: Phrasebook) -> None:
    """Every intent has its cost, its taught phrase and its help."""
    assert book.taught("step_done") == "step complete"
    assert book.intents["read_back"].cost is Cost.READ_BACK
    assert book.intents["say_again"].cost is Cost.QUESTION
    assert book.slots["unit"]["N·m"][0] == "newton meters"
    assert all(entry.help for entry in book.intents.values())
    with pytest.raises(KeyError):
        book.taught("no such intent")


def test_both_languages_name_the_same_intents(book: Phrasebook, korean_book: Phrasebook) -> None:
    """A job understands intents, whatever the language; costs are the same too."""
    assert korean_book.language == "ko"
    assert len(korean_book.intents) >= 10
    for name, entry in korean_book.intents.items():
        assert entry.cost is book.intents[name].cost
    assert korean_book.slots["unit"].keys() <= book.slots["unit"].keys()


def test_a_phrase_is_words_and_slots() -> None:
    """Words are normalized, slots kept."""
    assert parts("Reading <number> X-ray") == ("reading", Slot("number"), "x", "ray")


@pytest.mark.parametrize("text", ["", "<>", "size 5", "a < b", "what?", "50%", "_"])
def test_phrases_that_cannot_be_said(text: str) -> None:
    """Figures and signs in a phrase are refused."""
    with pytest.raises(ValueError, match=r"spoken|no words"):
        parts(text)


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("cost: control", "cost: cheap", "enum", 5),
        ('"step complete"', '"step 5 complete"', "phrase", 4),
        ('"step complete"', "5", "string-type", 4),
        ("<name>", "<nane>", "unknown-slot", 5),
        ("<name>", "<name> <name>", "slot-twice", 5),
        ("<name>", "<number>", "no-numbers", 5),
        ('nut: ["nut"]', 'nut: ["bolts"]', "two-meanings", 10),
        ('nut: ["nut"]', 'nut: ["nut 5"]', "way", 10),
        ('nut: ["nut"]', "nut: []", "too-short", 10),
        ('"done and checked"', '"bolt"', "two-meanings", 9),
        ('"done and checked"', '"hand over to <name>"', "two-meanings", 5),
        ("[name]", "[name, part]", "state-slot", 2),
        (', help: "h"}\n  give', "}\n  give", "missing", 4),
        ("language: en", "language: English", "string-pattern-mismatch", 1),
        ("state_slots", "stateslots", "extra-forbidden", 2),
        ("  part:", "  number:", "unknown-slot", 6),
    ],
)
def test_mistakes_in_the_file(old: str, new: str, code: str, line: int) -> None:
    """Each mistake is found on its line."""
    assert old in SMALL
    assert (code, line) in findings(SMALL.replace(old, new))


def test_a_rule_slot_cannot_be_a_table(numbers: NumberWords) -> None:
    """<number> is a rule; a table of that name would never be asked."""
    text = SMALL + "  number:\n    one: ['one']\n"
    assert findings(text, numbers) == [("slot-name", 11)]


def test_the_same_number_meaning_two_things(numbers: NumberWords) -> None:
    """Words that only a rule admits are compared too: a count is a number."""
    text = SMALL.replace('"step complete"', '"count <cardinal>"').replace(
        '"hand over to <name>"', '"count <number>"'
    )
    with pytest.raises(BadFile, match=r'"count .*" would mean both done and give'):
        load_phrasebook(text, "book.yaml", numbers)


def test_bad_pronunciations() -> None:
    """A pronunciation is ARPABET phones of one word."""
    text = SMALL + "pronunciations:\n  alfa: ['AE L F AH']\n  bravo: ['brah voh']\n"
    assert findings(text) == [("pronunciation", 13)]


def test_a_shop_adds_phrases_and_ways(book: Phrasebook) -> None:
    """Additions are understood beside the shipped phrases; the taught phrase stays."""
    text = """\
language: en
intents:
  step_done: ["that is torqued"]
slots:
  part:
    fairing: ["fairing", "fairings"]
    bolt: ["cap screw"]
pronunciations:
  torqued: ["T AO R K T"]
"""
    longer = extend(book, text, "shop.yaml")
    assert longer.taught("step_done") == "step complete"
    assert longer.files[-1] == "shop.yaml"
    grammar = build_grammar(longer, ["step_done", "name_part"])
    said = grammar.match("That is torqued.")
    assert said is not None
    assert said.name == "step_done"
    assert [grammar.matches(w)[0].get("part") for w in ("fairing", "cap screw", "bolts")] == [
        "fairing",
        "bolt",
        "bolt",
    ]
    assert "torqued" in grammar.pronunciations
    assert "that is torqued" not in book.intents["step_done"].phrases


def test_a_shop_adds_hundreds_of_phrases_and_not_thousands(book: Phrasebook) -> None:
    """All phrases are held against one another, so a file without end would hold up the job."""
    text = "language: en\nintents:\n  step_done:\n" + "    - wrapped and tight\n" * 501
    with pytest.raises(BadFile, match="501 phrases and ways; up to 500"):
        extend(book, text, "shop.yaml")


def test_nobody_adds_to_the_words_of_a_safety_stop(book: Phrasebook) -> None:
    """What is read back is the program's own, and its words are refused with their line."""
    with pytest.raises(BadFile) as caught:
        extend(book, "language: en\nintents:\n  read_back: [whatever <challenge>]\n", "shop.yaml")
    assert [(f.code, f.line) for f in caught.value.findings] == [("read-back", 3)]


@pytest.mark.parametrize(
    ("text", "line", "names"),
    [
        ('language: en\nintents:\n  step_done: ["say again"]\n', 3, ("step_done", "say_again")),
        ('language: en\nslots:\n  part:\n    rod: ["bolt"]\n', 4, ("bolt", "rod")),
        ('language: en\nslots:\n  part:\n    fog: ["smoke"]\n', 4, ("smoke", "name_part")),
        ('language: en\nintents:\n  step_don: ["yep yep"]\n', 3, ("step_don", "step_done")),
        ('language: en\nslots:\n  parts: {a: ["b"]}\n', 3, ("parts", "part")),
        ('language: ko\nintents:\n  step_done: ["yep yep"]\n', 1, ("ko", "en")),
        ('language: en\nintents:\n  affirm: ["yes", "it is <numbr>"]\n', 3, ("numbr", "number")),
        ('language: en\nintents:\n  affirm:\n    - "yes"\n    - "4"\n', 5, ("4", "affirm")),
    ],
)
def test_additions_that_collide_or_miss(
    book: Phrasebook, text: str, line: int, names: tuple[str, ...]
) -> None:
    """Words for two things are an error that names both; so is a name that isn't there."""
    with pytest.raises(BadFile) as caught:
        extend(book, text, "shop.yaml")
    (finding,) = caught.value.findings
    assert (finding.file, finding.line) == ("shop.yaml", line)
    assert all(name in finding.message for name in names)

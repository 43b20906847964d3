"""What may be said in each state, and the grammar made of it."""

from __future__ import annotations

import pytest

from assistant.job.admit import admitted, fillers, read_back_wanted
from assistant.job.state import Mode
from assistant.job.table import TABLE
from assistant.language.grammar import build_grammar
from assistant.packaged import phrasebook
from tests.job.bench import Bench, at_step
from tests.job.test_table import MAKE

BOOK = phrasebook("en")


@pytest.mark.parametrize("mode", Mode)
def test_what_is_admitted_is_in_the_phrasebook_and_the_table(mode: Mode) -> None:
    """Only intents that have phrases, and only what the table acts on."""
    bench = MAKE[mode]()
    names = admitted(bench.setting, bench.state)
    assert names <= BOOK.intents.keys()
    assert all((mode, name) in TABLE for name in names)


@pytest.mark.parametrize("mode", [m for m in Mode if m not in (Mode.NEW, Mode.RELEASED)])
def test_every_mode_has_a_grammar_without_doubles(mode: Mode) -> None:
    """It can be built, what it teaches is understood as itself, and nothing means two things."""
    bench = MAKE[mode]()
    names = admitted(bench.setting, bench.state)
    grammar = build_grammar(BOOK, names, fillers(bench.setting, bench.state))
    assert set(grammar.admitted) == names
    for name in names:
        taught = BOOK.taught(name)
        if "<" not in taught:
            heard = grammar.match(taught)
            assert heard is not None
            assert heard.name == name
    assert grammar.words()


@pytest.mark.parametrize("mode", [Mode.STOP, Mode.STOP_SECOND, Mode.SECOND_PERSON, Mode.FROZEN])
def test_the_read_back_wanted_can_be_said_and_no_other(mode: Mode) -> None:
    """The live words with the live number are understood, and passed on as they are."""
    bench = MAKE[mode]()
    if mode is Mode.FROZEN:
        assert "read_back" not in admitted(bench.setting, bench.state)
        bench.hear("carry_on")
    wanted = read_back_wanted(bench.setting, bench.state)
    assert wanted is not None
    key, words = wanted
    grammar = build_grammar(
        BOOK, admitted(bench.setting, bench.state), fillers(bench.setting, bench.state)
    )
    heard = grammar.match(f"{words} nine zero")
    assert heard is not None
    assert (heard.get("read_back"), heard.get("challenge")) == (key, "90")
    assert grammar.match("lines are on and dry nine zero") is None
    assert grammar.match(words) is None


def test_no_read_back_is_wanted_elsewhere() -> None:
    """Outside the four modes there is none."""
    for mode, make in MAKE.items():
        bench = make()
        if mode not in (Mode.STOP, Mode.STOP_SECOND, Mode.SECOND_PERSON, Mode.FROZEN):
            assert read_back_wanted(bench.setting, bench.state) is None
            assert "read_back" not in admitted(bench.setting, bench.state)


@pytest.mark.parametrize(
    ("name", "has", "lacks"),
    [
        ("reading", "resting-voltage", "hose-on"),
        ("start_hold", "lever-hold", "hose-on"),
        ("convert", "hose-on", "line-on"),
        ("read_part_number", "hose-on", "line-on"),
    ],
)
def test_only_what_the_step_asks_for(name: str, has: str, lacks: str) -> None:
    """Long lists of numbers are heard only where one is asked for."""
    one, other = at_step(has), at_step(lacks)
    assert name in admitted(one.setting, one.state)
    assert name not in admitted(other.setting, other.state)


def test_names_come_from_the_roster() -> None:
    """Everybody on the roster can be named, by id."""
    bench = Bench()
    assert fillers(bench.setting, bench.state)["name"] == {
        "mara": ("mara",),
        "ines": ("ines",),
        "tobin": ("tobin",),
    }

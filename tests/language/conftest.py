"""The shipped language files, read once."""

from __future__ import annotations

from pathlib import Path

import pytest

import assistant.language
from assistant.language.numbers import NumberWords, load_numbers
from assistant.language.phrasebook import Phrasebook, load_phrasebook
from assistant.language.wording import Wording, load_wording

DATA = Path(assistant.language.__file__).parent / "data"


def shipped(name: str) -> tuple[str, str]:
    """Text and name of a shipped file, for example "en/numbers.yaml"."""
    return (DATA / name).read_text(encoding="utf-8"), name


@pytest.fixture(scope="session")
def numbers() -> NumberWords:
    """English number words."""
    return load_numbers(*shipped("en/numbers.yaml"))


@pytest.fixture(scope="session")
def korean_numbers() -> NumberWords:
    """Korean number words."""
    return load_numbers(*shipped("ko/numbers.yaml"))


@pytest.fixture(scope="session")
def book(numbers: NumberWords) -> Phrasebook:
    """The English phrasebook."""
    return load_phrasebook(*shipped("en/phrasebook.yaml"), numbers)


@pytest.fixture(scope="session")
def korean_book(korean_numbers: NumberWords) -> Phrasebook:
    """The Korean phrasebook."""
    return load_phrasebook(*shipped("ko/phrasebook.yaml"), korean_numbers)


@pytest.fixture(scope="session")
def wording(numbers: NumberWords) -> Wording:
    """The English wording table."""
    return load_wording(*shipped("en/wording.yaml"), numbers)

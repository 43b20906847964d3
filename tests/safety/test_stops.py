"""The fixed texts of the safety stops."""

from __future__ import annotations

import hashlib
from importlib.resources import files

import pytest
import yaml

from assistant import packaged
from assistant.checklist.tags import SignalWord
from assistant.errors import BadFile
from assistant.language.expression import normalize
from assistant.language.grammar import build_grammar
from assistant.safety.hazards import Stop
from assistant.safety.stops import load_stops

TEXT = (files("assistant") / "safety/data/en/stops.yaml").read_text(encoding="utf-8")
TEXTS = load_stops(TEXT, "stops.yaml")


def test_every_stop_has_its_text() -> None:
    """All seven stops are there, with a hazard, demands and a read-back."""
    assert set(TEXTS.stops) == set(Stop)
    assert len(Stop) == 7


def test_the_record_can_name_the_very_text() -> None:
    """The hash is the plain SHA-256 of the file, which sha256sum gives too."""
    assert hashlib.sha256(TEXT.encode()).hexdigest() == TEXTS.sha256
    assert packaged.stop_texts("en").sha256 == TEXTS.sha256


def test_signal_words_are_those_of_the_standard() -> None:
    """Stops that can kill or maim carry DANGER or WARNING.

    ANSI Z535.4 keeps CAUTION for minor injury and NOTICE for damage only, in this order of
    severity: DANGER, WARNING, CAUTION, NOTICE.
    """
    assert [word.value for word in SignalWord] == ["DANGER", "WARNING", "CAUTION", "NOTICE"]
    for stop in TEXTS.stops.values():
        assert stop.signal in (SignalWord.DANGER, SignalWord.WARNING)


def test_read_backs_are_told_apart() -> None:
    """No two read-backs are the same, nor does one begin another: each stop has its own words."""
    words = [stop.read_back for stop in TEXTS.stops.values()]
    words += [TEXTS.second_person, TEXTS.freeze]
    spoken = [normalize(text) for text in words]
    for i, one in enumerate(spoken):
        for other in spoken[i + 1 :]:
            shorter = min(len(one), len(other))
            assert one[:shorter] != other[:shorter]


def test_read_backs_can_be_spoken_and_matched() -> None:
    """Each read-back with a number is understood as itself, and not without its number."""
    book = packaged.phrasebook("en")
    for stop, text in TEXTS.stops.items():
        grammar = build_grammar(book, ["read_back"], {"read_back": {stop.value: (text.read_back,)}})
        heard = grammar.match(f"{text.read_back} four seven")
        assert heard is not None
        assert heard.get("read_back") == stop.value
        assert heard.get("challenge") == "47"
        assert grammar.match(text.read_back) is None


def test_no_text_answers_itself() -> None:
    """What a stop says about itself never holds its read-back words (I4)."""
    for stop in TEXTS.stops.values():
        told = " ".join((stop.title, stop.hazard, *stop.demands))
        assert " ".join(normalize(stop.read_back)) not in " ".join(normalize(told))


def test_isolation_is_tried_out_in_the_words() -> None:
    """The battery stop speaks of the cable held away: isolation is verified, not assumed.

    29 CFR 1910.147 (d)(5) and (d)(6): stored energy held, isolation verified before work.
    """
    demands = " ".join(TEXTS.stops[Stop.BATTERY_OFF].demands)
    assert "cannot spring back" in demands


@pytest.mark.parametrize("stop", [stop.value for stop in Stop])
def test_a_missing_stop_is_refused(stop: str) -> None:
    """A file without one of the seven stops is no file of stops; the message names it."""
    raw = yaml.safe_load(TEXT)
    del raw["stops"][stop]
    with pytest.raises(BadFile) as refused:
        load_stops(yaml.safe_dump(raw), "mine.yaml")
    (finding,) = refused.value.findings
    assert stop in finding.message
    assert finding.file == "mine.yaml"


@pytest.mark.parametrize(
    "text",
    [
        "stops: [",
        "just words",
        TEXT.replace("signal: DANGER", "signal: MAYBE", 1),
        TEXT.replace("read_back: lines are on and dry", "read_back: ''"),
        TEXT + "extra: 1\n",
    ],
)
def test_a_malformed_file_is_refused(text: str) -> None:
    """Broken YAML, an unknown signal word, an empty read-back and unknown keys are refused."""
    with pytest.raises(BadFile):
        load_stops(text, "mine.yaml")

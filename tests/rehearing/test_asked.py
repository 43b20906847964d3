"""What an archived job asks to be heard again, and among which phrases."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from assistant.errors import RecordDamaged
from assistant.record.clips import read_clip
from assistant.record.retaining import retain
from assistant.rehearing.asked import acted_on, asked_of, outcome
from assistant.rehearing.worker import grammar_of, hear_batch
from tests.job.bench import Bench
from tests.rehearing.archive import ENGINE, archived, one_misheard


def test_each_clip_has_the_phrases_of_its_moment(tmp_path: Path) -> None:
    """The first answer is to how the machine is held: no step can be confirmed there yet."""
    left: Counter[str] = Counter()
    asked = list(asked_of(archived(tmp_path, "one"), left))
    assert [one.n for one in asked] == sorted({one.n for one in asked})
    first, second = asked[0], asked[1]
    assert first.then["intent"] == "affirm"
    assert "affirm" in first.phrases.names
    assert "step_done" not in first.phrases.names
    assert second.then["intent"] == "step_done"
    assert "step_done" in second.phrases.names
    for one in asked:  # what was acted on then can be said among them
        intent = grammar_of(one.phrases).match(one.then["text"])
        assert intent is not None
        assert intent.name == one.then["intent"]
    assert not left


def test_a_mishearing_is_found_and_a_safety_number_too(tmp_path: Path) -> None:
    """A question that was taken for "affirm", and a read-back whose sound has another number."""
    folder = archived(tmp_path, "one", one_misheard)
    asked = list(asked_of(folder, Counter()))
    sound = [(one.phrases, read_clip(folder, one.clip)) for one in asked]
    made = hear_batch(ENGINE, sound).made
    differ = [
        (one.then["intent"], now["intent"])
        for one, now in zip(asked, made, strict=True)
        if acted_on(one.then) != acted_on(now)
    ]
    assert ("affirm", "what_torque") in differ
    assert ("read_back", "read_back") in differ
    assert {then for then, _ in differ} == {"affirm", "read_back"}


@pytest.mark.parametrize("engine", [ENGINE, "pair"])
def test_the_order_changes_nothing(tmp_path: Path, engine: str) -> None:
    """Recognizers adapt to what they hear; a result must not depend on what came before."""
    folder = archived(tmp_path, "one")
    asked = list(asked_of(folder, Counter()))
    sound = [(one.phrases, read_clip(folder, one.clip)) for one in asked[:6]]
    assert hear_batch(engine, sound).made == hear_batch(engine, sound[::-1]).made[::-1]


def test_what_is_not_heard_again_is_counted(tmp_path: Path) -> None:
    """Sound removed by the rule, sound never kept, and free speech."""
    bench = Bench()
    bench.answer()
    bench.unclear("what torque")
    bench.hear("take_note")
    bench.dictate()
    bench.finish()
    left: Counter[str] = Counter()
    folder = archived(tmp_path, "kept", events=bench.events)
    asked = list(asked_of(folder, left))
    assert [one.then["verdict"] for one in asked].count("unclear") == 1
    assert left == {"free_speech": 1}
    retain(folder, 0, ("2026-04-02T10:00:00.000Z", 1.0))
    left.clear()
    assert list(asked_of(folder, left)) == []
    assert left == {"free_speech": 1, "removed": len(asked)}
    left.clear()
    assert list(asked_of(archived(tmp_path, "not", events=bench.events, clips=False), left)) == []
    assert left == {"free_speech": 1, "not_kept": len(asked)}


def test_a_damaged_record_is_not_heard_again(tmp_path: Path) -> None:
    """What a changed clip says would be held against a person."""
    folder = archived(tmp_path, "one")
    next((folder / "clips").iterdir()).write_bytes(b"other")
    with pytest.raises(RecordDamaged, match="does not verify"):
        list(asked_of(folder, Counter()))


@pytest.mark.parametrize(
    ("then", "now", "same"),
    [
        (("a", "done", (), "accepted"), ("b", "done", (), "accepted"), True),
        (("a", None, (), "unclear"), ("b", "done", (), "unclear"), True),
        (("a", "done", (), "accepted"), ("a", "done", (), "unclear"), False),
        (("a", "r", (("n", "15"),), "accepted"), ("a", "r", (("n", "50"),), "accepted"), False),
        (("a", "done", (), "accepted"), ("", None, (), "not hearable"), False),
    ],
)
def test_only_what_is_done_counts(then: tuple, now: tuple, same: bool) -> None:  # type: ignore[type-arg] # rows of the table
    """Other words for the same are the same; what is asked again is the same whatever it was."""
    assert (acted_on(outcome(*then)) == acted_on(outcome(*now))) is same

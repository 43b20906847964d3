"""Which recordings may be trained on."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from assistant.acoustics.splits import (
    HELD_WORDS,
    UNHEARD_WORDS,
    further_recordings,
    noises,
    share,
    test_recordings,
    training_recordings,
)
from assistant.errors import BadInput

test_recordings.__test__ = False  # type: ignore[attr-defined] # a function of ours, no test

_SPEECH = Path(__file__).parents[3] / "shared" / "speech"
needs_speech = pytest.mark.skipif(
    not (_SPEECH / "manifest.csv").exists(), reason="the recordings of people are not here"
)


def test_the_hash_of_a_name_stays() -> None:
    """A split made today is the split of next year: SHA-256 of "a" begins with ca978112ca1b."""
    assert share("a") == int("ca978112ca1b", 16) / 16**12


@needs_speech
def test_no_speaker_trains_and_tests() -> None:
    """Nobody who is tested on was trained on or tuned with."""
    trained = {each.speaker for each in training_recordings(_SPEECH)}
    assert trained.isdisjoint(row["speaker"] for row in test_recordings(_SPEECH))


@needs_speech
def test_words_held_back_are_not_trained_on() -> None:
    """No clip that trains holds a word kept for measuring."""
    for each in training_recordings(_SPEECH):
        words = set(each.text.split())
        assert not words & UNHEARD_WORDS
        assert each.split != "train" or not words & HELD_WORDS


@needs_speech
def test_takes_of_one_noise_stay_together() -> None:
    """No noise is in both splits, and all are in one."""
    train, test = set(noises(_SPEECH, "train")), set(noises(_SPEECH, "test"))
    with (_SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        count = sum(row["kind"] == "noise" for row in csv.DictReader(file))
    assert not train & test
    assert len(train) + len(test) == count


def _manifest(folder: Path, *rows: str) -> Path:
    (folder / "a.flac").write_bytes(b"")
    path = folder / "clips.csv"
    path.write_text("\n".join(["file,transcript,speaker", *rows]) + "\n", encoding="utf-8")
    return path


def test_a_shops_own_clips_are_split_by_the_same_rules(tmp_path: Path) -> None:
    """Held words stay held, words of the test are left out, a speaker is in one split."""
    manifest = _manifest(
        tmp_path,
        "a.flac,Step complete,mara",
        "a.flac,say again,mara",
        "a.flac,the happy dog,mara",
        "a.flac,kilo,mara",
    )
    found = further_recordings(manifest)
    assert [each.text for each in found] == ["step complete", "say again", "the happy dog"]
    usual = "tuning" if share("mara") < 0.12 else "train"
    assert [each.split for each in found] == [usual, usual, "held words"]


@pytest.mark.parametrize(
    ("row", "wrong"),
    [("a.flac,,mara", "no transcript"), ("b.flac,say again,mara", "there is no file")],
)
def test_a_bad_row_of_clips_is_told_with_its_line(tmp_path: Path, row: str, wrong: str) -> None:
    """File and line, and what is wrong."""
    manifest = _manifest(tmp_path, "a.flac,say again,mara", row)
    with pytest.raises(BadInput, match=f"clips.csv:3: {wrong}"):
        further_recordings(manifest)

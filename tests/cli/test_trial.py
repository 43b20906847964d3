"""`trial` in this process, on clips of the repository."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from assistant.cli import trial as command
from assistant.cli.main import main
from assistant.trial.microphones import MICROPHONES
from tests.hearing.clips import FIXTURES
from tests.trial.clips import HEADER, saved, tone


@pytest.fixture
def clips(tmp_path: Path) -> Path:
    """Three commands and one clip of other speech, in a fixed voice; a list of phrases."""
    voice = FIXTURES / "en" / "flite-rms"
    rows = [
        f"{voice / 'carry-on.flac'},command,carry on,flite-rms,",
        f"{voice / 'what-size.flac'},command,what size,flite-rms,",
        f"{voice / 'stand-by.flac'},command,stand by,flite-rms,",
        f"{voice / 'take-a-note.flac'},speech,take a note,flite-rms,",
    ]
    (tmp_path / "clips.csv").write_text("\n".join((HEADER, *rows)) + "\n")
    (tmp_path / "words.txt").write_text("carry on\nwhat size\nstand by\nsay again\n")
    (tmp_path / "hums").mkdir()
    saved(tmp_path / "hums" / "hum.wav", tone(1.0, 0.1, 100))
    return tmp_path


def test_a_trial_tells_ours_and_plain(clips: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The JSON of product.md on stdout, progress on stderr, a line a clip in the file."""
    lines = clips / "lines.jsonl"
    code = main(
        [
            "trial",
            str(clips / "clips.csv"),
            "--engine",
            "pocketsphinx",
            "--phrases",
            str(clips / "words.txt"),
            "--json",
            "--noise",
            str(clips / "hums"),
            "--snr",
            "30",
            "--lines",
            str(lines),
        ]
    )
    said = capsys.readouterr()
    made = json.loads(said.out)
    assert code == 0
    assert made["engine"] == "pocketsphinx"
    assert "en-us" in made["model"]
    for way in ("ours", "plain"):
        table = made[way]
        assert [c["snr_db"] for c in table["conditions"]] == [None, 30.0]
        assert [c["noise"] for c in table["conditions"]] == [None, "hums"]
        assert table["conditions"][0]["correct"] == 3
        assert 0 < table["rtf"] < 10
        assert table["peak_mb"] > 50
    assert made["ours"]["false_accepts_per_hour"]["speech"] == 0
    assert made["plain"]["false_accepts_per_hour"]["speech"] > 0
    assert made["ours"]["latency_ms"]["median"] > 0
    assert "ours: 100%" in said.err
    assert "clips of unrelated speech rejected" in said.err
    entries = [json.loads(line) for line in lines.read_text().splitlines()]
    assert len(entries) == 2 * 7
    assert {entry["way"] for entry in entries} == {"ours", "plain"}


def test_the_command_line_names_every_microphone() -> None:
    """The list is written twice so that the command's help needs no audio library."""
    assert set(command._MICROPHONES) == set(MICROPHONES)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--snr", "10"], "--snr needs --noise"),
        (["--noise", "{}/none"], "no such folder"),
        (["--noise", "{}/hums", "--snr", "ten"], "--snr ten: numbers"),
        (["--noise", "{}/hums", "--snr", "nan"], "--snr nan: numbers"),
        (["--phrases", "{}/none.txt"], "none.txt"),
        (["--engine", "ears"], 'no engine "ears"'),
        (["--enroll"], "holds no take that can be used"),
        (["--enroll", "--only", "plain"], "--enroll needs ours"),
        (["--enroll-microphone", "headset"], "needs --enroll"),
        ([], "clips.csv:3"),
    ],
)
def test_bad_input_is_told_with_code_two(
    clips: Path, capsys: pytest.CaptureFixture[str], more: list[str], says: str
) -> None:
    """Each wrong option, and a label that is no phrase, says what would be right."""
    words = clips / "words.txt"
    if not more:
        words.write_text("carry on\n")
    options = [word.replace("{}", str(clips)) for word in more]
    phrases = [] if "--phrases" in options else ["--phrases", str(words)]
    assert main(["trial", str(clips / "clips.csv"), *phrases, *options]) == 2
    assert says in capsys.readouterr().err


def test_people_are_heard_without_and_with_their_takes(
    clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rows to be enrolled are not heard; the others are, in one table, by other microphones."""
    lines = (clips / "clips.csv").read_text().splitlines()
    takes = [f"{line},test" for line in lines[1:]] + [f"{line},enroll" for line in lines[1:4]]
    (clips / "clips.csv").write_text("\n".join((f"{HEADER},take", *takes)) + "\n")
    arguments = ["trial", str(clips / "clips.csv"), "--phrases", str(clips / "words.txt")]
    options = ["--enroll", "--only", "ours", "--enroll-microphone", "headset", "--json"]
    assert main([*arguments, *options, "--microphone", "telephone"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert (made["microphone"], made["enroll_microphone"]) == ("telephone", "headset")
    assert "plain" not in made
    for way in ("ours", "takes"):
        assert [line["n"] for line in made[way]["conditions"]] == [3]
        assert made[way]["conditions"][0]["correct"] == 3
        assert made[way]["rejection"]["n"] == 1


def test_a_limit_and_one_way_alone(clips: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One clip of each kind, our path only, as a table for people."""
    arguments = ["trial", os.path.relpath(clips / "clips.csv"), "--limit", "1", "--only", "ours"]
    assert main([*arguments, "--phrases", str(clips / "words.txt")]) == 0
    out = capsys.readouterr().out
    assert "ours   command  none           clean     1      1" in out
    assert "1 of 1 clips of unrelated speech rejected" in out
    assert "plain" not in out

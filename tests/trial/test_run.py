"""A whole trial with a listener that needs no recogniser."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.hearing.source import Source
from assistant.trial import NoiseFolder, Phrases, Row, read_manifest, run_trial
from assistant.trial.listeners import Listener
from assistant.trial.phrases import of_list
from assistant.trial.run import clips_to_hear
from assistant.trial.session import LATE_S, LONGEST_SESSION, sessions_of
from assistant.trial.sound import CLEAN, LEAD_S
from tests.trial.clips import CONDITIONS, LoudnessEar, manifest, row, saved, silence, tone

WORDS = {12_000: "stop", 2_000: "go"}
PHRASES = partial(of_list, "go\nstop\n", "words.txt", "en")


def listening(source: Source, _speaker: str) -> Listener:
    """Loud is stop, soft is go."""
    return LoudnessEar(source, WORDS)


@pytest.fixture
def rows(tmp_path: Path) -> tuple[Row, ...]:
    """Two commands heard right, one wrong, one not at all; loud and soft unrelated sound."""
    saved(tmp_path / "soft.wav", silence(0.3), tone(0.5, 0.1), silence(0.3))
    saved(tmp_path / "loud.wav", silence(0.3), tone(0.5, 0.5), silence(0.3))
    saved(tmp_path / "faint.wav", tone(0.5, 0.01))
    path = manifest(
        tmp_path,
        "soft.wav,command,go,ann,",
        "loud.wav,command,stop,bob,",
        "loud.wav,command,go,ann,",
        "faint.wav,reading,go,ann,",
        "loud.wav,speech,something else,,",
        "faint.wav,noise,,,",
    )
    return read_manifest(path)


def test_every_clip_is_heard_and_counted(rows: tuple[Row, ...]) -> None:
    """Two of three commands right; the faint one is missed; unrelated speech is taken once."""
    counted: list[int] = []
    table = run_trial(rows, listening, PHRASES, progress=counted.append)
    command, reading = table.lines
    assert (command.n, command.correct, command.wrong, command.asked_again) == (3, 2, 1, 0)
    assert (reading.n, reading.missed) == (1, 1)
    assert (table.false_accepts("speech"), table.false_accepts("noise")) == (1, 0)
    assert table.hours("speech") == pytest.approx(1.1 / 3600)
    assert sum(counted) == len(rows) == clips_to_hear(rows, None, ())


def test_latency_is_the_wait_after_the_last_voiced_sound(rows: tuple[Row, ...]) -> None:
    """This listener decides with the first quiet frame: within two frames and its work."""
    table = run_trial(rows[:1], listening, PHRASES)
    (latency,) = table.latencies_s()
    assert 0 < latency < 0.1


def test_what_noise_never_lets_end_is_ended_and_counted(
    rows: tuple[Row, ...], tmp_path: Path
) -> None:
    """A hum as loud as the words: LATE_S after the last voiced sound there is an answer.

    Without noise the listener finds the end by itself.
    """
    folder = tmp_path / "machines"
    folder.mkdir()
    saved(folder / "hum.wav", tone(1.0, 0.1, 100))
    noises = NoiseFolder(folder, 1)
    table = run_trial(rows[1:2], listening, PHRASES, noises=noises, snrs=(0,))
    clean, noisy = table.results
    assert (clean.late, noisy.late) == (False, True)
    assert (clean.outcome, noisy.outcome) == ("correct", "correct")
    assert noisy.latency_s is not None
    assert LATE_S <= noisy.latency_s < LATE_S + 0.1
    assert [line.late for line in table.lines] == [0, 1]
    assert [line.as_json()["late"] for line in table.lines] == [0, 1]
    assert table.sound_s < 2 * (LEAD_S + LATE_S + 2)


def test_noise_makes_conditions_of_commands_only(rows: tuple[Row, ...], tmp_path: Path) -> None:
    """Clean and each ratio for four commands; unrelated sound once."""
    folder = tmp_path / "machines"
    folder.mkdir()
    saved(folder / "hum.wav", tone(1.0, 0.1, 100))
    noises = NoiseFolder(folder, 1)
    table = run_trial(rows, listening, PHRASES, noises=noises, snrs=(40, 20))
    assert clips_to_hear(rows, noises, (40, 20)) == 3 * 4 + 2 == len(table.results)
    assert table.noise_clips() == (1, 4)
    names = {r.noise_clip for r in table.results if r.condition.noise}
    assert names == {"hum.wav"}
    ratios = [line.condition.snr_db for line in table.lines if line.kind == "command"]
    assert ratios == [None, 40, 20]


def test_processes_find_the_same_as_this_one(rows: tuple[Row, ...]) -> None:
    """Sessions in a process of its own come back in order, with its memory."""
    here = run_trial(rows, listening, PHRASES)
    there = run_trial(rows, listening, PHRASES, jobs=1)
    found = [[(r.row.file, r.outcome, r.text) for r in table.results] for table in (here, there)]
    assert found[0] == found[1]
    assert there.as_json()["peak_mb"] > 10


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere getrusage tells it")
def test_the_memory_of_a_process_is_its_own(rows: tuple[Row, ...]) -> None:
    """What this process holds, a third of a gigabyte, is not in the figure of the one that hears.

    Linux hands a parent's peak on to what it starts (seen: 497 MB told of 28).
    """
    ballast = np.ones(40_000_000)
    there = run_trial(rows[:1], listening, PHRASES, jobs=1)
    assert 10 < there.as_json()["peak_mb"] < ballast.nbytes / 1e6


def test_a_wrong_label_stops_before_anything_is_heard(rows: tuple[Row, ...]) -> None:
    """The row's place is told."""

    def deaf(_source: Source, _speaker: str) -> Listener:
        raise AssertionError

    with pytest.raises(BadInput, match=r"clips\.csv:3"):
        run_trial(rows, deaf, partial(of_list, "go\nleft\n", "words.txt", "en"))


def test_a_session_is_one_person_under_one_condition() -> None:
    """Long ones are parted; nobody's clips are mixed with another's; all clips are there."""
    rows = [row() for _ in range(LONGEST_SESSION + 1)]
    rows += [Row(Path("x"), "speech", "", "somebody"), Row(Path("x"), "command", "go", "other")]
    sessions = list(sessions_of(rows, lambda r: CONDITIONS if r.spoken else (CLEAN,)))
    assert len(sessions) == 2 * 3 + 1
    for session in sessions:
        assert {r.speaker for r in session.rows} == {session.speaker}
        assert len(session.rows) <= LONGEST_SESSION
    assert sum(len(s.rows) for s in sessions) == 2 * (LONGEST_SESSION + 2) + 1


def test_the_phrases_are_made_by_their_maker() -> None:
    """What a process gets is the way to make them, since grammars hold functions."""
    assert isinstance(PHRASES(), Phrases)

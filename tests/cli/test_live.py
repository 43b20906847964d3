"""A live job by keys: begun, stopped, taken up, released; and what is told meanwhile."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from assistant.cli.live import LiveClock, check_words, tell_of
from assistant.cli.main import main
from assistant.engines import open_engine
from assistant.errors import UnknownWords
from assistant.hearing import microphone
from assistant.opening import setting_of, words_of
from assistant.record.audit import audit
from assistant.record.folder import JOURNAL
from tests.job.bench import setting

START = ("start", "clutch-cable-adjustment", "--who", "Mara", "--vehicle", "WREN 7")
SILENT = ("--typed", "--loudspeaker", "no such loudspeaker")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of jobs of this test's own."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    return tmp_path


def _typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def _kinds(home: Path, job: str) -> list[str]:
    lines = (home / "jobs" / job / JOURNAL).read_text(encoding="utf-8").splitlines()
    return [json.loads(line)["kind"] for line in lines]


def test_a_job_by_keys_is_stopped_and_taken_up(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """When the input ends the job is kept; `resume` asks how the machine stands and goes on."""
    _typed(monkeypatch, "affirm", "step complete", "affirm")
    assert main([*START, "--job", "one", *SILENT]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "Logged." in told.err
    assert "Go on with: gloveson resume one" in told.err
    assert audit(home / "jobs" / "one").ok

    _typed(monkeypatch, "affirm", "what is off")
    assert main(["resume", "one", *SILENT]) == 1
    told = capsys.readouterr()
    assert "We go on with this job. Mara has it. Steps done so far: 1." in told.err
    assert "How is the machine held?" in told.err
    assert "Select neutral." in told.err
    assert _kinds(home, "one").count("resumed") == 1


@pytest.mark.usefixtures("home")
def test_the_kit_is_checked_first_where_that_is_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing tool is logged as an open trouble, and the record names it."""
    _typed(monkeypatch, "negative")
    assert main([*START, "--kit", "--job", "one", *SILENT]) == 1
    told = capsys.readouterr().err
    assert "First the kit." in told
    assert "Missing, logged: feeler gauge." in told
    assert main(["record", "one"]) == 0
    assert "missing-tool (feeler gauge), OPEN" in capsys.readouterr().out


def test_a_job_begins_though_its_times_can_not_be_learned(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An index that can't be written is told and keeps nobody from working."""
    (home / "jobs").mkdir()
    (home / "index.sqlite").mkdir()
    _typed(monkeypatch)
    assert main([*START, "--job", "one", *SILENT]) == 1
    told = capsys.readouterr().err
    assert "expected times are the checklist's own this time" in told
    assert "Mara has the job." in told


def test_another_of_the_roster_may_go_on(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`resume --who` takes a name of the roster; a stranger is refused and nothing is written."""
    (home / "shop.yaml").write_text("roster: {ines: Ines}\n", encoding="utf-8")
    _typed(monkeypatch, "affirm")
    assert main([*START, "--job", "one", *SILENT]) == 1
    before = _kinds(home, "one")
    assert main(["resume", "one", "--who", "Zoe", *SILENT]) == 2
    assert "ines, mara" in capsys.readouterr().err
    assert _kinds(home, "one") == before
    _typed(monkeypatch)
    assert main(["resume", "one", "--who", "Ines", *SILENT]) == 1
    assert "Ines has it." in capsys.readouterr().err


def test_options_without_a_default_are_asked_for(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Options given on the command line decide which steps the job has."""
    _typed(monkeypatch)
    names = ("--who", "Mara", "--second", "Tobin")
    code = main(["start", "raised-handlebar", *names, "--option", "abs=yes", "--job", "a", *SILENT])
    assert code == 1
    header = (home / "jobs" / "a" / JOURNAL).read_text(encoding="utf-8").splitlines()[0]
    assert json.loads(header)["data"]["options"]["abs"] is True
    assert json.loads(header)["data"]["roster"] == {"mara": "Mara", "tobin": "Tobin"}
    assert "Mara has the job." in capsys.readouterr().err


@pytest.mark.parametrize("name", ["x" * 121, "a\x1b[2Jb", "a\nb", "\u202e7"])
def test_a_machine_has_a_plain_name(
    name: str, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a terminal would obey, and what nobody would read, is refused before a job is made."""
    with pytest.raises(SystemExit) as left:
        main([*START[:-1], name, "--typed"])
    assert left.value.code == 2
    assert capsys.readouterr().err.isascii()
    assert not (home / "jobs").exists()


class NoDevices:
    """A machine without sound, as PortAudio's wrapper shows it."""

    PortAudioError = OSError

    def RawInputStream(self, **_given: object) -> object:  # noqa: N802 - the library's name
        """No stream."""
        raise OSError("no device")

    def query_devices(self) -> list[dict[str, object]]:
        """No device."""
        return []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "Without a microphone: --typed"),
        (("--typed", "--rate", "3"), "words per minute"),
        (("--engine", "vosk:no-such-model"), "no-such-model"),
        (("--typed", "--job", "../one"), "id of a job"),
    ],
)
def test_what_cannot_begin_leaves_nothing(
    arguments: tuple[str, ...],
    said: str,
    home: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Without microphone, voice, recogniser or a fit id there is a message and no record."""
    monkeypatch.setattr(microphone, "load_sounddevice", NoDevices)
    _typed(monkeypatch)
    assert main([*START, "--job", "one", *arguments]) in (1, 2)
    assert said in capsys.readouterr().err
    assert not (home / "jobs" / "one").exists()
    assert not (home / "one").exists()


@pytest.mark.parametrize(
    ("kind", "shown"),
    [
        ("clipping", "You are too loud for the microphone. Move it a little away."),
        ("dropped", "Some sound was lost. This machine is too busy."),
    ],
)
def test_what_happens_to_the_microphone_is_shown(kind: str, shown: str) -> None:
    """Sound that is too loud or has holes is told on the screen."""
    lines: list[str] = []
    tell_of(words_of("en"), lines.append)(kind)
    assert lines == [shown]


def test_a_name_that_the_recogniser_cannot_hear_is_told_before_the_job() -> None:
    """A roster with a name that is in no dictionary is an error that names the phrase."""
    engine = open_engine("pocketsphinx")
    plan = setting().plan
    check_words(engine, setting_of(plan, {"mara": "Mara", "tobin": "Tobin"}), words_of("en"))
    with pytest.raises(UnknownWords, match="xqzkw"):
        check_words(engine, setting_of(plan, {"xqzkw": "Xqzkw"}), words_of("en"))


def test_the_clocks() -> None:
    """One clock shows what the wall shows, the other never steps back."""
    clock = LiveClock()
    first, second = clock.mono(), clock.mono()
    assert second >= first > 0
    assert clock.wall().endswith("Z")

"""Everybody heard without and with their own takes."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from assistant.errors import BadFile, BadInput
from assistant.hearing.ear import Heard
from assistant.hearing.engines import TAKES
from assistant.hearing.enrollment.engine import EnrolledEngine
from assistant.trial.enrolled import Enrolled, usable, while_at_work
from assistant.trial.listeners import Ours
from assistant.trial.manifest import Row, read_manifest
from tests.hearing.clips import FIXTURES
from tests.trial.clips import HEADER, manifest, row, saved, silence, tone
from tests.trial.test_plain import bench, first

VOICE = FIXTURES / "en" / "flite-rms"


def _take(words: str, speaker: str = "rms") -> Row:
    file = VOICE / f"{words.replace(' ', '-')}.flac"
    return Row(file, "command", words, speaker, where="clips.csv:2", enroll=True)


TAKEN = tuple(_take(words) for words in ("carry on", "what size", "stand by"))


def _engine(maker: Enrolled, speaker: str) -> EnrolledEngine:
    ear = maker(bench("carry on"), speaker)
    engine = ear._engine  # type: ignore[attr-defined] # the ear's own engine is what is asked for
    assert isinstance(engine, EnrolledEngine)
    return engine


def test_who_speaks_is_heard_with_their_own_takes() -> None:
    """Nobody else's takes are beside the engine, and none where a speaker has none."""
    maker = Enrolled(Ours("pair"), (*TAKEN, _take("say again", "other")))
    assert {phrase.text for phrase in _engine(maker, "rms")._phrases} == {
        "carry on",
        "what size",
        "stand by",
    }
    assert _engine(maker, "nobody")._phrases == ()


def test_takes_have_a_say_in_what_is_heard() -> None:
    """Where nothing is decided early, the evidence of the takes stands beside the engine's."""
    for speaker, beside in (("rms", True), ("nobody", False)):
        heard = first(Enrolled(Ours("pair", "early-decision"), TAKEN)(bench("carry on"), speaker))
        assert isinstance(heard, Heard)
        assert heard.text == "carry on"
        assert (TAKES in heard.evidence) is beside


def test_takes_go_through_their_own_microphone() -> None:
    """The templates of another microphone are other ones."""
    plain, phone = (_engine(Enrolled(Ours("pair"), TAKEN, m), "rms") for m in ("", "telephone"))
    powers = [engine._phrases[0].takes[0].power for engine in (plain, phone)]
    assert powers[0][:, 1].mean() > 10 * powers[1][:, 1].mean()  # a band under 300 Hz


def test_it_can_be_sent_to_other_processes() -> None:
    """A trial with --jobs does."""
    maker = Enrolled(Ours("pair"), TAKEN, "headset")
    assert pickle.loads(pickle.dumps(maker)) == maker  # noqa: S301 - our own bytes


def test_an_engine_without_measured_weights_is_refused() -> None:
    """What a take counts beside PocketSphinx alone was never measured."""
    with pytest.raises(BadInput, match="beside pocketsphinx"):
        Enrolled(Ours("pocketsphinx"), TAKEN)(bench("carry on"), "rms")


def test_takes_that_enroll_would_refuse_are_not_used(tmp_path: Path) -> None:
    """The rules are those of `gloveson enroll`; each refusal says where and why."""
    faint = saved(tmp_path / "faint.wav", silence(0.5), tone(0.3, 3e-4), silence(0.5))
    bad = Row(faint, "command", "carry on", "rms", where="clips.csv:7", enroll=True)
    good, refused = usable([TAKEN[0], bad])
    assert good == (TAKEN[0],)
    assert len(refused) == 1
    assert refused[0].startswith('clips.csv:7: "carry on": ')


def test_unrelated_sound_is_shared_out_among_the_people() -> None:
    """Each of them is at work in turn while others talk; commands keep their speaker."""
    rows = [row("speech", ""), row("speech", ""), row("noise", ""), row()]
    takes = [_take("carry on", "b"), _take("carry on", "a")]
    assert [each.speaker for each in while_at_work(rows, takes)] == ["a", "b", "a", "somebody"]


def test_the_manifest_names_takes(tmp_path: Path) -> None:
    """The column is optional; "enroll" makes a row a take."""
    line = f"{VOICE / 'carry-on.flac'},command,carry on,rms,"
    file = manifest(tmp_path, f"{line},enroll", f"{line},test", line + ",", header=f"{HEADER},take")
    assert [each.enroll for each in read_manifest(file)] == [True, False, False]
    assert [each.enroll for each in read_manifest(manifest(tmp_path, line))] == [False]


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        ("command,carry on,rms,,twice", '"twice" is no take'),
        ("command,carry on,,,enroll", "has a speaker"),
        ("speech,,rms,,enroll", "is a command"),
    ],
)
def test_a_wrong_take_is_told(tmp_path: Path, cells: str, message: str) -> None:
    """With its line, as every other fault of a manifest."""
    file = manifest(tmp_path, f"{VOICE / 'carry-on.flac'},{cells}", header=f"{HEADER},take")
    with pytest.raises(BadFile, match=message):
        read_manifest(file)

"""A job told again: every prompt and reply, by whom, with what sound there is."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.errors import BadInput, RecordDamaged
from assistant.job.state import Mode
from assistant.record.journal import Journal
from assistant.record.retaining import retain
from assistant.record.seal import seal
from assistant.report.retelling import Told, retell
from assistant.report.texts import spoken_texts
from tests.job.bench import ALL_HAZARDS, ROSTER, Bench
from tests.report.spoken_jobs import short, written


def replies(told: list[Told]) -> list[Told]:
    """What people said."""
    return [one for one in told if not one.assistant]


def test_every_prompt_and_reply_is_told_in_order(tmp_path: Path) -> None:
    """With who speaks, the section, and the words that the voice had: figures spelled out."""
    told = list(retell(written(tmp_path, short("loose bolt"))))
    assert [one.n for one in told] == sorted(one.n for one in told)
    assert {one.who for one in told} == {"Assistant", "Mara"}
    assert {one.section for one in told} == {"Only section"}
    assert any("M6 × 1" in one.text and "M six by one" in one.words for one in told)
    assert "loose bolt" in [one.text for one in replies(told)]
    assert [one.text for one in told if one.after_s > 60]
    for one in replies(told):
        assert (one.clip is None) == bool(one.absent)
        assert one.words == ""


def test_what_has_no_sound_says_why(tmp_path: Path) -> None:
    """A typed line is told as typed; a clip that is not there any more as not kept."""
    told = replies(list(retell(written(tmp_path, short("typed note")))))
    assert {one.absent for one in told} == {"", "typed"}
    assert {one.text for one in told if not one.absent} == {
        "step complete",
        "affirm",
        "what torque",
    }


def test_a_spoken_note_has_a_clip_and_its_length(tmp_path: Path) -> None:
    """Nobody wrote its words down, so its length stands for them."""
    told = replies(list(retell(written(tmp_path, short()))))
    (note,) = [one for one in told if "spoken freely" in one.text]
    assert note.clip is not None
    assert note.text == "(spoken freely, 2 s)"


def test_the_second_person_speaks_for_themselves(tmp_path: Path) -> None:
    """What is read back at an apprentice's stop by the second person is theirs."""
    bench = Bench()
    bench.run_to("leak-check", Mode.SECOND_PERSON)
    bench.read_back()
    told = replies(list(retell(written(tmp_path, bench.events))))
    assert (told[-1].who, told[-2].who) == ("Tobin", "Mara")


def test_a_prompt_that_is_worded_otherwise_today_is_told_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The record decides, not this program's texts."""
    folder = written(tmp_path, short())
    before = [one.text for one in retell(folder)]
    monkeypatch.setattr("assistant.words.Words.shown", lambda *_: "something else")
    after = list(retell(folder))
    assert [one.text for one in after] == before
    assert all(one.words for one in after if one.assistant)


def test_a_damaged_record_is_not_told(tmp_path: Path) -> None:
    """A record that doesn't verify would tell a story of its own."""
    folder = written(tmp_path, short())
    next((folder / "clips").iterdir()).write_bytes(b"other")
    with pytest.raises(RecordDamaged, match="does not verify"):
        list(retell(folder))


def test_a_clip_that_was_removed_is_told_as_not_kept(tmp_path: Path) -> None:
    """Lost sound is damage; removed by the shop's rule it is not, and the words remain."""
    lost = written(tmp_path, short(), job="lost")
    next((lost / "clips").iterdir()).unlink()
    with pytest.raises(RecordDamaged, match="missing"):
        list(retell(lost))
    folder = written(tmp_path, short())
    before = list(retell(folder))
    with Journal.open(folder) as journal:
        seal(journal, "2026-03-02T12:00:00.000Z", 9_000.0)
    assert retain(folder, 0, ("2026-03-03T12:00:00.000Z", 1.0)).removed
    after = list(retell(folder))
    assert [one.text for one in after] == [one.text for one in before]
    gone = [one.absent for one, kept in zip(after, before, strict=True) if kept.clip]
    assert set(gone) == {"not-kept"}
    assert not [one for one in after if one.clip]


def test_a_name_without_words_does_not_end_the_story(tmp_path: Path) -> None:
    """The prompt that holds it is told as in the job, where such a name is spelled."""
    told = list(retell(written(tmp_path, short(), roster={**ROSTER, "mara": "Xq <b>"})))
    named = [one for one in told if one.assistant and "Xq" in one.text]
    assert named
    assert all("x q" in one.words for one in named)


def test_a_section_is_told_with_its_entries(tmp_path: Path) -> None:
    """An answer belongs to the section it was given in, the next prompt to the next one."""
    first, rest = ALL_HAZARDS.split("- step: line-off\n")
    indent = first[first.rindex("\n") + 1 :]
    first = first.rstrip(" ")
    two = f"{first}  - section: more\n    title: More\n    steps:\n{indent}- step: line-off\n{rest}"
    bench = Bench()
    bench.run_to("line-off")
    told = list(retell(written(tmp_path, bench.events, checklist=two)))
    titles = [one.section for one in told]
    change = titles.index("More")
    assert told[change].assistant
    assert set(titles[:change]) == {"Only section"}
    assert set(titles[change:]) == {"More"}


def test_a_language_without_texts_is_refused() -> None:
    """By name, before anything is written."""
    with pytest.raises(BadInput, match='"xx"'):
        spoken_texts("xx")

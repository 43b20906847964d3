"""Parts by voice: the off-list's additions, and part numbers."""

from __future__ import annotations

import pytest

from assistant.job.state import Mode
from tests.job.bench import Bench, at_step


def off(bench: Bench, part: str, count: int) -> None:
    """Something comes off that the checklist does not name."""
    assert bench.hear("also_off") == ("off.ask",)
    assert bench.hear("name_part", part=part) == ("off.count",)
    assert bench.hear("name_count", cardinal=str(count)) == ("off.check",)
    assert bench.hear("affirm")[0] == "off.added"


def items(bench: Bench) -> dict[str, int]:
    """What is off."""
    listed = bench.state.progress.off
    return {entry.item: listed.count_of(entry.item) for entry in listed.open_items()}


def test_what_came_off_is_on_the_list_until_it_is_back() -> None:
    """The item and its count are read back before they count, both ways."""
    bench = at_step("pad-wear")
    off(bench, "bolt", 3)
    assert items(bench) == {"bolt, added by voice": 3}
    assert bench.hear("back_on") == ("off.ask_back",)
    assert bench.hear("name_part", part="bolt") == ("off.check_back",)
    assert bench.value("off.check_back", "count") == "3"
    assert bench.hear("affirm")[0] == "off.returned"
    assert items(bench) == {}


def test_the_checklists_own_items_are_not_touched_by_voice() -> None:
    """What the checklist took off goes back by its own step only."""
    bench = at_step("hose-on")
    assert bench.hear("back_on") == ("off.nothing_added",)
    off(bench, "bolt", 1)
    bench.hear("back_on")
    assert bench.hear("name_part", part="clip") == ("off.not_on_list",)
    assert bench.state.mode is Mode.OFF_PART
    assert "brake hose" in items(bench)


def test_a_misheard_count_is_asked_again() -> None:
    """Answered "negative", the read-back asks for the item anew; nothing is on the list."""
    bench = at_step("pad-wear")
    bench.hear("also_off")
    bench.hear("name_part", part="bolt")
    bench.hear("name_count", cardinal="4")
    assert bench.hear("negative") == ("off.ask",)
    assert items(bench) == {}


def test_all_of_one_name_go_back_together() -> None:
    """Twice "bolts" came off: the count that is read back is that of all of them."""
    bench = at_step("pad-wear")
    off(bench, "bolt", 2)
    off(bench, "bolt", 3)
    bench.hear("back_on")
    bench.hear("name_part", part="bolt")
    assert bench.value("off.check_back", "count") == "5"
    bench.hear("affirm")
    assert items(bench) == {}


@pytest.mark.parametrize("text", ["", "heat shield"])
def test_a_part_without_a_name_keeps_its_spoken_one(text: str) -> None:
    """Its name is the clip, or what was typed; "something else" puts it back, last one first."""
    bench = at_step("pad-wear")
    for count in (2, 7):
        bench.hear("also_off")
        assert bench.hear("other_part") == ("off.label",)
        label = f"{text} {count}" if text else ""
        assert bench.dictate(1.5, label) == ("off.count",)
        bench.hear("name_count", cardinal=str(count))
        bench.hear("affirm")
    off(bench, "bolt", 1)
    assert sorted(items(bench).values()) == [1, 2, 7]
    assert len(items(bench)) == 3
    for count in (7, 2):
        bench.hear("back_on")
        assert bench.hear("other_part") == ("off.check_back",)
        assert bench.value("off.check_back", "count") == str(count)
        bench.hear("affirm")
    bench.hear("back_on")
    assert bench.hear("other_part") == ("off.not_on_list",)
    assert items(bench) == {"bolt, added by voice": 1}


@pytest.mark.parametrize("way", ["also_off", "back_on"])
def test_the_last_change_of_the_list_can_be_withdrawn(way: str) -> None:
    """A correction undoes it like a step."""
    bench = at_step("pad-wear")
    off(bench, "bolt", 1)
    if way == "back_on":
        for name in ("back_on", "name_part", "affirm"):
            bench.hear_any(name)
    bench.hear("correction")
    assert items(bench) == ({} if way == "also_off" else {"bolt, added by voice": 1})


@pytest.mark.parametrize(
    ("spoken", "key"),
    [("WLCW10", "number.same"), ("WLCW11", "number.differs"), ("10", "number.differs")],
)
def test_a_part_number_is_compared(spoken: str, key: str) -> None:
    """Every character counts; the dashes of the checklist are not spoken."""
    bench = at_step("hose-on")
    assert bench.hear("read_part_number") == ("number.ask",)
    assert bench.hear("part_number", characters=spoken)[0] == key
    if key == "number.differs":
        assert bench.value(key, "wanted") == "WL-CW-10"
        assert bench.value(key, "spoken") == spoken
    assert bench.waits() == (Mode.STEP, "hose-on")


def test_no_number_where_no_part_has_one() -> None:
    """A step without a numbered part says so."""
    bench = at_step("line-on")
    assert bench.hear("read_part_number") == ("number.none",)


def test_a_part_for_one_use_goes_back_only_new() -> None:
    """What is good for one use (common practice, no source) is asked as new."""
    bench = at_step("pad-wear")
    bench.hear("also_off")
    bench.hear("other_part")
    bench.dictate(text="cotter pin")
    bench.hear("name_count", cardinal="1")
    bench.hear("affirm")
    assert bench.state.progress.off.open_items()[-1].single_use
    bench.hear("back_on")
    assert bench.hear("other_part") == ("off.check_back_new",)
    bench.hear("affirm")
    assert items(bench) == {}

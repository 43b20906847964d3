"""The off-list: what came off goes back, and nothing else does."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.checklist.offlist import Off, OffList, Refused


def off(*taken: tuple[str, int]) -> OffList:
    """A list from which so many of these came off."""
    result = OffList()
    for item, count in taken:
        result = result.take_off(item, count)
    return result


def test_what_came_off_is_open_until_it_goes_back() -> None:
    """Where it lies and how it sat stay with it."""
    one = OffList().take_off("seat", 1, "removed", "shelf", "latch left")
    assert one.open_items() == (Off("seat", 1, "removed", "shelf", "latch left"),)
    assert one.put_back("seat") == OffList()


def test_nothing_goes_back_that_never_came_off() -> None:
    """The refusal carries the facts, and the list is unchanged."""
    one = off(("seat", 1))
    assert one.put_back("tank") == Refused("never-off", "tank", 1, 0)
    assert one.put_back("seat", 2) == Refused("too-many", "seat", 2, 1)
    assert one == off(("seat", 1))


def test_a_part_of_the_count_may_go_back() -> None:
    """Two of four bolts back leaves two off."""
    left = off(("bolt", 4)).put_back("bolt", 2)
    assert isinstance(left, OffList)
    assert left.count_of("bolt") == 2


def test_single_use_parts_go_back_only_as_new() -> None:
    """An old crush washer is refused; a new one ends the matter."""
    one = OffList().take_off("crush washer", 2, single_use=True)
    assert one.put_back("crush washer", 2) == Refused("needs-new", "crush washer", 2, 2)
    assert one.put_back("crush washer", 2, new=True) == OffList()


def test_a_loosened_thing_that_comes_off_is_one_thing() -> None:
    """Loosening two bolts and then taking both out leaves two off, not four."""
    one = OffList().take_off("bolt", 2, "loosened").take_off("bolt", 2, "removed")
    assert one.count_of("bolt") == 2
    three = OffList().take_off("bolt", 2, "loosened").take_off("bolt", 3, "removed")
    assert three.count_of("bolt") == 3


def test_a_count_below_one_is_a_mistake_of_the_program() -> None:
    """Nothing can come off or go back zero times."""
    with pytest.raises(ValueError, match="can't come off"):
        OffList().take_off("seat", 0)
    with pytest.raises(ValueError, match="can't go back"):
        OffList().put_back("seat", -1)


moves = st.lists(
    st.tuples(st.booleans(), st.sampled_from(["seat", "bolt", "plug"]), st.integers(1, 4)),
    max_size=30,
)


@given(moves)
def test_it_counts_like_a_bag(steps: list[tuple[bool, str, int]]) -> None:
    """Against collections.Counter: after any moves the counts agree, and none is below one."""
    ours, bag = OffList(), Counter[str]()
    for takes_off, item, count in steps:
        if takes_off:
            ours = ours.take_off(item, count)
            bag[item] += count
            continue
        after = ours.put_back(item, count)
        if bag[item] >= count:
            bag[item] -= count
            assert isinstance(after, OffList)
            ours = after
        else:
            assert isinstance(after, Refused)
            assert after.off == bag[item]
    assert {item: ours.count_of(item) for item in bag} == dict(bag)
    assert all(entry.count >= 1 for entry in ours.open_items())


@given(moves)
def test_everything_can_go_back(steps: list[tuple[bool, str, int]]) -> None:
    """Whatever came off, putting back all that is open leaves an empty list."""
    ours = OffList()
    for _, item, count in steps:
        ours = ours.take_off(item, count)
    for entry in ours.open_items():
        after = ours.put_back(entry.item, entry.count)
        assert isinstance(after, OffList)
        ours = after
    assert ours == OffList()

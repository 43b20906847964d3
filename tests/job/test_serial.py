"""Events through JSON and back."""

from __future__ import annotations

import json
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.job.events import (
    Clip,
    Dictated,
    Event,
    Heard,
    Opened,
    Resumed,
    Stamp,
    Tick,
    Unclear,
)
from assistant.job.machine import replay
from assistant.job.serial import event_kind, from_data, to_data
from assistant.language.intent import Intent
from tests.job.bench import Bench

TEXT = st.text(max_size=20)
SECONDS = st.floats(0, 1e6, allow_nan=False)
STAMPS = st.builds(Stamp, TEXT, SECONDS, st.integers(10, 99))
CLIPS = st.none() | st.builds(Clip, TEXT, TEXT, SECONDS)
INTENTS = st.builds(Intent, TEXT, st.lists(st.tuples(TEXT, TEXT), max_size=3).map(tuple), TEXT)
EVENTS: dict[type[Event], st.SearchStrategy[Event]] = {
    Opened: st.builds(Opened, STAMPS, TEXT, TEXT, TEXT, st.none() | TEXT),
    Heard: st.builds(Heard, STAMPS, INTENTS, TEXT, st.floats(0, 1), CLIPS),
    Unclear: st.builds(Unclear, STAMPS, TEXT, CLIPS),
    Dictated: st.builds(Dictated, STAMPS, SECONDS, CLIPS, TEXT),
    Tick: st.builds(Tick, STAMPS),
    Resumed: st.builds(Resumed, STAMPS, TEXT),
}


def through_json(event: Event) -> Event:
    """Written as the journal does, read again."""
    data = json.loads(json.dumps(to_data(event)))
    return from_data(event_kind(event), data, event.at.wall, event.at.mono)


def test_every_kind_of_event_is_tried() -> None:
    """No event is missing from the test below."""
    assert set(EVENTS) == set(get_args(Event))


@given(st.one_of(*EVENTS.values()))
def test_an_event_comes_back_as_it_was(event: Event) -> None:
    """Nothing is lost or changed on the way through JSON."""
    assert through_json(event) == event


@given(st.one_of(*EVENTS.values()))
def test_the_time_is_the_entrys_own(event: Event) -> None:
    """The data repeats no time; only the fresh number is in it."""
    data = to_data(event)
    assert data["fresh"] == event.at.fresh
    assert not {"at", "wall", "mono"} & set(data)
    assert None not in data.values()


def test_a_whole_job_through_json_is_the_same_job() -> None:
    """What the journal keeps is enough to have the job again."""
    bench = Bench()
    for name in ("affirm", "also_off", "other_part"):
        bench.hear_any(name)
    bench.dictate(1.5)
    bench.hear_any("name_count")
    bench.hear("affirm")
    bench.unclear("mumble")
    bench.tick(3)
    bench.resume("tobin")
    bench.run_to("pad-wear")
    for name in ("back_on", "other_part", "affirm"):
        bench.hear_any(name)
    bench.finish()
    assert replay(bench.setting, [through_json(event) for event in bench.events]) == bench.state


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("said", {"fresh": 10}),
        ("tick", {}),
        ("tick", {"fresh": "many"}),
        ("tick", {"fresh": 10, "extra": 1}),
        ("resumed", {"fresh": 10}),
        ("heard", {"fresh": 10, "intent": {"name": "affirm"}}),
        ("heard", {"fresh": 10, "intent": {"name": "x", "slots": [["a"]], "phrase": ""}}),
        ("heard", {"fresh": 10, "intent": 5}),
        ("unclear", {"fresh": 10, "clip": {"file": "a"}}),
        ("unclear", {"fresh": 10, "clip": 5}),
    ],
)
def test_what_is_no_event_is_refused(kind: str, data: dict[str, object]) -> None:
    """A damaged entry is named as what it fails to be."""
    with pytest.raises(ValueError, match=f"not an event of kind '{kind}'"):
        from_data(kind, data, "", 0.0)

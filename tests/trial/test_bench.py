"""The simulated clock of a trial."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from assistant.hearing.noise import from_pcm
from assistant.hearing.source import FRAME_S, FRAME_SAMPLES
from assistant.trial.bench import Bench
from assistant.trial.sound import LEAD_S, Scene
from tests.trial.clips import tone


class Cpu:
    """A processor clock that moves when it is told to."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        """Its time."""
        return self.now


def scene(clip_s: float = 1.0) -> Scene:
    """A clip of constant 0.5 in a room of constant 0.25."""
    return Scene(np.full(32_000, 0.25), np.full(round(clip_s * 16_000), 0.5), clip_s)


def played(work: Callable[[int], float], count: int) -> Bench:
    """A bench after so many frames, each of which took this much work."""
    cpu = Cpu()
    bench = Bench(cpu)
    bench.play(scene())
    frames = bench.frames()
    for number in range(count):
        next(frames)
        cpu.now += work(number)
    return bench


def test_quick_work_is_done_soon_after_its_sound() -> None:
    """A decision after ten frames, each worked on for 1 ms: 10 frames and 1 ms."""
    bench = played(lambda _n: 0.001, 10)
    assert bench.done_s == pytest.approx(10 * FRAME_S + 0.001)
    assert bench.busy_s == pytest.approx(0.010)


def test_slow_work_makes_what_follows_late() -> None:
    """Work of 100 ms on the fifth frame is not caught up with by frame six."""
    bench = played(lambda n: 0.1 if n == 4 else 0.001, 6)
    assert bench.done_s == pytest.approx(5 * FRAME_S + 0.1 + 0.001)


def test_late_work_is_caught_up_with() -> None:
    """Twenty frames later the hundred milliseconds are forgotten."""
    bench = played(lambda n: 0.1 if n == 4 else 0.001, 25)
    assert bench.done_s == pytest.approx(25 * FRAME_S + 0.001)


def test_asking_the_time_twice_counts_work_once() -> None:
    """The clock may be read as often as one likes."""
    bench = played(lambda _n: 0.001, 3)
    assert bench.done_s == bench.done_s
    assert bench.busy_s == pytest.approx(0.003)


def test_the_clip_comes_after_the_lead_and_the_room_goes_on() -> None:
    """First the room alone, then clip and room added, then the room without end."""
    bench = Bench(Cpu())
    bench.play(scene(1.0))
    frames = bench.frames()
    heard = np.concatenate([from_pcm(next(frames)) for _ in range(200)])
    lead, clip = round(LEAD_S * 16_000), 16_000
    assert np.allclose(heard[:lead], 0.25, atol=1e-4)
    assert np.allclose(heard[lead : lead + clip], 0.75, atol=1e-4)
    assert np.allclose(heard[lead + clip :], 0.25, atol=1e-4)
    assert bench.after_clip_s == pytest.approx(200 * FRAME_S - LEAD_S - 1.0)


def test_work_on_the_room_alone_is_counted_apart() -> None:
    """Of 100 frames, those of the lead are listening."""
    bench = played(lambda _n: 0.001, 100)
    bench.done_s  # noqa: B018 - reading it accounts for the last frame
    lead = int(LEAD_S / FRAME_S)
    assert bench.listening_s == pytest.approx(lead * 0.001)
    assert bench.leads_s == pytest.approx(lead * FRAME_S)


def test_frames_need_a_scene_and_end_when_closed() -> None:
    """Playing nothing is a mistake of the caller; a closed bench is silent."""
    bench = Bench(Cpu())
    with pytest.raises(RuntimeError, match="play"):
        next(bench.frames())
    bench.play(Scene(tone(2.0), tone(0.1), 0.1))
    frames = bench.frames()
    assert len(next(frames)) == 2 * FRAME_SAMPLES
    bench.close()
    assert next(frames, None) is None

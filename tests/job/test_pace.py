"""What jobs teach about time, and where one ran long."""

from __future__ import annotations

import statistics
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.job.pace import FEWEST, Took, learn, minutes_left, ran_long
from assistant.job.state import Mode
from assistant.job.summary import account
from tests.job.bench import PLAIN, Bench, at_step, setting


def jobs(*seconds: float, step: str = "first") -> list[Took]:
    """Jobs that took so long for a step."""
    return [Took(f"job-{place}", step, took) for place, took in enumerate(seconds)]


def test_the_median_of_three_jobs_counts() -> None:
    """One job that stood open over lunch moves nothing; two jobs teach nothing."""
    assert learn(jobs(120, 150, 7200)) == {"first": 2.5}
    assert learn(jobs(120, 150)) == {}


def test_a_step_done_again_counts_once() -> None:
    """The second look after a mended trouble is shorter than the work was."""
    again = [Took("job-0", "first", 5.0), Took("job-1", "first", 5.0)]
    assert learn([*jobs(120, 150, 180), *again]) == {"first": 2.5}


@given(
    st.lists(
        st.builds(Took, st.sampled_from("abcdef"), st.sampled_from("xyz"), st.floats(0, 1e5)),
        max_size=40,
    )
)
def test_learning_is_the_median_of_each_jobs_first(taken: list[Took]) -> None:
    """Worked out once more, another way; never less than a tenth of a minute."""
    learned = learn(taken)
    for step in "xyz":
        first = [
            next(one.seconds for one in taken if (one.job, one.step) == (job, step))
            for job in "abcdef"
            if any((one.job, one.step) == (job, step) for one in taken)
        ]
        assert (step in learned) is (len(first) >= FEWEST)
        if step in learned:
            assert learned[step] == pytest.approx(max(0.1, statistics.median(first) / 60), abs=0.05)


def test_how_long_left_goes_by_what_was_learned() -> None:
    """Three steps of two minutes by the author; the first takes this shop thirty."""
    fixed = replace(setting(PLAIN), learned={"first": 30.0})
    bench = Bench(fixed).run_to("first")
    bench.hear("how_long_left")
    assert bench.value("answer.minutes_left", "minutes") == "34"
    bench.run_to("second")
    bench.hear("how_long_left")
    assert bench.value("answer.minutes_left", "minutes") == "4"


def test_steps_to_be_done_again_take_time_too() -> None:
    """After a mended trouble the reopened checks count once more."""
    bench = at_step("negative-on")
    before = minutes_left(bench.setting, bench.state)
    bench.hear("report_trouble")
    bench.hear("trouble_kind", trouble="leak")
    bench.dictate()
    bench.hear("trouble_cleared")
    assert len(bench.state.progress.queue) == 2
    assert minutes_left(bench.setting, bench.state) == before + 4  # two checks of two minutes


@pytest.mark.parametrize(
    ("minutes", "learned", "long"),
    [
        (3.9, None, False),  # not twice the two minutes that are expected when nobody says
        (4.1, None, True),
        (4.1, 3.0, False),
        (1.9, 0.5, False),  # many times over, but by less than two minutes
        (2.6, 0.5, True),
    ],
)
def test_a_step_ran_long_by_twice_and_two_minutes(
    minutes: float, learned: float | None, *, long: bool
) -> None:
    """Both must hold, against what was expected of this step in this shop."""
    known = {"first": learned} if learned is not None else {}
    bench = Bench(replace(setting(PLAIN), learned=known)).run_to("first")
    bench.wait(minutes * 60)
    bench.hear("step_done")
    found = list(ran_long(bench.setting, bench.state))
    assert [one.step for one in found] == (["first"] if long else [])


def test_the_account_tells_where_it_ran_long() -> None:
    """With the minutes that it took and those that were expected."""
    bench = Bench(setting(PLAIN)).run_to("second")
    bench.wait(600)
    bench.hear("step_done")
    bench.run_to("", Mode.RELEASED)
    assert account(bench.setting, bench.state)["ran_long"] == [
        {"step": "second", "number": 2, "minutes": 10.0, "expected_minutes": 2.0}
    ]

"""The plots of a trial."""

from __future__ import annotations

from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.language.intent import Cost
from assistant.trial import plots
from assistant.trial.outcome import Result
from assistant.trial.sound import CLEAN, Condition
from assistant.trial.table import Table
from tests.real_parts import require
from tests.trial.clips import noisy, row, spent


def result(outcome: str, confidence: float, condition: Condition = CLEAN) -> Result:
    """A command."""
    return Result(row(), condition, outcome, confidence=confidence, seconds=1.0)


RESULTS = (
    result("correct", 0.9),
    result("correct", 0.6, noisy(10)),
    result("asked again", 0.2, noisy(0)),
    Result(
        row("speech"), CLEAN, "false accept", confidence=0.7, accepted=(Cost.VALUE,), seconds=3600.0
    ),
)
TABLE = Table(RESULTS, (spent(),))


def test_operating_points_are_those_of_other_bars() -> None:
    """Bars at 0.9, 0.7, 0.6: one right and none false, one and one, two and one (by hand)."""
    assert list(plots.operating_points(RESULTS)) == [(1 / 3, 0.0), (1 / 3, 1.0), (2 / 3, 1.0)]
    assert list(plots.operating_points(RESULTS[:3])) == []


def test_accuracy_is_drawn_where_it_lies() -> None:
    """The points of a line are the conditions' accuracy, clean at the right end."""
    require(find_spec("matplotlib"), "matplotlib is not installed; it comes with the extra [plots]")
    figure = plots.accuracy_against_noise({"ours": TABLE})
    (axes,) = figure.axes
    drawn = [(np.asarray(one.get_xdata()), np.asarray(one.get_ydata())) for one in axes.lines]
    lines = [(x.tolist(), y.tolist()) for x, y in drawn if len(x) == 3]
    assert ([0.0, 10.0, 15.0], [0.0, 100.0, 100.0]) in lines
    assert [label.get_text() for label in axes.get_xticklabels()] == ["0", "10", "clean"]


def test_both_plots_are_written(tmp_path: Path) -> None:
    """PNG files in a folder that is made; the second only where it says something."""
    require(find_spec("matplotlib"), "matplotlib is not installed; it comes with the extra [plots]")
    written = plots.draw({"ours": TABLE, "plain": TABLE}, tmp_path / "new")
    assert [file.name for file in written] == ["accuracy.png", "false-accepts.png"]
    assert all(file.read_bytes().startswith(b"\x89PNG") for file in written)
    alone = replace(TABLE, results=RESULTS[:1])
    assert len(plots.draw({"ours": alone}, tmp_path / "new")) == 1
    unrelated = replace(TABLE, results=RESULTS[3:])
    assert plots.draw({"ours": unrelated}, tmp_path / "new") == ()


def test_a_folder_that_can_not_be_written_is_named(tmp_path: Path) -> None:
    """A file in its place is told, not traced."""
    require(find_spec("matplotlib"), "matplotlib is not installed; it comes with the extra [plots]")
    (tmp_path / "taken").write_text("")
    with pytest.raises(BadInput, match="taken: can't be written"):
        plots.draw({"ours": TABLE}, tmp_path / "taken")


def test_a_missing_library_is_told_with_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra is named."""
    monkeypatch.setattr(plots, "find_spec", lambda _name: None)
    with pytest.raises(BadInput, match=r"gloves-on\[plots\]"):
        plots.require_library()

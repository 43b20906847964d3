"""Plots of a trial: accuracy against noise, and false accepts against accuracy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Final

from assistant.errors import BadInput
from assistant.trial.intervals import wilson95
from assistant.trial.manifest import UNRELATED
from assistant.trial.outcome import Result
from assistant.trial.table import Line, Table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_CLEAN_GAP_DB: Final = 5.0
"""How far right of the best ratio "clean" is drawn."""

_SIZE: Final = (7.0, 4.5)
_DOTS_PER_INCH: Final = 130


def require_library() -> None:
    """Find the library that draws.

    Raises:
        BadInput: it is not installed; says how to.
    """
    if find_spec("matplotlib") is None:
        raise BadInput("--plots needs matplotlib; install it with: pip install 'gloves-on[plots]'")


def draw(tables: Mapping[str, Table], folder: Path) -> tuple[Path, ...]:
    """Write accuracy.png and false-accepts.png, each where there was such sound.

    Args:
        tables: by the name of the way of hearing.
        folder: made if it isn't there.

    Raises:
        BadInput: the folder can't be written to.
    """
    figures: dict[str, Figure] = {}
    spoken = any(table.lines for table in tables.values())
    if spoken:
        figures["accuracy.png"] = accuracy_against_noise(tables)
    unrelated = any(table.hours(kind) for table in tables.values() for kind in UNRELATED)
    if spoken and unrelated:
        figures["false-accepts.png"] = false_accepts_against_accuracy(tables)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, figure in figures.items():
            figure.savefig(folder / name, dpi=_DOTS_PER_INCH)
    except OSError as problem:
        raise BadInput(f"--plots {folder}: can't be written: {problem.strerror}") from problem
    return tuple(folder / name for name in figures)


def accuracy_against_noise(tables: Mapping[str, Table]) -> Figure:
    """A line a way and kind, with 95 % intervals; "clean" at the right end."""
    figure, axes = _axes()
    ratios = sorted(
        {
            line.condition.snr_db
            for table in tables.values()
            for line in table.lines
            if line.condition.snr_db is not None
        }
    )
    clean_at = ratios[-1] + _CLEAN_GAP_DB if ratios else 0.0
    for name, table in tables.items():
        for (kind, noise), lines in _series(table).items():
            places = [
                clean_at if line.condition.snr_db is None else line.condition.snr_db
                for line in lines
            ]
            label = f"{name}, {kind}s" + (f", {noise}" if noise else "")
            _with_intervals(axes, places, lines, label)
    axes.set_xticks([*ratios, clean_at], [*(f"{ratio:g}" for ratio in ratios), "clean"])
    axes.set_xlabel("speech over noise, dB")
    axes.set_ylabel("understood at the first try, %")
    axes.set_ylim(0, 101)
    axes.legend(fontsize="small")
    return figure


def _series(table: Table) -> dict[tuple[str, str], list[Line]]:
    """Lines of one kind and noise, each with the clean one of its kind."""
    clean = {line.kind: line for line in table.lines if line.condition.noise is None}
    found: dict[tuple[str, str], list[Line]] = {}
    for line in table.lines:
        if line.condition.noise is not None:
            found.setdefault((line.kind, line.condition.noise), []).append(line)
    noisy = {kind for kind, _ in found}
    alone = {(kind, ""): [line] for kind, line in clean.items() if kind not in noisy}
    own = {key: [*lines, *(clean.get(key[0]),)] for key, lines in found.items()}
    return alone | {key: [line for line in lines if line] for key, lines in own.items()}


def _with_intervals(axes: Axes, places: Sequence[float], lines: Sequence[Line], label: str) -> None:
    ordered = sorted(zip(places, lines, strict=True), key=lambda pair: pair[0])
    shares = [100 * line.accuracy for _, line in ordered]
    ends = [wilson95(line.correct, line.n) for _, line in ordered]
    below = [share - 100 * low for share, (low, _) in zip(shares, ends, strict=True)]
    above = [100 * high - share for share, (_, high) in zip(shares, ends, strict=True)]
    axes.errorbar(
        [place for place, _ in ordered],
        shares,
        yerr=[below, above],
        marker="o",
        capsize=3,
        label=label,
    )


def false_accepts_against_accuracy(tables: Mapping[str, Table]) -> Figure:
    """What other bars would give: a point for every confidence at which one might begin to act.

    Each point keeps what was acted on with at least that confidence. The right end is the trial
    itself. A way that gives no confidence is one point.
    """
    figure, axes = _axes()
    for name, table in tables.items():
        points = list(operating_points(table.results))
        axes.plot(
            [100 * accuracy for accuracy, _ in points],
            [rate for _, rate in points],
            marker="o",
            markersize=3,
            label=name,
        )
    axes.set_xlabel("commands and readings understood, all conditions, %")
    axes.set_ylabel("false accepts an hour, speech and noise")
    axes.set_yscale("symlog", linthresh=1.0)
    axes.set_ylim(bottom=0)
    axes.legend(fontsize="small")
    return figure


def operating_points(results: Sequence[Result]) -> Iterator[tuple[float, float]]:
    """Accuracy and false accepts an hour at each bar of confidence, the strictest first."""
    spoken = [r for r in results if r.row.spoken]
    hours = sum(r.seconds for r in results if not r.row.spoken) / 3600
    if not spoken or not hours:
        return
    right = sorted((r.confidence for r in spoken if r.outcome == "correct"), reverse=True)
    false = [r.confidence for r in results if not r.row.spoken for _ in r.accepted]
    for bar in sorted({*right, *false}, reverse=True):
        accuracy = sum(confidence >= bar for confidence in right) / len(spoken)
        yield accuracy, sum(confidence >= bar for confidence in false) / hours


def _axes() -> tuple[Figure, Axes]:
    # The figure is made without pyplot: no window system, no state shared with others.
    from matplotlib.figure import Figure  # noqa: PLC0415 - an extra that may be missing

    figure = Figure(figsize=_SIZE, layout="constrained")
    axes = figure.add_subplot()
    axes.grid(visible=True, alpha=0.3)
    return figure, axes

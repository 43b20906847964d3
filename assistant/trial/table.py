"""The figures of a trial."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.language.intent import Cost
from assistant.trial.intervals import percentile, wilson95
from assistant.trial.manifest import SPOKEN, UNRELATED
from assistant.trial.outcome import ASKED, CORRECT, FALSE, WRONG, Result
from assistant.trial.session import Spent
from assistant.trial.sound import CLEAN, Condition


@dataclass(frozen=True)
class Line:
    """Commands or readings under one condition.

    Attributes:
        causes: why clips were not understood, counted (`trial.outcome` lists the causes).
        late: clips in which something had not come to its end in time (`session.LATE_S`).
        missed: of those asked again, how many were not heard at all: nobody would be asked.
    """

    kind: str
    condition: Condition
    n: int
    correct: int
    asked_again: int
    wrong: int
    causes: Mapping[str, int]
    late: int = 0

    @property
    def missed(self) -> int:
        """Clips in which nothing was heard."""
        return self.causes.get("not-heard", 0) + self.causes.get("masked", 0)

    @property
    def accuracy(self) -> float:
        """Share understood."""
        return self.correct / self.n

    def as_json(self) -> dict[str, Any]:
        """One entry of `conditions`."""
        return {
            "kind": self.kind,
            "noise": self.condition.noise,
            "snr_db": self.condition.snr_db,
            "n": self.n,
            "correct": self.correct,
            "asked_again": self.asked_again,
            "wrong": self.wrong,
            "accuracy": round(self.accuracy, 4),
            "wilson95": [round(end, 4) for end in wilson95(self.correct, self.n)],
            "missed": self.missed,
            "late": self.late,
            "causes": dict(self.causes),
        }


@dataclass(frozen=True)
class Table:
    """What one way of hearing made of a manifest: every result, and the figures from them."""

    results: tuple[Result, ...]
    spent: tuple[Spent, ...]

    @property
    def lines(self) -> tuple[Line, ...]:
        """Commands and readings by condition: clean first, then by noise and falling ratio."""
        grouped: dict[tuple[str, Condition], list[Result]] = {}
        for result in self.results:
            if result.row.spoken:
                grouped.setdefault((result.row.kind, result.condition), []).append(result)
        ordered = sorted(grouped.items(), key=lambda item: _order(*item[0]))
        return tuple(_line(kind, condition, found) for (kind, condition), found in ordered)

    def hours(self, kind: str) -> float:
        """Hours of unrelated "speech" or "noise"."""
        return sum(r.seconds for r in self.results if r.row.kind == kind) / 3600

    def false_accepts(self, kind: str, *, read_back: bool = False) -> int:
        """Ordinary commands, or safety read-backs, that nobody said."""
        return sum(
            (cost is Cost.READ_BACK) == read_back
            for result in self.results
            if result.row.kind == kind
            for cost in result.accepted
        )

    def per_hour(self, kind: str, *, read_back: bool = False) -> float | None:
        """False accepts an hour; None when there was no such sound."""
        hours = self.hours(kind)
        return self.false_accepts(kind, read_back=read_back) / hours if hours else None

    def rejected(self) -> tuple[int, int]:
        """Clips of unrelated speech of which nothing was accepted, and all of them."""
        speech = [r for r in self.results if r.row.kind == "speech"]
        return sum(r.outcome != FALSE for r in speech), len(speech)

    def late(self) -> tuple[Result, ...]:
        """Commands and readings in which something had not come to its end in time."""
        return tuple(r for r in self.results if r.row.spoken and r.late)

    def noise_clips(self) -> tuple[int, int]:
        """How many noise files were mixed in, and under how many rows of the manifest."""
        mixed = [(r.noise_clip, r.row) for r in self.results if r.noise_clip]
        return len({clip for clip, _ in mixed}), len({row for _, row in mixed})

    def latencies_s(self) -> list[float]:
        """Last voiced sound to decision, for each clip that was understood."""
        return [
            r.latency_s for r in self.results if r.outcome == CORRECT and r.latency_s is not None
        ]

    def as_json(self) -> dict[str, Any]:
        """The object T of `trial --json`."""
        latencies = self.latencies_s()
        rejected, unrelated = self.rejected()
        room_s = sum(each.room_s for each in self.spent)
        return {
            "conditions": [line.as_json() for line in self.lines],
            "false_accepts_per_hour": {
                **{kind: _rounded(self.per_hour(kind), 3) for kind in UNRELATED},
                **{
                    f"{kind}_read_back": _rounded(self.per_hour(kind, read_back=True), 3)
                    for kind in UNRELATED
                },
            },
            "false_accepts": {
                **{kind: self.false_accepts(kind) for kind in UNRELATED},
                **{
                    f"{kind}_read_back": self.false_accepts(kind, read_back=True)
                    for kind in UNRELATED
                },
            },
            "hours": {kind: round(self.hours(kind), 4) for kind in UNRELATED},
            "rejection": {
                "n": unrelated,
                "rejected": rejected,
                "share": _rounded(rejected / unrelated if unrelated else None, 4),
                "wilson95": [round(end, 4) for end in wilson95(rejected, unrelated)],
            },
            "latency_ms": {
                "median": _milliseconds(percentile(latencies, 0.5)),
                "p95": _milliseconds(percentile(latencies, 0.95)),
            },
            "rtf": _rounded(_ratio(sum(s.busy_s for s in self.spent), self.sound_s), 4),
            "rtf_listening": _rounded(_ratio(sum(s.listening_s for s in self.spent), room_s), 4),
            "peak_mb": round(max((s.peak_mb for s in self.spent), default=0.0), 1),
        }

    @property
    def sound_s(self) -> float:
        """All sound that was listened to."""
        return sum(each.sound_s for each in self.spent)


def _order(kind: str, condition: Condition) -> tuple[int, bool, str, float]:
    ratio = -condition.snr_db if condition.snr_db is not None else float("-inf")
    return SPOKEN.index(kind), condition != CLEAN, condition.noise or "", ratio


def _line(kind: str, condition: Condition, results: Sequence[Result]) -> Line:
    outcomes = Counter(result.outcome for result in results)
    return Line(
        kind=kind,
        condition=condition,
        n=len(results),
        correct=outcomes[CORRECT],
        asked_again=outcomes[ASKED],
        wrong=outcomes[WRONG],
        causes=dict(Counter(result.cause for result in results if result.cause).most_common()),
        late=sum(result.late for result in results),
    )


def _ratio(part: float, whole: float) -> float | None:
    return part / whole if whole else None


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _milliseconds(seconds: float | None) -> int | None:
    return None if seconds is None else round(seconds * 1000)

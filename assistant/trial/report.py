"""A trial's table as text for people, by the screen's width of 100 signs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from assistant.trial.intervals import percentile, wilson95
from assistant.trial.outcome import ASKED, CORRECT, WRONG
from assistant.trial.session import LATE_S
from assistant.trial.table import Line, Table


def report(tables: Mapping[str, Table]) -> str:
    """All figures, the ways of hearing beside each other.

    Args:
        tables: by the name of the way: "ours", "plain".
    """
    return "\n".join(
        [
            *_accuracy(tables),
            "",
            *_others(tables),
            "",
            *_causes(tables),
            *(line for name, table in tables.items() for line in _confusions(name, table)),
        ]
    )


def _accuracy(tables: Mapping[str, Table]) -> Iterator[str]:
    head = f"{'':6} {'kind':8} {'noise':14} {'SNR':>5} {'n':>5}"
    yield f"{head} {'right':>6} {'again':>6} {'wrong':>6} {'accuracy':>9}  95 % (Wilson)"
    for name, table in tables.items():
        for line in table.lines:
            low, high = wilson95(line.correct, line.n)
            yield (
                f"{name:6} {line.kind:8} {line.condition.noise or 'none':14} {_snr(line):>5} "
                f"{line.n:5} {line.correct:6} {line.asked_again:6} {line.wrong:6} "
                f"{line.accuracy:9.1%}  {low:.1%} to {high:.1%}"
            )


def _snr(line: Line) -> str:
    ratio = line.condition.snr_db
    return "clean" if ratio is None else f"{ratio:g}"


def _others(tables: Mapping[str, Table]) -> Iterator[str]:
    for name, table in tables.items():
        latencies = table.latencies_s()
        for kind in ("speech", "noise"):
            if table.hours(kind):
                ordinary = table.false_accepts(kind)
                read_backs = table.false_accepts(kind, read_back=True)
                yield (
                    f"{name}: {ordinary} false accepts and {read_backs} read-backs in "
                    f"{table.hours(kind) * 60:.1f} min of {kind}: {table.per_hour(kind):.1f} and "
                    f"{table.per_hour(kind, read_back=True):.1f} an hour"
                )
        rejected, unrelated = table.rejected()
        if unrelated:
            low, high = wilson95(rejected, unrelated)
            yield (
                f"{name}: {rejected} of {unrelated} clips of unrelated speech rejected, "
                f"{rejected / unrelated:.1%} ({low:.1%} to {high:.1%})"
            )
        clips, under = table.noise_clips()
        if clips:
            yield f"{name}: {clips} noise clips under {under} rows, each from a place of its own on"
        if late := table.late():
            came = Counter(result.outcome for result in late)
            spoken = sum(line.n for line in table.lines)
            yield (
                f"{name}: {len(late)} of {spoken} never ended by themselves within {LATE_S:g} s "
                f"of the last voiced sound; what was heard by then counts: "
                f"{came[CORRECT]} right, {came[ASKED]} again, {came[WRONG]} wrong"
            )
        if latencies:
            middle, most = (percentile(latencies, share) or 0.0 for share in (0.5, 0.95))
            yield (
                f"{name}: last voiced sound to decision: median {middle * 1000:.0f} ms, "
                f"95 % within {most * 1000:.0f} ms"
            )
        figures = table.as_json()
        yield (
            f"{name}: processor time {figures['rtf']} of the sound's, {figures['rtf_listening']} "
            f"while nobody speaks; at most {figures['peak_mb']:.0f} MB"
        )


def _causes(tables: Mapping[str, Table]) -> Iterator[str]:
    yield "not understood, by cause:"
    for name, table in tables.items():
        for line in table.lines:
            if line.causes:
                listed = ", ".join(f"{cause} {count}" for cause, count in line.causes.items())
                where = f"{line.kind} {line.condition.noise or ''} {_snr(line)}".split()
                yield f"  {name:6} {' '.join(where)}: {listed}"


def _confusions(name: str, table: Table) -> Iterator[str]:
    pairs = Counter(
        (r.row.transcript, r.text) for r in table.results if r.row.spoken and r.outcome == WRONG
    )
    if pairs:
        listed = "; ".join(f"{said} > {heard} {n}" for (said, heard), n in pairs.most_common(12))
        yield f"  {name:6} most often confused: {listed}"
    taken = Counter(r.text for r in table.results if not r.row.spoken and r.accepted)
    if taken:
        listed = "; ".join(f"{heard} {n}" for heard, n in taken.most_common(12))
        yield f"  {name:6} most often accepted of unrelated sound: {listed}"

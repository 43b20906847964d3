"""Runs a trial: here, or in processes of its own."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from assistant.trial.listeners import MakeListener
from assistant.trial.manifest import Row
from assistant.trial.outcome import Result
from assistant.trial.phrases import Phrases
from assistant.trial.session import Session, Spent, hear_session, sessions_of
from assistant.trial.sound import NoiseFolder, conditions_of
from assistant.trial.table import Table

_Heard = tuple[list[Result], Spent]


@dataclass(frozen=True)
class _Work:
    """What every process needs once."""

    make: MakeListener
    phrases: Callable[[], Phrases]
    noises: NoiseFolder | None
    microphone: str


_work: _Work | None = None
_phrases: Phrases | None = None


def _begin(work: _Work) -> None:
    """Prepare a process for its sessions."""
    global _work, _phrases
    _work, _phrases = work, work.phrases()


def _one(session: Session) -> _Heard:
    if _work is None or _phrases is None:
        raise RuntimeError("the process was not prepared")
    return hear_session(session, _work.make, _phrases, _work.noises, _work.microphone)


def run_trial(  # noqa: PLR0913 - what is tried, on what, and how
    rows: Sequence[Row],
    make_ear: MakeListener,
    phrases: Callable[[], Phrases],
    *,
    noises: NoiseFolder | None = None,
    snrs: Sequence[float] = (),
    microphone: str = "",
    jobs: int | None = None,
    progress: Callable[[int], object] = lambda _count: None,
) -> Table:
    """Play every row under every condition to a listener, and count.

    Args:
        rows: what is heard.
        make_ear: makes what hears, for one speaker and one condition.
        phrases: gives what may be said; `functools.partial(read_phrases, path, "en")`.
        noises: noise to mix in, None for none.
        snrs: ratios in dB at which it is mixed in.
        microphone: that all of it is spoken into (`trial.microphones`); "" for the clips' own.
        jobs: number of processes; None runs it in this one. With processes `make_ear` and
            `phrases` must be picklable (an instance of a module's class), and peak memory is
            that of the hungriest process instead of this one's.
        progress: called with the number of clips that have just been heard.

    Raises:
        BadInput: a label is wrong, a clip holds no sound; the row is named.
        EngineUnavailable: the engine can't be loaded or lacks a word.
    """
    phrases().check(rows)
    name = noises.name if noises else None
    sessions = tuple(sessions_of(rows, lambda row: conditions_of(row, name, snrs)))
    work = _Work(make_ear, phrases, noises, microphone)
    results: list[Result] = []
    spent: list[Spent] = []
    for found, used in _heard(sessions, work, jobs):
        results += found
        spent.append(used)
        progress(len(found))
    return Table(tuple(results), tuple(spent))


def clips_to_hear(rows: Sequence[Row], noises: NoiseFolder | None, snrs: Sequence[float]) -> int:
    """How many clips one trial plays."""
    name = noises.name if noises else None
    return sum(len(conditions_of(row, name, snrs)) for row in rows)


def _heard(sessions: Sequence[Session], work: _Work, jobs: int | None) -> Iterator[_Heard]:
    if jobs is None:
        phrases = work.phrases()
        for session in sessions:
            yield hear_session(session, work.make, phrases, work.noises, work.microphone)
        return
    # Fresh processes, not forks: recognisers keep threads and native memory of their own.
    pool = multiprocessing.get_context("spawn").Pool(jobs, _begin, (work,))
    with pool:
        yield from pool.imap(_one, sessions)

"""A whole archive heard again over Dask, a window of batches at a time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any, Final

from distributed import Client, Future, LocalCluster, as_completed

from assistant import __version__
from assistant.errors import BadInput, EngineUnavailable, GlovesOnError, RecordDamaged
from assistant.record.clips import read_clip
from assistant.rehearing.asked import Asked, acted_on, asked_of
from assistant.rehearing.ledger import Ledger, With
from assistant.rehearing.worker import Told, engine_named, hear_batch

BATCH: Final = 4
"""Clips in a task; our choice: some seconds of work, and as much is lost when a run is killed."""
_AHEAD: Final = 3
_REACH_S: Final = 10
_SAFETY: Final = "read_back"


@dataclass(slots=True)
class Report:
    """What would be heard differently now.

    Attributes:
        clips: heard again, now or in an earlier run.
        fresh: of these, in this run.
        same: would have done the same.
        left: replies that could not be heard again, by why.
        differs, safety: results that would have done something else; safety read-backs apart.
        failed: jobs that can't be heard again, with why.
    """

    clips: int = 0
    fresh: int = 0
    same: int = 0
    left: Counter[str] = field(default_factory=Counter)
    differs: list[dict[str, Any]] = field(default_factory=list)
    safety: list[dict[str, Any]] = field(default_factory=list)
    failed: list[dict[str, str]] = field(default_factory=list)

    @property
    def all_same(self) -> bool:
        """Whether everything was heard again, and as it was."""
        return not (self.differs or self.safety or self.failed)

    def count(self, result: dict[str, Any]) -> None:
        """Take a clip's result in."""
        self.clips += 1
        then, now = result["then"], result["now"]
        if acted_on(then) == acted_on(now):
            self.same += 1
        elif _SAFETY in (then["intent"], now["intent"]):
            self.safety.append(result)
        else:
            self.differs.append(result)

    def sort(self) -> None:
        """In the order of the jobs given by name, and of their entries."""
        for results in (self.differs, self.safety):
            results.sort(key=lambda one: (one["job"], one["n"]))


def what_with(engine: str) -> With:
    """What an engine is, loaded here once so that a wrong name is told before any work.

    Raises:
        BadInput: no such engine or model.
        EngineUnavailable: it can't be loaded here.
    """
    made = engine_named(engine)
    return With(made.name, made.model, __version__)


@contextmanager
def workers(cluster: str | None, processes: int) -> Iterator[Client]:
    """A Dask client: of a scheduler by its address, or of processes of our own.

    Raises:
        BadInput: nothing answers at the address, or a scheduler without a worker.
    """
    if cluster is None:
        with (
            LocalCluster(
                n_workers=processes, threads_per_worker=1, processes=True, dashboard_address=None,
                host="127.0.0.1",
            ) as own,
            Client(own) as client,
        ):  # fmt: skip
            yield client
        return
    try:
        client = Client(cluster, timeout=_REACH_S)
    except (OSError, ValueError) as error:
        raise BadInput(f"--cluster {cluster}: no scheduler answers there: {error}") from error
    with client:
        try:
            client.wait_for_workers(1, timeout=_REACH_S)
        except TimeoutError as error:  # else everything would be waited for without a word
            raise BadInput(f"--cluster {cluster}: the scheduler there has no worker") from error
        yield client


def rehear(  # noqa: PLR0913 - what is heard, with what, where
    folders: Sequence[Path],
    engine: str,
    ledger: Ledger,
    client: Client,
    *,
    batch: int = BATCH,
    progress: Callable[[int], object] = lambda _count: None,
) -> Report:
    """Hear every clip of these records that has no result yet, and report on all of them.

    Args:
        folders: the records; they are only read.
        engine: as the command line names it.
        ledger: results so far; new ones are durable as they come.
        client: of Dask; the workers have this program in the same version.
        batch: clips in a task.
        progress: called with the number of clips just heard.

    Raises:
        EngineUnavailable: a worker can't hear, or has another program or model.
        JournalUnwritable: results can't be kept.
    """
    report = Report()
    tools = what_with(engine)
    waiting = _batches(_new_clips(folders, ledger, tools, report), batch)
    held: dict[Future, list[Asked]] = {}
    going = as_completed()

    def submit(count: int) -> None:
        for clips in islice(waiting, count):
            sound = [(asked.phrases, pcm) for asked, pcm in clips]
            future = client.submit(hear_batch, engine, sound, pure=False)
            held[future] = [asked for asked, _ in clips]
            going.add(future)

    submit(_AHEAD * max(1, len(client.scheduler_info()["workers"])))
    while held:
        future = next(going)
        clips = held.pop(future)
        results = _results(clips, _told(future), tools)
        ledger.add(results)
        for result in results:
            report.count(result)
        report.fresh += len(results)
        progress(len(results))
        future.release()
        submit(1)
    report.sort()
    return report


def _told(future: Future) -> Told:
    try:
        told: Told = future.result()
    except GlovesOnError:
        raise
    except Exception as error:  # whatever a worker or its machine may raise
        raise EngineUnavailable(f"a worker failed: {type(error).__name__}: {error}") from error
    return told


def _results(clips: Sequence[Asked], told: Told, tools: With) -> list[dict[str, Any]]:
    theirs = With(told.engine, told.model, told.program)
    if theirs != tools:
        msg = f"a worker has {theirs}, and this program {tools}; they must be the same"
        raise EngineUnavailable(msg)
    return [
        {"job": asked.job, "n": asked.n, "entry": asked.entry, "clip": asked.clip,
         "engine": tools.engine, "model": tools.model, "program": tools.program,
         "then": asked.then, "now": now}
        for asked, now in zip(clips, told.made, strict=True)
    ]  # fmt: skip


def _new_clips(
    folders: Sequence[Path], ledger: Ledger, tools: With, report: Report
) -> Iterator[tuple[Asked, bytes]]:
    """Clips without a result, with their sound; those that have one are counted at once."""
    for folder in folders:
        try:
            for asked in asked_of(folder, report.left):
                known = ledger.get(tools.key(asked.entry))
                if known is not None:
                    report.count(known)
                else:
                    yield asked, read_clip(folder, asked.clip)
        except (RecordDamaged, OSError) as error:
            report.failed.append({"job": folder.name, "problem": str(error)})


def _batches(
    clips: Iterator[tuple[Asked, bytes]], size: int
) -> Iterator[list[tuple[Asked, bytes]]]:
    while found := list(islice(clips, size)):
        yield found

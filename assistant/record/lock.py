"""One process at a time on a job.

The lock file lies beside the jobs, never inside one, so that a record holds only what its seal
covers. The operating system frees the lock when a process dies, however it dies.
"""

from __future__ import annotations

from pathlib import Path

from filelock import FileLock, Timeout

from assistant.errors import JobInUse, JournalUnwritable

LOCKS = ".locks"


def lock_job(folder: Path) -> FileLock:
    """Take the lock of the job in this folder, without waiting.

    Raises:
        JobInUse: another process, or another journal in this one, holds the job.
        JournalUnwritable: the lock file can't be made (read-only, full).
    """
    job = folder.name
    place = folder.parent / LOCKS / f"{job}.lock"
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        # thread_local=False: the journal may be closed by another thread than the one that opened
        lock = FileLock(place, timeout=0, thread_local=False)
        lock.acquire()
    except Timeout as error:
        raise JobInUse(
            f"job {job} is already open in another window or program; close it there first"
        ) from error
    except OSError as error:
        raise JournalUnwritable(f"job {job}: its lock {place} can't be made: {error}") from error
    return lock

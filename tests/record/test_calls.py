"""A record's life killed or refused at single system calls; the whole table: tests.record.calls."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.real_parts import require
from tests.record.calls import can_trace, row


@pytest.mark.parametrize(
    ("call", "what", "numbers"),
    [
        ("write", "signal=KILL", (6, 9)),
        ("fsync", "signal=KILL", (14,)),
        ("write", "error=ENOSPC", (7,)),
        ("fsync", "error=EIO", (15,)),
        ("openat", "error=EROFS", (18,)),
    ],
)
def test_stopped_at_a_system_call(
    call: str, what: str, numbers: tuple[int, ...], tmp_path: Path
) -> None:
    """Killed or refused in that call, the job goes on to its seal with every confirmation once."""
    require(can_trace(), "strace isn't installed or may not trace here")
    found = row(tmp_path, call, what, numbers)
    assert found.runs == len(numbers)
    assert found.wrong == []
    assert found.never_begun == 0
    assert found.stopped == (len(numbers) if "KILL" in what else 0)
    assert found.alarms == (0 if "KILL" in what else len(numbers))

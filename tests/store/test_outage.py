"""The outage test in small; `python -m tests.store.outage` is the long one, with its table."""

from __future__ import annotations

from pathlib import Path

from tests.store.outage import Trial
from tests.store.server import Server


def test_nothing_is_lost_or_doubled_whatever_goes_wrong(tmp_path: Path) -> None:
    """A server of its own that syncs is stopped hard, bays are killed, connections are cut."""
    server = Server(durable=True)
    try:
        row = Trial(server, 1, "all of them at once", tmp_path).run(2, 2, 80)
    finally:
        server.remove()
    assert row.right(), row
    assert row.sent >= 2 * 2 * 80
    assert row.times["clock"]
    assert row.times["reorder"]
    assert row.times["double"]
    assert row.times["stop"] + row.times["kill"] + row.times["cut"]

"""The outage test in small; `python -m tests.store.outage` is the long one, with its table."""

from __future__ import annotations

from pathlib import Path

from tests.store.outage import Trial
from tests.store.server import Server


def test_nothing_is_lost_or_doubled_whatever_goes_wrong(tmp_path: Path) -> None:
    """A server of its own that syncs is stopped hard, bays are killed, connections are cut."""
    server = Server(durable=True)
    try:
        trial = Trial(server, 1, "all of them at once", tmp_path)
        row = trial.run(2, 2, 80)
        assert row.right(), row
        assert row.sent >= 2 * 2 * 80
        assert all(row.times[fault] for fault in ("stop", "clock", "reorder", "double"))
        # And if something were lost, the count would tell.
        server.sql(
            "delete from gloveson.entry where bay like '%0' and job = 'job-1' and n = 3",
            database=trial.database,
        )
        spoiled = trial.counted(["outage_1_bay_0", "outage_1_bay_1"])
        assert (spoiled.lost, spoiled.restored, spoiled.right()) == (1, (3, 4), False)
    finally:
        server.remove()

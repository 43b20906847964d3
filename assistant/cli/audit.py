"""`gloveson audit`: verifies a record end to end."""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import asdict, replace
from typing import Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "audit",
        help="verify a record",
        description="Verifies a job's record end to end and says exactly what is wrong.",
    )
    command.add_argument("job", metavar="JOB", help="job id or record folder")
    command.add_argument(
        "--key",
        metavar="KEY",
        help="public key (64 hex digits) that must have signed it",
    )
    command.add_argument("--json", action="store_true", help="the result as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Verify and say what was found."""
    from assistant.record.audit import audit  # noqa: PLC0415 - loads the record room
    from assistant.record.folder import find_job, is_job_id  # noqa: PLC0415 - as above
    from assistant.record.seal import fingerprint  # noqa: PLC0415 - as above
    from assistant.record.signing import key_fingerprint  # noqa: PLC0415 - as above

    # Named by its id, the record must be that job's own, not another's put in its place.
    found = audit(find_job(given.job), given.job if is_job_id(given.job) else None)
    wanted = (given.key or "").replace(" ", "").lower()
    if wanted and found.ok and found.key != wanted:
        by = f"with {found.key}" if found.key else "not"
        found = replace(found, ok=False, problem=f"signed {by}, and wanted is {wanted}")
    if given.json:
        answer_json(
            {
                "ok": found.ok,
                "entries": found.entries,
                "first_bad": found.first_bad,
                "problem": found.problem,
                "seal": found.seal,
                "signed": found.signed,
                "key": found.key,
                "clock_set": found.clock_set,
                "repaired": found.repaired,
                "unnamed": list(found.unnamed),
                "removed": [asdict(removal) for removal in found.removed],
            }
        )
    elif found.ok:
        sealed = f"sealed, fingerprint {fingerprint(found.seal)}" if found.seal else "not sealed"
        signed = f"; signed, key {key_fingerprint(found.key)}" if found.key else ""
        clock = f"; the clock was set {found.clock_set} x" if found.clock_set else ""
        mended = f"; repaired after a crash {found.repaired} x" if found.repaired else ""
        clips = f"; clips without an entry yet: {len(found.unnamed)}" if found.unnamed else ""
        answer(f"ok: {found.entries} entries verify; {sealed}{signed}{clock}{mended}{clips}")
        rules = Counter((removal.wall[:10], removal.days) for removal in found.removed)
        for (day, days), count in sorted(rules.items()):
            answer(f"clips removed by retention on {day}, {days} days after the seal: {count}")
    else:
        answer(f"NOT ok: {found.problem}")
        if found.first_bad is not None:
            answer(f"first bad entry: {found.first_bad}")
        answer(f"{found.entries} entries before it verify")
    return ALL_RIGHT if found.ok else NOT_ALL_RIGHT

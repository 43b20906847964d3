"""Journals and their notes, damaged or made up, read by every command that reads a record."""

from __future__ import annotations

import os
from collections.abc import Iterator

from assistant.record.entry import genesis, make_entry
from assistant.record.folder import JOURNAL
from assistant.record.retention import RETENTION
from tests.end_to_end.hostile.trying import ESCAPES, Bench, Tried

WALL = "2026-01-02T03:04:05.678Z"
HEADERS: dict[str, dict[str, object]] = {
    "empty header": {},
    "checklist outside": {"main": "../../../../etc/passwd"},
    "device as checklist": {"main": "/dev/zero"},
    "roster is a list": {"roster": [1, 2]},
    "wrenches are numbers": {"wrenches": [1, 2]},
    "apprentices is a number": {"apprentices": 7},
    "options is a text": {"options": "abs"},
    "language outside": {"language": "../../en"},
    "language is a list": {"language": []},
    "escapes everywhere": {"main": ESCAPES, "checklist": ESCAPES, "version": ESCAPES},
    "nested": {"learned": {"a": {"b": [[[[]]]]}}},
    "formula as a checklist": {"checklist": "=cmd|' /C calc'!A0", "version": "@SUM(1)"},
    "markup as a checklist": {
        "checklist": "<script>alert(1)</script>",
        "engine": '"><svg onload=1>',
    },
    "1 MB of text": {"engine": "x" * 1_000_000},
}
_BASE: dict[str, object] = {
    "program": "0", "language": "en", "main": "a.yaml", "checklist": "a", "version": "1.0.0",
    "sha256": "0" * 64, "options": {}, "stops_sha256": "0" * 64, "roster": {}, "engine": "x",
}  # fmt: skip


def tries(bench: Bench) -> Iterator[Tried]:
    """All of these."""
    raw = {
        "noise": os.urandom(4096),
        "empty": b"",
        "no end": b"{" * 100_000,
        "NUL": bytes(4096),
        "one line of 20 MB": b'{"n":"' + b"x" * 20_000_000 + b'"}\n',
        "nested 100,000 deep": b"[" * 100_000 + b"]" * 100_000 + b"\n",
        "a number of 100,000 digits": b'{"n":' + b"9" * 100_000 + b"}\n",
    }
    for number, (what, content) in enumerate(raw.items()):
        yield from _read(bench, f"raw-{number}", what, content)
    for number, (what, change) in enumerate(HEADERS.items()):
        job = f"made-{number}"
        data = {**_BASE, **change, "job": job} if change else {"job": job}
        head = make_entry(0, "job", data, wall=WALL, mono=0.0, prev=genesis(job))
        said = make_entry(1, "said", {"lines": 7}, wall=WALL, mono=0.0, prev=head.hash)
        heard = make_entry(2, "heard", {"intent": [ESCAPES]}, wall=WALL, mono=0.0, prev=said.hash)
        yield from _read(bench, job, what, head.line() + said.line() + heard.line())
    notes = bench.home / "jobs" / "made-0" / RETENTION
    for what, content in {"nested": b"[" * 100_000, "not UTF-8": b"\xff\n", "empty": b""}.items():
        notes.write_bytes(content)
        for command in ("audit", "record", "retain"):
            more = ["--days", "0"] if command == "retain" else []
            yield bench.run("retention notes", what, [command, "made-0", *more])
    for number in range(len(HEADERS)):
        made = bench.home / "jobs" / f"made-{number}" / JOURNAL
        made.unlink()


def _read(bench: Bench, job: str, what: str, content: bytes) -> Iterator[Tried]:
    folder = bench.home / "jobs" / job
    folder.mkdir(parents=True)
    (folder / JOURNAL).write_bytes(content)
    page = bench.home / "page.html"
    for command in (
        ["audit", job], ["record", job], ["record", job, "--html", str(page)],
        ["resume", job, "--typed"], ["retain", job, "--days", "0"], ["jobs"],
        ["rehear", job, "--engine", "pocketsphinx", "--out", str(bench.home / "rehear.jsonl")],
    ):  # fmt: skip
        if command[0] == "rehear" and not what.startswith(("noise", "empty")):
            continue  # starts processes of its own, which takes seconds
        yield bench.run("journals", what, command)
    if job.startswith("raw"):
        (folder / JOURNAL).unlink()

"""Hostile inputs through the commands: `python -m tests.end_to_end.hostile` prints the list.

Each row must end with exit code 0, 1 or 2, with no traceback, no terminal control in what was
printed, and no file written outside the shop's folder.
"""

from __future__ import annotations

import io
import os
import resource
import struct
import sys
import tempfile
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from assistant.cli.main import main
from assistant.record.entry import genesis, make_entry
from assistant.record.folder import JOURNAL
from assistant.record.retention import RETENTION

WALL = "2026-01-02T03:04:05.678Z"
ESCAPES = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e\u200b"
TEXTS: dict[str, bytes] = {
    "alias bomb": b"a: &a [x,x,x,x,x,x,x,x,x]\n"
    + b"".join(
        b"%c: &%c [%s]\n" % (n, n, b",".join([b"*%c" % (n - 1)] * 9)) for n in range(98, 108)
    ),
    "nested 100,000 deep": b"[" * 100_000,
    "one text of 5 MB": b"a: " + b"x" * 5_000_000,
    "python tag": b"a: !!python/object/apply:os.system ['touch owned']\n",
    "unknown tag": b"!<tag:x,2026:y> {a: 1}\n",
    "key twice": b"shop: a\nshop: b\n",
    "not UTF-8": b"shop: \xff\xfe\n",
    "NUL": b"shop: a\x00b\n",
    "terminal escapes": f'? "{ESCAPES.encode("unicode_escape").decode()}"\n: 1\n'.encode(),
    "bidi and zero width": "sh\u202eop\u200b: x\n".encode(),
    "merge of itself": b"a: &a\n  <<: *a\n",
    "int of 10,000 digits": b"clip_days: " + b"9" * 10_000 + b"\n",
    "a list": b"- 1\n",
}
NAMES = {
    "up and out": "../../../../etc/passwd",
    "absolute": "/etc/passwd",
    "device": "/dev/zero",
    "folder": "/",
    "very long": "x" * 5000,
    "escapes": f"x{ESCAPES}.yaml",
    "NUL": "a\x00b",
    "lone surrogate": "a\udc80b.yaml",
    "empty": "",
}
SEARCHES = ["' or 1=1 --", '"; drop table job; --', "%", "_", "\\", "\x00", ESCAPES, "\udc80"]
HEADERS: dict[str, object] = {
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
}
_BASE: dict[str, object] = {
    "program": "0", "language": "en", "main": "a.yaml", "checklist": "a", "version": "1.0.0",
    "sha256": "0" * 64, "options": {}, "stops_sha256": "0" * 64, "roster": {}, "engine": "x",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tried:
    """One input and what came out: exit code, or the name of what broke; faults in plain words."""

    what: str
    where: str
    code: int | str
    faults: tuple[str, ...]


def trials(home: Path) -> Iterator[Tried]:
    """Run the list in a shop of its own."""
    yield from _texts(home)
    for what, name in NAMES.items():
        for command in ("check", "tray", "audit", "record", "resume", "retain", "trial"):
            yield _run(
                f"name: {what}", [command, name, *(["--days", "0"][: 2 * (command == "retain")])]
            )
    yield _run("name: escapes", ["start", "clutch-cable-adjustment", "--typed", "--who", ESCAPES])
    yield _run("job id: up and out", ["notice", "--html", str(home)])
    yield from _journals(home)
    for text in SEARCHES:
        for option in ("--vehicle", "--person", "--step", "--wrench", "--since", "--checklist"):
            yield _run(f"search {text!a}", ["jobs", option, text])
    yield from _sounds(home)


def _texts(home: Path) -> Iterator[Tried]:
    file, shop = home / "given.yaml", home / "shop.yaml"
    for what, content in TEXTS.items():
        file.write_bytes(content)
        for command in ("check", "tray"):
            yield _run(f"YAML: {what}", [command, str(file)])
        shop.write_bytes(content)
        yield _run(f"shop.yaml: {what}", ["notice"])
    shop.unlink()


def _journals(home: Path) -> Iterator[Tried]:
    raw = {"noise": os.urandom(4096), "empty": b"", "no end": b"{" * 100_000, "NUL": bytes(4096)}
    for number, (what, content) in enumerate(raw.items()):
        yield from _read(home, f"raw-{number}", f"journal: {what}", content)
    for number, (what, change) in enumerate(HEADERS.items()):
        job = f"made-{number}"
        assert isinstance(change, dict)
        data = {**_BASE, **change, "job": job} if change else {"job": job}
        head = make_entry(0, "job", data, wall=WALL, mono=0.0, prev=genesis(job))
        said = make_entry(1, "said", {"lines": 7}, wall=WALL, mono=0.0, prev=head.hash)
        heard = make_entry(2, "heard", {"intent": [ESCAPES]}, wall=WALL, mono=0.0, prev=said.hash)
        lines = head.line() + said.line() + heard.line()
        yield from _read(home, job, f"journal: {what}", lines)
    (home / "jobs" / "made-0" / RETENTION).write_bytes(b"[" * 100_000)
    yield _run("notes: nested", ["audit", "made-0"])


def _read(home: Path, job: str, what: str, content: bytes) -> Iterator[Tried]:
    folder = home / "jobs" / job
    folder.mkdir(parents=True)
    (folder / JOURNAL).write_bytes(content)
    commands = (["audit", job], ["record", job], ["record", job, "--html", str(home / "page.html")])
    for command in (
        *commands,
        ["resume", job, "--typed"],
        ["retain", job, "--days", "0"],
        ["jobs"],
    ):
        yield _run(what, command)


def _sounds(home: Path) -> Iterator[Tried]:
    for what, content in _waves().items():
        (home / "a.wav").write_bytes(content)
        rows = "file,kind,transcript,speaker,snr_db\na.wav,command,step complete,one,\n"
        (home / "manifest.csv").write_text(rows, encoding="utf-8")
        yield _run(
            f"WAV: {what}", ["trial", str(home / "manifest.csv"), "--engine", "pocketsphinx"]
        )


def _waves() -> dict[str, bytes]:
    def wave(channels: int, rate: int, bits: int, size: int, body: bytes) -> bytes:
        form = struct.pack(
            "<HHIIHH", 1, channels, rate, 0, max(1, channels * bits // 8) & 0xFFFF, bits
        )
        head = b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", size)
        return b"RIFF" + struct.pack("<I", 36 + len(body)) + head + body

    body = bytes(3200)
    return {
        "size lies": wave(1, 16_000, 16, 0xFFFFFFF0, body),
        "0 channels": wave(0, 16_000, 16, len(body), body),
        "60,000 channels": wave(60_000, 16_000, 16, len(body), body),
        "rate 0": wave(1, 0, 16, len(body), body),
        "rate 2^32-1": wave(1, 0xFFFFFFFF, 16, len(body), body),
        "0 bits": wave(1, 16_000, 0, len(body), body),
        "cut in the head": wave(1, 16_000, 16, len(body), body)[:20],
        "empty": b"",
        "FLAC of a head only": b"fLaC" + bytes(38),
    }


def _run(what: str, command: list[str]) -> Tried:
    out, err = io.StringIO(), io.StringIO()
    code: int | str
    faults = []
    try:
        with redirect_stdout(out), redirect_stderr(err):
            code = main(command)
    except SystemExit as left:  # argparse
        code = left.code if isinstance(left.code, int) else 2
    except Exception as broken:  # noqa: BLE001 - this is what is looked for
        code = type(broken).__name__
        faults.append(f"traceback: {broken!a}"[:100])
    printed = out.getvalue() + err.getvalue()
    signs = sorted({sign for sign in printed if not sign.isprintable() and sign not in "\n\t\r"})
    if signs:
        faults.append(f"printed {signs!a}")
    if code not in {0, 1, 2}:
        faults.append("exit code")
    return Tried(what, command[0], code, tuple(faults))


def run_all() -> list[Tried]:
    """All trials in a folder that is removed again; a file outside the shop is a fault."""
    with tempfile.TemporaryDirectory() as outer:
        home = Path(outer) / "shop"
        home.mkdir()
        before, there = Path.cwd(), os.environ.get("GLOVESON_HOME")
        os.chdir(outer)
        os.environ["GLOVESON_HOME"] = str(home)
        try:
            tried = list(trials(home))
        finally:
            os.chdir(before)
            os.environ.pop("GLOVESON_HOME")
            if there is not None:
                os.environ["GLOVESON_HOME"] = there
        outside = [path.name for path in Path(outer).iterdir() if path != home]
        return [*tried, Tried("all of these", "files outside", 0, tuple(outside))]


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))  # what eats memory is a fault too
    rows = run_all()
    for row in rows:
        print(f"| {row.what} | {row.where} | {row.code} | {'; '.join(row.faults) or 'ok'} |")  # noqa: T201
    bad = [row for row in rows if row.faults]
    print(f"{len(rows)} tried, {len(bad)} with a fault")  # noqa: T201
    sys.exit(1 if bad else 0)

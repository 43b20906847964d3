"""Hostile sound for every command that reads some: `trial`, `enroll`, `model test`, `record`."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path

from assistant.engines import SHIPPED_MODEL
from assistant.record.entry import JSON, genesis, make_entry
from assistant.record.folder import CLIPS, JOURNAL
from assistant.record.reading import read_entries
from tests.end_to_end.hostile.files import ODD, remove
from tests.end_to_end.hostile.trying import ESCAPES, Bench, Tried
from tests.end_to_end.hostile.waves import SOUNDS
from tests.rehearing.archive import archived

ROWS = "file,kind,transcript,speaker,snr_db\n{name},command,step complete,one,\n"
ENGINE = ["--engine", "pocketsphinx"]
_HEAD = b"file,kind,transcript,speaker,snr_db\n"
MANIFESTS: dict[str, bytes] = {
    "a path up and out": _HEAD + b"../../../../../etc/passwd,command,step complete,one,\n",
    "a device": _HEAD + b"/dev/zero,command,step complete,one,\n",
    "a NUL": _HEAD + b"a\0b,command,step complete,one,\n",
    "escapes": _HEAD + b"%s,%s,%s,%s,%s\n" % ((ESCAPES.encode(),) * 5),
    "one cell of 2 MB": _HEAD + b"x" * 2_000_000 + b",,,,\n",
    "an open quote": _HEAD + b'"a,command,x,y,\n' + b"z\n" * 50_000,
    "200,000 columns": _HEAD.strip() + b",x" * 200_000 + b"\n",
    "100,000 wrong rows": _HEAD + b"a,b,c,d,e\n" * 100_000,
    "a ratio of infinity": _HEAD + b"a.wav,command,x,one,inf\n",
    "a ratio of 10,000 digits": _HEAD + b"a.wav,command,x,one," + b"9" * 10_000 + b"\n",
    "not UTF-8": _HEAD + b"\xff,command,x,one,\n",
    "not CSV": bytes(range(256)) * 10,
    "empty": b"",
}


def tries(bench: Bench) -> Iterator[Tried]:
    """All of these."""
    manifest = bench.home / "manifest.csv"
    for what, content in MANIFESTS.items():
        manifest.write_bytes(content)
        for command in (["trial", *ENGINE], ["enroll", "mara", "--from"]):
            yield bench.run("manifests", what, [*command, str(manifest)], names=r"manifest\.csv")
    for what, make in SOUNDS.items():
        (bench.home / "a.wav").write_bytes(make())
        yield from _read(bench, "audio files", what)
    (bench.home / "a.wav").unlink()
    for what, odd in ODD.items():
        odd(bench.home / "a.wav")
        yield from _read(bench, "audio files", what)
        remove(bench.home / "a.wav")
    yield from _clips(bench)


def _read(bench: Bench, kind: str, what: str) -> Iterator[Tried]:
    manifest, file = bench.home / "manifest.csv", bench.home / "a.wav"
    manifest.write_text(ROWS.format(name="a.wav"), encoding="utf-8")
    for command in (
        ["trial", str(manifest), "--only", "ours", *ENGINE],
        ["enroll", "mara", "--from", str(manifest)],
        ["model", "test", _shipped(), "--clip", str(file)],
    ):
        yield bench.run(kind, what, command, names=r"a\.wav|manifest\.csv")
    yield bench.run(kind, what, ["enroll", "mara", "--remove"])


def _shipped() -> str:
    """The model that comes along."""
    return str(Path(str(files("assistant.hearing"))) / "data" / "models" / SHIPPED_MODEL)


def _clips(bench: Bench) -> Iterator[Tried]:
    """Clips in records that verify: who made them up has put their hashes into the journal."""
    kind, jobs = "clips in records", bench.home / "jobs"
    out = bench.home / "spoken"
    for number, (what, make) in enumerate(SOUNDS.items()):
        job = f"clip-{number}"
        _with_clip(archived(jobs, job), make())
        command = ["record", job, "--spoken", str(out)]
        yield bench.run(kind, what, command, names=r"clips/\d+\.flac")
        if number % 9 == 4:  # each starts processes of its own, which takes seconds
            heard = ["--out", str(bench.home / f"{job}.jsonl"), "--processes", "1"]
            yield bench.run(kind, what, ["rehear", job, *ENGINE, *heard], names=f"{job}|1 jobs")
    for what, odd in ODD.items():
        job = f"odd-{abs(hash(what))}"
        folder = archived(jobs, job)
        clip = next(iter(sorted((folder / CLIPS).iterdir())))
        clip.unlink()
        odd(clip)
        for command in (["record", job, "--spoken", str(out)], ["audit", job], ["record", job]):
            yield bench.run(kind, what, command, names=r"clips/\d+\.flac|" + job)


def _with_clip(folder: Path, content: bytes) -> None:
    """Put these bytes into the first clip, and make a chain that says so."""
    first = min((folder / CLIPS).iterdir())
    name, digest = f"{CLIPS}/{first.name}", hashlib.sha256(content).hexdigest()
    first.write_bytes(content)

    def changed(data: JSON) -> JSON:
        if isinstance(data, dict):
            if data.get("file") == name:
                return {**data, "sha256": digest}
            return {key: changed(value) for key, value in data.items()}
        return [changed(one) for one in data] if isinstance(data, list) else data

    rechain(folder, changed)


def rechain(folder: Path, changed: Callable[[JSON], JSON]) -> None:
    """Write the journal anew with changed data and a chain that fits; without its seal."""
    prev, lines = genesis(folder.name), []
    for entry in read_entries(folder):
        if entry.kind == "sealed":
            break
        data = changed(dict(entry.data))
        assert isinstance(data, dict)
        new = make_entry(entry.n, entry.kind, data, wall=entry.wall, mono=entry.mono, prev=prev)
        prev = new.hash
        lines.append(new.line())
    (folder / JOURNAL).write_bytes(b"".join(lines))
    os.utime(folder / JOURNAL)

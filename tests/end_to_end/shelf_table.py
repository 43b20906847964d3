"""`python -m tests.end_to_end.shelf_table OUT [CHECKLIST…]`: every shipped checklist rehearsed.

Each is played twice: with its options as they come, and with every option the other way (without
options: with pink noise 15 dB under the voices). What is done is kept in OUT/results.jsonl, so that
a run that was stopped goes on. Prints a table; exits with 1 when a job was not released or anything
was misheard.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import soundfile

from assistant import shelf

_ROOT: Final = Path(__file__).resolve().parents[2]
_LIMIT_S: Final = 900
_NOISE: Final = ("--noise", "pink", "--snr", "15")


def option_sets(file: Path) -> Iterator[tuple[str, ...]]:
    """Arguments of the two rehearsals of a checklist."""
    checklist = shelf.load_checklist(file).checklist
    yield ()
    other: list[str] = []
    for name, option in checklist.options.items():
        now = option.default if option.values else ("yes" if option.default is True else "no")
        values = option.values or ("yes", "no")
        other += ["--option", f"{name}={next(value for value in values if value != now)}"]
    yield tuple(other) or _NOISE


def rehearsed(file: Path, more: tuple[str, ...], out: Path) -> dict[str, Any]:
    """Play one; what `gloveson rehearse --json` says, or why it said nothing."""
    command = [sys.executable, "-m", "assistant.cli.main", "rehearse", str(file), *more]
    command += ["--out", str(out / "jobs"), "--json"]
    made = subprocess.run(command, capture_output=True, text=True, timeout=_LIMIT_S, check=False)
    if not made.stdout.strip():
        return {"status": "failed", "why": made.stderr.strip().splitlines()[-1:]}
    said: dict[str, Any] = json.loads(made.stdout)
    said["minutes"] = round(soundfile.info(said["heard"]).duration / 60, 1)
    said["readings"] = sum(
        '"kind":"heard"' in line and '"intent":{"name":"reading"' in line
        for line in (Path(said["record"]) / "journal.jsonl").read_text("utf-8").splitlines()
    )
    return said


def main() -> int:
    """Rehearse what is missing and print the table."""
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    results = out / "results.jsonl"
    done: dict[tuple[str, str], dict[str, Any]] = {}
    if results.exists():
        for line in map(json.loads, results.read_text("utf-8").splitlines()):
            done[line["file"], line["options"]] = line
    wanted = sys.argv[2:]
    for file in sorted((_ROOT / "checklists").glob("*.yaml")):
        if wanted and file.stem not in wanted:
            continue
        for more in option_sets(file):
            key = (file.stem, " ".join(more[1::2] if more[:1] == ("--option",) else more))
            if key not in done:
                done[key] = rehearsed(file, more, out) | {"file": key[0], "options": key[1]}
                with results.open("a", encoding="utf-8") as log:
                    log.write(json.dumps(done[key]) + "\n")
                _tell(_row(*key, done[key]))
    rows = [_row(*key, said) for key, said in sorted(done.items())]
    head = "checklist | options | status | steps | stops | readings | minutes | said, again, wrong"
    _tell("\n".join([f"| {head}, by keys |", "|---|---|---|---|---|---|---|---|", *rows]))
    good = all(
        said["status"] == "released" and not said["commands"]["wrong"] for said in done.values()
    )
    return 0 if good else 1


def _row(name: str, options: str, said: dict[str, Any]) -> str:
    if "commands" not in said:
        return f"| {name} | {options or 'as they come'} | {said['status']}: {said.get('why')} |"
    steps, heard = said["steps"], said["commands"]
    cells = (
        name,
        options or "as they come",
        said["status"],
        f"{steps['confirmed']} of {steps['total']}",
        f"{said['safety_stops']['passed']} of {said['safety_stops']['met']}",
        said["readings"],
        said["minutes"],
        f"{heard['spoken']}, {heard['asked_again']}, {heard['wrong']}, {heard['by_keys']}",
    )
    return "| " + " | ".join(map(str, cells)) + " |"


def _tell(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())

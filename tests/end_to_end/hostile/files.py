"""Names and YAML files: checklist, shop.yaml, phrases.yaml; searches."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.end_to_end.hostile.trying import ESCAPES, Bench, Tried

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
    "half a surrogate": b'shop: "\\ud800"\n',
    "many documents": b"---\na: 1\n" * 20_000,
    "100,000 keys": b"".join(b"k%d: 1\n" % n for n in range(100_000)),
    "dates and floats": b"shop: 2026-99-99\nclip_days: .inf\nroster: {? .nan : 1e999}\n",
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
    "an option": "--",
    "a network path": "\\\\server\\share\\x.yaml",
}
SEARCHES = [
    "' or 1=1 --", '"; drop table job; --', "%", "_", "\\", "\x00", ESCAPES, "\udc80", "9" * 5000,
    "*" * 1000,
]  # fmt: skip


def letters(number: int) -> bytes:
    """A made-up word for a number."""
    return bytes(97 + int(digit) for digit in f"{number:04d}")


PHRASES: dict[str, bytes] = {
    "an intent of its own": b"language: en\nintents: {open_the_safe: [sesame]}\n",
    "a safety read-back": b"language: en\nintents: {read_back: [anything]}\n",
    "a slot in a slot": b"language: en\nintents: {step_done: ['<name> <name> <<name>>']}\n",
    "brackets, 5,000 deep": b"language: en\nintents: {step_done: ['"
    + b"(" * 5000
    + b"a"
    + b")" * 5000
    + b"']}\n",
    "optional parts, 2^24 wordings": b"language: en\nintents: {step_done: ['"
    + b" ".join(b"[w%d]" % n for n in range(24))
    + b"']}\n",
    "8,000 phrases": b"language: en\nintents:\n  step_done:\n"
    + b"".join(b"  - wrapped %s and tight\n" % letters(n) for n in range(8_000)),
    "500 phrases": b"language: en\nintents:\n  step_done:\n"
    + b"".join(b"  - wrapped %s and tight\n" % letters(n) for n in range(500)),
    "8,000 times one phrase": b"language: en\nintents:\n  step_done:\n"
    + b"  - wrapped and tight\n" * 8_000,
    "what means four other things": b"language: en\nintents:\n"
    + b"".join(
        b"  %s: [wrapped and tight]\n" % name
        for name in (b"step_done", b"carry_on", b"freeze", b"disregard")
    ),
    "one phrase of 200,000 signs": b"language: en\nintents: {step_done: ['"
    + b"a " * 100_000
    + b"']}\n",
    "a language outside": b"language: ../../en\nintents: {step_done: [wrapped]}\n",
    "escapes": b'language: en\nintents: {step_done: ["%s"]}\n' % ESCAPES.encode("unicode_escape"),
    "a number as a phrase": b"language: en\nintents: {step_done: [7, null, {a: b}]}\n",
    "not UTF-8": b"language: en\nintents: {step_done: [\xff]}\n",
}


def tries(bench: Bench) -> Iterator[Tried]:
    """All of these."""
    yield from _names(bench)
    yield from _yaml(bench)
    yield from _phrases(bench)
    for text in SEARCHES:
        for option in ("--vehicle", "--person", "--step", "--wrench", "--since", "--checklist"):
            yield bench.run("search words", f"{text[:20]!a}", ["jobs", f"{option}={text}"])


def _names(bench: Bench) -> Iterator[Tried]:
    kind = "names and paths"
    for what, name in NAMES.items():
        for command in (
            ["check"], ["tray"], ["say", "--"], ["audit"], ["record"], ["resume"],
            ["retain", "--days", "0"], ["trial"], ["model", "get"], ["model", "test"],
            ["model", "build"], ["rehear", "--engine", "pocketsphinx"], ["enroll", "--list"],
            ["start", "--typed", "--who", "Mara"], ["rehearse", "--out", "x"],
        ):  # fmt: skip
            if name == "--" and command[0] in {"rehearse", "rehear"}:
                continue  # nothing is named, so all of it is meant
            more = [name, "step"] if command[0] == "say" else [name]
            yield bench.run(kind, what, [*command, *more])
        yield bench.run(kind, what, ["start", "clutch-cable-adjustment", "--typed", "--who", name])
    yield bench.run(kind, "a folder for a page", ["notice", "--html", str(bench.home)])


def _yaml(bench: Bench) -> Iterator[Tried]:
    file, shop = bench.home / "given.yaml", bench.home / "shop.yaml"
    for what, content in TEXTS.items():
        file.write_bytes(content)
        for command in ("check", "tray"):
            yield bench.run("checklist (YAML)", what, [command, str(file)], names=r"given\.yaml")
    for what, content in TEXTS.items():
        shop.write_bytes(content)
        for given in (["notice"], ["enroll", "mara", "--list"], ["forward"]):
            yield bench.run("shop.yaml", what, given, names=r"shop\.yaml")
    shop.unlink()
    for what, make in ODD.items():
        make(shop)
        yield bench.run("shop.yaml", what, ["notice"], names=r"shop\.yaml")
        remove(shop)


def _phrases(bench: Bench) -> Iterator[Tried]:
    file = bench.home / "phrases.yaml"
    start = ["start", "clutch-cable-adjustment", "--typed", "--who", "Mara", "--loudspeaker", "no"]
    for what, content in {**TEXTS, **PHRASES}.items():
        file.write_bytes(content)
        for command in (["check", "clutch-cable-adjustment"], start):
            yield bench.run("phrases.yaml", what, command, names=r"phrases\.yaml")
    file.unlink()
    for what, make in ODD.items():
        make(file)
        yield bench.run("phrases.yaml", what, start, names=r"phrases\.yaml")
        remove(file)


ODD: dict[str, Callable[[Path], None]] = {
    "a link to /dev/zero": lambda path: path.symlink_to("/dev/zero"),
    "a link to itself": lambda path: path.symlink_to(path),
    "a link to nowhere": lambda path: path.symlink_to("nowhere"),
    "a pipe": os.mkfifo,
    "a folder": Path.mkdir,
}
"""What may lie in a file's place: it never ends, or is never answered."""


def remove(path: Path) -> None:
    """Whatever it is."""
    if path.is_dir() and not path.is_symlink():
        path.rmdir()
    else:
        path.unlink()

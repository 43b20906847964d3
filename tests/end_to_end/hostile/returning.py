"""Hostile texts that are in records or stores already, and come back in listings and pages."""

from __future__ import annotations

import csv
import html.parser
import io
import json
import shutil
from collections.abc import Iterator, Sequence
from contextlib import suppress
from importlib import import_module

from sqlalchemy import insert, update

from assistant.errors import GlovesOnError
from assistant.record.entry import JSON
from assistant.store.address import read_address
from assistant.store.setup import add_login, set_up
from assistant.store.tables import JOB, PERSON, STEP
from tests.end_to_end.hostile.sounds import rechain
from tests.end_to_end.hostile.trying import ESCAPES, Bench, Seen, Tried
from tests.job.bench import ALL_HAZARDS
from tests.store.records import played
from tests.store.server import OWNER, Server

ATTACKS = {
    "script": "<script>alert(1)</script>",
    "image that fails": '"><img src=x onerror=alert(1)>',
    "end of style": "</style></title><svg onload=alert(1)>",
    "frame": "<iframe src=file:///etc/passwd></iframe>",
    "template": "{{ 7 * 7 }}{% include '/etc/passwd' %}",
    "formula": '=HYPERLINK("http://127.0.0.1/","pay")',
    "formula, other signs": "@SUM(1+1)*cmd|' /C calc'!A0",
    "formula, full width": "＝1+1",
    "formula after a tab": "\t=1+1",
    "cut cells": '";=1+1;"',
    "rows of its own": "a\r\n=1+1\r\nb",
    "escapes": ESCAPES,
    "bidi": "\u2066\u202egnp.exe\u2069",
    "NUL": "a\x00b",
    "SQL": "'; drop table gloveson.job; --",
    "format": "%s%n{0.__class__}${jndi:ldap://127.0.0.1/a}",
    "very long": "Ostrel " * 5_000,
    "line separators": "a\u2028b\u2029c\x85d",
    "combining marks": "Z" + "\u0351" * 2_000,
}
_TOLD = ("vehicle", "text", "engine", "source", "phrase", "program", "version")


def tries(bench: Bench) -> Iterator[Tried]:
    """All of these."""
    jobs = bench.home / "jobs"
    start = ["start", "clutch-cable-adjustment", "--typed", "--who", "Mara"]
    for what, attack in ATTACKS.items():
        yield bench.run("texts at the start", what, [*start, f"--vehicle={attack}"])
        yield bench.run("texts typed", what, start, typed=f"take a note\n{attack}\n".encode())
    shutil.rmtree(jobs)
    made = []
    for number, (what, attack) in enumerate(ATTACKS.items()):
        job = f"job-{number}"
        if _record(bench, job, attack):
            made.append((what, attack, job))
    for what, attack, job in made:
        yield from _pages(bench, what, attack, job)
    yield from _listings(bench, "texts in records", "all of them", [])
    file = f"sqlite:///{bench.home}/store.sqlite"
    yield from _store(bench, "texts in a store (SQLite)", file, file)
    server = Server()
    try:
        server.sql("create database shop")
        owner = read_address(server.address("shop")).open()
        set_up(owner)
        for name, kind in (("bay_1", "bay"), ("office_1", "office")):
            add_login(owner, name, "office" if kind == "office" else "bay", "")
        owner.dispose()
        kind = "texts in a store (PostgreSQL)"
        bay, office = (server.address("shop", role) for role in ("bay_1", "office_1"))
        yield from _store(bench, kind, bay, office, server.address("shop", OWNER))
    finally:
        server.remove()
    shutil.rmtree(jobs)


def _record(bench: Bench, job: str, attack: str) -> bool:
    """A record whose people, machine, notes and checklist are called so; whether one could be."""
    sheet = bench.home / "small.yaml"
    title = json.dumps(attack[:100])
    for text in (ALL_HAZARDS.replace("title: Small job", f"title: {title}"), ALL_HAZARDS):
        sheet.write_text(text, encoding="utf-8")
        with suppress(GlovesOnError):
            folder = played(bench.home / "jobs", job, "WREN 7", trouble=True, checklist=sheet)
            break
        shutil.rmtree(bench.home / "jobs" / job, ignore_errors=True)
    else:
        return False

    def changed(data: JSON) -> JSON:
        if not isinstance(data, dict):
            return [changed(one) for one in data] if isinstance(data, list) else data
        return {
            key: attack
            if key in _TOLD and isinstance(value, str)
            else dict.fromkeys(value, attack)
            if key == "roster" and isinstance(value, dict)
            else changed(value)
            for key, value in data.items()
        }

    rechain(folder, changed)
    return True


def _pages(bench: Bench, what: str, attack: str, job: str) -> Iterator[Tried]:
    kind, page, paper = "texts in records", bench.home / "page.html", bench.home / "page.pdf"

    def look(seen: Seen) -> Sequence[str]:
        if seen.code or not page.exists():
            return []
        return faults_of_page(page.read_text(encoding="utf-8"), attack)

    for more in ([], ["--json"]):
        yield bench.run(kind, what, ["record", job, *more])
    for more in ([], ["--customer"]):
        page.unlink(missing_ok=True)
        given = ["record", job, *more, "--html", str(page), "--pdf", str(paper)]
        yield bench.run(kind, what, given, look=look)
    yield bench.run(kind, what, ["audit", job])


class _Page(html.parser.HTMLParser):
    """What a browser would run or fetch of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.faults: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A tag that runs or fetches something, or an attribute that does."""
        if tag in {"script", "iframe", "object", "embed", "img", "link", "form", "base"}:
            self.faults.append(f"a tag {tag} in the page")
        for name, value in attrs:
            if name.startswith("on") or "javascript:" in (value or "").lower():
                self.faults.append(f"an attribute {name} in the page")


def faults_of_page(text: str, attack: str) -> list[str]:
    """What of an attack is more than text on a page."""
    page = _Page()
    page.feed(text)
    if "{{" in attack and "49" in text and "{{ 7 * 7 }}" not in text:
        page.faults.append("a template was run")
    return page.faults


def _listings(bench: Bench, kind: str, what: str, store: list[str]) -> Iterator[Tried]:
    """Every form in which jobs are listed."""
    table = bench.home / "jobs.parquet"

    def cells(seen: Seen) -> Sequence[str]:
        rows = list(csv.reader(io.StringIO(seen.out)))
        begun = [cell for row in rows for cell in row if cell.startswith(_FORMULAS)]
        uneven = ["rows of different lengths"] if len({len(row) for row in rows}) > 1 else []
        return [*(f"a cell begins a formula: {cell[:20]!a}" for cell in begun[:2]), *uneven]

    def values(seen: Seen) -> Sequence[str]:
        if seen.code:
            return []
        read = import_module("pyarrow.parquet").read_table(table).to_pylist()
        return [] if read else ["no rows in the Parquet file"]

    def parsed(seen: Seen) -> Sequence[str]:
        return [] if seen.code or json.loads(seen.out) else ["no jobs in the JSON"]

    yield bench.run(kind, what, ["jobs", *store])
    yield bench.run(kind, what, ["jobs", "--csv", *store], look=cells)
    yield bench.run(kind, what, ["jobs", "--json", *store], look=parsed)
    yield bench.run(kind, what, ["jobs", "--parquet", str(table), *store], look=values)
    yield bench.run(kind, what, ["jobs", "--status", "damaged", *store])


_FORMULAS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def _store(bench: Bench, kind: str, bay: str, office: str, owner: str = "") -> Iterator[Tried]:
    """Forwarded by a bay, then written past all checks by whoever owns the store."""
    if not owner:
        yield bench.run(kind, "set up", ["store", "--set-up", "--store", bay])
    yield bench.run(kind, "forwarded by a bay", ["forward", "--store", bay])
    asked = ["--store", office]
    yield from _listings(bench, kind, "forwarded by a bay", asked)
    engine = read_address(owner or bay).open()
    with engine.connect() as connection:
        ids = [row.id for row in connection.execute(JOB.select())]
    for number, (what, attack) in enumerate(ATTACKS.items()):
        if "\x00" in attack and engine.dialect.name == "postgresql":
            continue  # no text of PostgreSQL holds one
        with engine.begin() as connection:
            job = ids[number % len(ids)]
            change = dict.fromkeys(("vehicle", "title", "checklist", "version", "problem"), attack)
            connection.execute(update(JOB).where(JOB.c.id == job).values(**change))
            connection.execute(insert(PERSON).values(job=job, person=attack, name=attack))
            connection.execute(insert(STEP).values(job=job, step=attack, at=attack, who=attack))
        yield bench.run(kind, what, ["jobs", *asked])
        yield bench.run(kind, what, ["jobs", *asked, f"--vehicle={attack[:200]}"])
    yield from _listings(bench, kind, "rows written past all checks", asked)
    with engine.begin() as connection:
        odd = {"began": "not a time", "ended": ESCAPES, "status": ESCAPES, "seal": "<script>"}
        connection.execute(update(JOB).where(JOB.c.id == ids[0]).values(**odd))
    yield from _listings(bench, kind, "times that are none", asked)
    engine.dispose()
    fetched = bench.home / "fetched"
    for job in ("../x", ESCAPES, "bay_1/../../x", "'; drop table job", ids[0]):
        given = ["forward", *asked, "--fetch", job, str(fetched)]
        yield bench.run(kind, f"fetch {job[:30]!a}", given)
        shutil.rmtree(fetched, ignore_errors=True)
    yield bench.run(kind, "what it holds", ["store", *asked])

"""What the database itself refuses a bay's role, asked by PostgreSQL's own client."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from assistant.record.entry import Entry, genesis, make_entry
from assistant.store.forwarding import forward
from tests.store.conftest import Shop

DENIED = "permission denied"
SECURITY = "row-level security policy"
FORBIDDEN = [
    ("update gloveson.entry set hash = hash", DENIED),
    ("update gloveson.file set content = ''", DENIED),
    ("update gloveson.refused set reason = ''", DENIED),
    ("delete from gloveson.entry", DENIED),
    ("delete from gloveson.file", DENIED),
    ("delete from gloveson.refused", DENIED),
    ("truncate gloveson.entry", DENIED),
    ("truncate gloveson.file, gloveson.refused", DENIED),
    ("drop table gloveson.entry", "must be owner"),
    ("drop schema gloveson cascade", "must be owner"),
    ("drop function gloveson.check_entry() cascade", "must be owner"),
    ("drop policy bay_reads on gloveson.entry", "must be owner"),
    ("drop trigger check_entry on gloveson.entry", "must be owner"),
    ("alter table gloveson.entry disable row level security", "must be owner"),
    ("alter table gloveson.entry disable trigger all", "must be owner"),
    ("alter table gloveson.entry add column more text", "must be owner"),
    ("alter role bay_1 createrole", DENIED),
    ("alter role bay_1 bypassrls", "must be superuser"),
    ("create table gloveson.more (x int)", DENIED),
    ("create function gloveson.more() returns int language sql as 'select 1'", DENIED),
    ("create rule gone as on delete to gloveson.entry do instead nothing", "must be owner"),
    ("create policy more on gloveson.entry using (true)", "must be owner"),
    ("create trigger more before insert on gloveson.entry execute function x()", DENIED),
    ("begin; lock table gloveson.entry in access exclusive mode", DENIED),
    ("set session_replication_role = replica", DENIED),
    ("set role owner", DENIED),
    ("set role bay_2", DENIED),
    ("set role gloveson_office", DENIED),
    ("set session authorization bay_2", DENIED),
    ("grant gloveson_office to bay_1", "must have admin option"),
    ("set row_security = off; select * from gloveson.entry", "would be affected"),
    ("copy gloveson.entry to '/tmp/out'", "must be superuser"),
    ("select * from gloveson.job", DENIED),
    ("insert into gloveson.job (id) values ('x')", DENIED),
    ("update gloveson.store set version = 9", DENIED),
    (("insert into gloveson.entry (bay, job, n, hash, prev, kind, line, received) "
     "values ('bay_1', 'j', 0, '', '', '', '', now())"), DENIED),
    (("insert into gloveson.entry (bay, job, n, hash, prev, kind, line) "
     "values ('bay_2', 'j', 0, '', '', '', '')"), SECURITY),
    (("insert into gloveson.file (bay, job, name, sha256, content) values "
     "('bay_2', 'j', 'x', encode(sha256(''), 'hex'), '')"), SECURITY),
    (("insert into gloveson.refused (bay, job, n, sha256, reason, content) values "
     "('bay_2', 'j', 0, encode(sha256(''), 'hex'), '', '')"), SECURITY),
    (("insert into gloveson.file (bay, job, name, sha256, content) values "
     "('bay_1', 'j', 'x', 'another', '')"), "do not match their hash"),
    (("insert into gloveson.entry (bay, job, n, hash, prev, kind, line) "
     "select bay, job, n, hash, prev, kind, line from gloveson.entry where n = 0 "
     "on conflict (bay, job, n) do update set line = ''"), DENIED),
]  # fmt: skip


def refusal(shop: Shop, statement: str, role: str = "bay_1") -> str:
    """What the database says against a statement."""
    with pytest.raises(subprocess.CalledProcessError) as caught:
        shop.sql(statement, role=role)
    return str(caught.value.stderr)


def test_every_forbidden_statement_is_refused_by_the_database(shop: Shop, jobs: Path) -> None:
    """And after all of them everything is there as it was, for both bays and the office."""
    for bay in ("bay_1", "bay_2"):
        forward(shop.engine(bay), bay, jobs)
    everything = "select md5(string_agg(e::text, '' order by e::text)) from gloveson.{} e"
    before = [shop.sql(everything.format(table)) for table in ("entry", "file", "refused")]
    for statement, said in FORBIDDEN:
        assert said in refusal(shop, statement), statement
    after = [shop.sql(everything.format(table)) for table in ("entry", "file", "refused")]
    assert before == after


def test_a_bay_sees_its_own_and_the_office_sees_all(shop: Shop, jobs: Path) -> None:
    """Rows of another bay are as if they were not there."""
    for bay in ("bay_1", "bay_2"):
        forward(shop.engine(bay), bay, jobs)
    asked = "select distinct bay from gloveson.{} order by bay"
    for table in ("entry", "file"):
        assert shop.sql(asked.format(table), role="bay_1").split() == ["bay_1"]
        assert shop.sql(asked.format(table), role="bay_2").split() == ["bay_2"]
        assert shop.sql(asked.format(table), role="office_1").split() == ["bay_1", "bay_2"]


def test_a_bay_can_grant_nothing(shop: Shop) -> None:
    """PostgreSQL only warns that nothing was granted, and nothing was."""
    shop.sql("grant all on gloveson.entry to bay_1, bay_2", role="bay_1")
    for bay in ("bay_1", "bay_2"):
        assert DENIED in refusal(shop, "update gloveson.entry set hash = hash", bay)


def test_the_office_reads_and_alters_no_journal(shop: Shop) -> None:
    """It keeps the index, and nothing else."""
    for statement in (
        "update gloveson.entry set hash = ''",
        "delete from gloveson.entry",
        "truncate gloveson.file",
        (
            "insert into gloveson.entry (bay, job, n, hash, prev, kind, line) "
            "values ('office_1', 'j', 0, '', '', '', '')"
        ),
        "insert into gloveson.store (version) values (7)",
    ):
        assert DENIED in refusal(shop, statement, "office_1")


def put(entry: Entry, line: bytes | None = None, **other: object) -> str:
    """An insert of an entry, as another program might make it."""
    row: dict[str, object] = {"bay": "bay_1", "job": "j", "n": entry.n, "hash": entry.hash,
                              "prev": entry.prev, "kind": entry.kind, **other}  # fmt: skip
    values = ", ".join(f"'{value}'" for value in row.values())
    hexed = (line if line is not None else entry.line()).hex()
    return (
        f"insert into gloveson.entry ({', '.join(row)}, line) "  # noqa: S608 - a test's own
        f"values ({values}, decode('{hexed}', 'hex'))"
    )


def entry(n: int, prev: str, kind: str = "said", text: str = "x") -> Entry:
    """An entry that is right in itself."""
    wall = "2026-03-02T10:00:00.000Z"
    return make_entry(n, kind, {"text": text}, wall=wall, mono=1.5, prev=prev)


def test_the_database_checks_the_chain_itself(shop: Shop) -> None:
    """Whatever program inserts: wrong hashes, gaps, forks and entries after a seal are refused."""
    first = entry(0, genesis("j"), text='a "quoted" ü \x00 text')
    second = entry(1, first.hash)
    assert "leaves a gap" in refusal(shop, put(second))
    assert "does not follow" in refusal(shop, put(entry(0, genesis("another"))))
    assert "match its hash" in refusal(shop, put(first, first.line().replace(b"said", b"sayd")))
    assert "match its hash" in refusal(shop, put(first, first.line()[:-1]))
    assert "match its hash" in refusal(shop, put(first, b""))
    assert "match its hash" in refusal(shop, put(first, kind="other"))
    assert "match its hash" in refusal(shop, put(second, first.line(), n=0))
    shop.sql(put(first), role="bay_1")
    shop.sql(put(first), role="bay_1")  # twice is as good as once
    assert "a fork" in refusal(shop, put(entry(0, genesis("j"), text="other")))
    assert "does not follow" in refusal(shop, put(entry(1, "0" * 64)))
    assert "leaves a gap" in refusal(shop, put(entry(2, first.hash)))
    sealed = entry(1, first.hash, "sealed")
    shop.sql(put(sealed), role="bay_1")
    assert "after the seal" in refusal(shop, put(entry(2, sealed.hash)))
    assert shop.sql("select count(*) from gloveson.entry").strip() == "2"

"""Hostile files given to the commands: refused at once, with a message, without harm."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.checklist.test_hostile import LAUGHS
from tests.end_to_end.running import gloveson_measured

CPU_S = 1.0
"""What refusing a hostile file may take, measured as processor time of the command."""

TAGGED = 'checklist: !!python/object/apply:os.system ["touch {mark}"]\n'
HEAD = """\
checklist: {id}
title: Small job
version: 1.0.0
machines:
  - name: Ostrel 900 roadster
source: Written for a test.
standing: Upright on the stand.
sections:
  - include: {include}
"""


def _sparse(path: Path) -> None:
    """A file of 50 MB that takes no room."""
    path.write_bytes(b"checklist: big\n")
    os.truncate(path, 50_000_000)


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="needs wait4, which Windows lacks")
@pytest.mark.parametrize("kind", ["laughs", "tag", "sparse", "id", "include", "binary", "deep"])
def test_a_hostile_checklist_is_refused_without_harm(kind: str, tmp_path: Path) -> None:
    """Exit code 1 or 2, a message, no traceback, under one second of processor time."""
    mark, file = tmp_path / "harm", tmp_path / "hostile.yaml"
    texts = {
        "laughs": LAUGHS,
        "tag": TAGGED.format(mark=mark),
        "id": HEAD.format(id="../../../etc/passwd", include="shared/secure-machine.yaml"),
        "include": HEAD.format(id="small", include="../../../../etc/passwd"),
        "deep": "a: " + "[" * 900_000,
    }
    if kind == "sparse":
        _sparse(file)
    elif kind == "binary":
        file.write_bytes(bytes(range(256)) * 3000)
    else:
        file.write_text(texts[kind], encoding="utf-8")
    before = sorted(tmp_path.iterdir())
    for command in (("check",), ("rehearse", "--out", str(tmp_path / "out"))):
        ran = gloveson_measured(tmp_path, *command, str(file))
        assert ran.code in (1, 2), ran
        assert "hostile.yaml" in ran.out + ran.err
        assert "Traceback" not in ran.out + ran.err
        assert len(ran.out + ran.err) < 4000
        assert ran.cpu_s < CPU_S
    assert not mark.exists()
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="needs wait4, which Windows lacks")
@pytest.mark.parametrize(
    "arguments",
    [
        ("audit", "../../etc"),
        ("record", "/etc/passwd"),
        ("resume", "..", "--typed"),
        ("resume", "a\x1b[2Jb", "--typed"),
        ("start", "clutch-cable-adjustment", "--who", "Mara", "--typed", "--job", "../out"),
        ("start", "clutch-cable-adjustment", "--who", "Mara", "--typed", "--job", "con"),
        ("start", "clutch-cable-adjustment", "--who", "../Mara", "--typed"),
        ("start", "../../../etc/passwd", "--who", "Mara", "--typed"),
        ("model", "get", "../../etc/passwd"),
        ("rehearse", "--script", "/dev/zero"),
    ],
)
def test_paths_in_place_of_names_are_refused(arguments: tuple[str, ...], tmp_path: Path) -> None:
    """A path or control characters where an id belongs: exit code 2, and nothing is made."""
    ran = gloveson_measured(tmp_path, *arguments)
    assert ran.code == 2, ran
    assert "Traceback" not in ran.out + ran.err
    assert "\x1b" not in ran.out + ran.err
    assert ran.err
    assert list(tmp_path.iterdir()) == []
    assert not (tmp_path.parent / "out").exists()


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="needs wait4, which Windows lacks")
@pytest.mark.parametrize("text", [LAUGHS, "roster: !!python/name:os.system\n", "roster: [a]\n"])
def test_a_hostile_shop_file_is_refused(text: str, tmp_path: Path) -> None:
    """The shop's own file is read with the same care as a checklist."""
    (tmp_path / "shop.yaml").write_text(text, encoding="utf-8")
    ran = gloveson_measured(
        tmp_path, "start", "clutch-cable-adjustment", "--who", "Mara", "--typed"
    )
    assert ran.code == 2, ran
    assert "shop.yaml:1" in ran.err
    assert "Traceback" not in ran.err
    assert ran.cpu_s < CPU_S

"""Small checklists for the tests of this room."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

import pytest

from assistant.checklist.loader import Loaded, load
from assistant.errors import BadFile, Finding

HEAD = """\
checklist: small
title: Small job
version: 1.0.0
machines:
  - name: Ostrel 900 roadster
source: Written for a test.
standing: On the stand.
"""


def checklist(steps: str, head: str = HEAD) -> str:
    """A checklist with one section of these steps; the first of them stands in line 12."""
    section = "sections:\n  - section: only\n    title: Only section\n    steps:\n"
    return head + section + textwrap.indent(textwrap.dedent(steps), "      ")


def loaded(text: str, shared: Mapping[str, str] | None = None) -> Loaded:
    """The checklist loaded as small.yaml, with shared sections by their names."""
    return load({"small.yaml": text, **(shared or {})}, "small.yaml")


def refused(text: str, shared: Mapping[str, str] | None = None) -> tuple[Finding, ...]:
    """The findings for which a checklist is refused."""
    with pytest.raises(BadFile) as error:
        loaded(text, shared)
    return error.value.findings


def codes(findings: tuple[Finding, ...]) -> list[str]:
    """The rules that were broken."""
    return [finding.code for finding in findings]

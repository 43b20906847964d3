"""Replaying a failure of the field log: its checklist as steps, its dialogue on a bench."""

from __future__ import annotations

import textwrap

from assistant.checking import check_loaded
from assistant.checklist.expand import expand
from assistant.checklist.loader import load
from assistant.checklist.model import OptionValue
from assistant.errors import Finding
from assistant.opening import setting_of, words_of
from tests.job.bench import HEAD, ROSTER, Bench

_FILE = "small.yaml"
_SECTIONS = "sections:\n"


def checklist(steps: str, more: str = "") -> str:
    """A checklist with these steps and, if given, more keys of its own (options, interlocks)."""
    head = HEAD.replace(_SECTIONS, textwrap.dedent(more) + _SECTIONS)
    return head + textwrap.indent(textwrap.dedent(steps), "      ")


def job(
    steps: str, more: str = "", *, second: str | None = "tobin", **options: OptionValue
) -> Bench:
    """Mara's job on these steps, standing condition asked."""
    loaded = load({_FILE: checklist(steps, more)}, _FILE)
    return Bench(setting_of(expand(loaded, options), ROSTER), second=second)


def errors(steps: str, more: str = "") -> tuple[Finding, ...]:
    """What `check` finds wrong with these steps."""
    checked = check_loaded(load({_FILE: checklist(steps, more)}, _FILE))
    return tuple(finding for finding in checked.findings if finding.level == "error")


def codes(steps: str, more: str = "") -> set[str]:
    """The codes of what `check` finds wrong with these steps."""
    return {finding.code for finding in errors(steps, more)}


def done(bench: Bench) -> tuple[str, ...]:
    """The open step is said to be done, after ample time."""
    bench.wait(3600)
    return bench.hear("step_done")


def off(bench: Bench) -> dict[str, int]:
    """The names on the off-list with their counts."""
    items = bench.state.progress.off.open_items()
    return {item.item: item.count for item in items}


def told(bench: Bench) -> str:
    """All that the last event made the assistant say, as the voice says it."""
    words = words_of(bench.setting.plan.language)
    return " ".join(words.spoken(line) for line in bench.lines())


def report(bench: Bench, kind: str, text: str) -> None:
    """Trouble of this kind is reported, with a few words."""
    bench.hear("report_trouble")
    bench.hear("trouble_kind", trouble=kind)
    bench.dictate(text=text)

"""Any checklist that the models can hold is written, read and planned again; any damage is told."""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import BaseModel

from assistant.checklist.expand import expand, option_sets
from assistant.checklist.model import (
    Adapter,
    BackItem,
    Caution,
    Checklist,
    Fastener,
    Fluid,
    Hazards,
    Hold,
    Machine,
    OffItem,
    Option,
    Part,
    Reading,
    Section,
    Step,
    Torque,
    Wrench,
)
from assistant.checklist.rules import findings
from assistant.checklist.schema import json_schema
from assistant.checklist.tags import BatteryTag, FluidTag, SignalWord
from assistant.errors import BadFile, BadInput, Finding
from assistant.trade.quantity import UNITS, Quantity
from tests.checklist.making import loaded

# Texts that YAML has most trouble with: quotes, colons, hashes, dashes, words of other types.
texts = st.one_of(
    st.text(
        st.characters(min_codepoint=33, max_codepoint=0x2FFF, exclude_categories=["C", "Z"],
                      exclude_characters="{}"),
        min_size=1, max_size=30,
    ),
    st.sampled_from(["yes", "no", "off", "null", "1:30", "010", "1.0", "- a", "a: b", "a #b",
                     "#10-32 UNF", "M8 × 1.25", "22 N·m", "*a", "&b", "!c", "%d", "@e", "'", '"']),
)  # fmt: skip
quantities = st.builds(
    Quantity,
    st.fractions(min_value=0, max_value=999, max_denominator=64),
    st.sampled_from(UNITS),
)
maybe = st.none() | texts
counts = st.integers(1, 99)
fasteners = st.builds(
    Fastener, name=texts, thread=maybe, length=st.none() | quantities, drive=maybe, count=counts,
    into=st.sampled_from([None, "aluminum", "soft liner"]), special=maybe,
)  # fmt: skip
torques = st.builds(
    Torque,
    value=quantities,
    stages=st.lists(quantities, max_size=2).map(tuple),
    source=texts,
    condition=st.sampled_from(["dry", "oiled", "threadlocker", "anti-seize"]),
    wrench=st.none() | st.builds(Wrench, name=texts, most=quantities, lever=st.none() | quantities),
    adapter=st.none() | st.builds(Adapter, name=texts, offset=quantities),
)
parts = st.builds(
    Part, name=texts, number=st.none() | st.from_regex(r"\A[A-Z0-9]{1,8}\Z"), count=counts,
    single_use=st.booleans(),
)  # fmt: skip
readings = st.builds(
    Reading, name=texts, unit=st.sampled_from([u.symbol for u in UNITS]),
    at_least=st.none() | quantities, condition=maybe,
)  # fmt: skip
options = {
    "abs": Option(ask="Is ABS fitted?", default=False),
    "grips": Option(ask="Which grips?", values=("plain", "no"), default="no"),
}
when: st.SearchStrategy[dict[str, bool | str]] = st.fixed_dictionaries(
    {},
    optional={
        "abs": st.booleans(),
        "grips": st.sampled_from(["plain", "no"]),
    },
)


@st.composite
def steps(draw: st.DrawFn, number: int, *, sides: bool) -> Step:
    """A step that agrees with itself: what goes back came off in it, {each} is said."""
    each = draw(st.just(()) if sides else st.sampled_from([(), ("left", "right")]))
    off = draw(st.lists(texts, max_size=2))
    return Step(
        step=f"step-{number}",
        do="Turn the {each} one." if each else draw(texts),
        when=draw(when),
        each=each,
        fastener=draw(st.none() | fasteners),
        torque=draw(st.none() | torques),
        parts=tuple(draw(st.lists(parts, max_size=2))),
        consumables=tuple(draw(st.lists(texts, max_size=2))),
        fluid=draw(st.none() | st.builds(Fluid, grade=texts, into=texts)),
        cautions=tuple(
            Caution(signal=draw(st.sampled_from(SignalWord)), text=draw(texts))
            for _ in range(draw(st.integers(0, 2)))
        ),
        readings=tuple(draw(st.lists(readings, max_size=2))),
        hold=draw(st.none() | st.builds(Hold, time=quantities, what=texts)),
        minutes=draw(st.integers(1, 4800)) / 10,
        least_seconds=draw(st.none() | st.integers(0, 600)),
        why=draw(maybe),
        off=tuple(OffItem(item=item, count=draw(counts), where=draw(maybe)) for item in off),
        back=tuple(BackItem(item=item, new=draw(st.booleans())) for item in off),
        hazards=Hazards(
            battery=draw(st.none() | st.sampled_from(BatteryTag)),
            brake=draw(st.none() | st.sampled_from(FluidTag)),
        ),
        second_person=draw(st.booleans()),
        optional=draw(st.booleans()),
        reopens=draw(st.sampled_from([(), ("step-0",)])),
    )


@st.composite
def checklists(draw: st.DrawFn) -> Checklist:
    """A checklist of one or two sections that loads."""
    sections, number = [], 0
    for index in range(draw(st.integers(1, 2))):
        sides = draw(st.booleans())
        here = []
        for _ in range(draw(st.integers(1, 2))):
            here.append(draw(steps(number, sides=sides)))
            number += 1
        sections.append(
            Section(
                section=f"section-{index}",
                title="The {each} side" if sides else draw(texts),
                each=("left", "right") if sides else (),
                when=draw(when),
                steps=tuple(here),
            )
        )
    return Checklist(
        checklist="any-checklist",
        title=draw(texts),
        version="1.2.3",
        machines=(Machine(name=draw(texts), note=draw(maybe)),),
        source=draw(texts),
        standing=draw(texts),
        options=options,
        sections=tuple(sections),
    )


def as_data(value: object) -> Any:  # noqa: ANN401 - any YAML
    """What an author would write for a model, leaving out what has its default."""
    if isinstance(value, BaseModel):
        fields = type(value).model_fields
        return {
            name: as_data(getattr(value, name))
            for name in fields
            if fields[name].is_required()
            or getattr(value, name) != fields[name].get_default(call_default_factory=True)
        }
    if isinstance(value, tuple):
        return [as_data(item) for item in value]
    if isinstance(value, Mapping):
        return {name: as_data(item) for name, item in value.items()}
    if isinstance(value, Quantity | SignalWord | BatteryTag | FluidTag):
        return str(value)
    return value


class _Typed(yaml.SafeDumper):
    """Quotes texts and nothing else, so that no tag is written."""


_Typed.add_representer(
    str, lambda dumper, text: dumper.represent_scalar("tag:yaml.org,2002:str", text, style='"')
)


def text_of(checklist: Checklist, *, flow: bool) -> str:
    """The checklist as YAML text, written by an independent writer."""
    return yaml.dump(
        as_data(checklist), Dumper=_Typed, default_flow_style=flow, allow_unicode=True,
        sort_keys=False, width=70,
    )  # fmt: skip


@given(checklists(), st.booleans())
@settings(max_examples=60)
def test_what_is_written_loads_as_the_same(checklist: Checklist, flow: bool) -> None:
    """Models to YAML by PyYAML and back give equal models, in block and in flow style."""
    assert loaded(text_of(checklist, flow=flow)).checklist == checklist


@given(checklists())
@settings(max_examples=30)
def test_what_loads_is_valid_for_editors_too(checklist: Checklist) -> None:
    """The JSON Schema, judged by jsonschema, takes whatever the loader takes."""
    document = yaml.safe_load(text_of(checklist, flow=False))
    assert list(Draft202012Validator(json_schema()).iter_errors(document)) == []


@given(checklists())
@settings(max_examples=30)
def test_whatever_loads_can_be_proved_and_planned(checklist: Checklist) -> None:
    """The rules and every choice of options work on any loaded checklist; ids are unique."""
    whole = loaded(text_of(checklist, flow=False))
    findings(whole)
    for chosen in option_sets(whole, 10):
        try:
            plan = expand(whole, chosen)
        except BadInput as error:
            assert "no step applies" in str(error)  # noqa: PT017 - any other refusal is a fault
            continue
        assert len({step.id for step in plan.steps}) == len(plan.steps)


def told(text: str) -> tuple[Finding, ...]:
    """What is said about a text; anything raised but BadFile, or BadFile with nothing, fails."""
    try:
        return findings(loaded(text))
    except BadFile as error:
        refusals = error.findings
    assert refusals
    return refusals


GOOD = text_of(
    Checklist(
        checklist="good", title="Good", version="1.0.0", machines=(Machine(name="M"),),
        source="S.", standing="On the stand.", options=options,
        sections=(
            Section(
                section="a", title="A", steps=(
                    Step(
                        step="one", do="Turn it.", when={"abs": True},
                        fastener=Fastener(name="bolt", thread="M8 × 1.25"),
                        torque=Torque(value=Quantity.parse("22 N·m"), source="sheet 1"),
                        off=(OffItem(item="bolt"),), back=(BackItem(item="bolt"),),
                    ),
                    Step(step="two", do="Turn the {each} one.", each=("left", "right")),
                ),
            ),
        ),
    ),
    flow=False,
)  # fmt: skip
_SPICE = ["\x00", "\x1b", "\t", "&a ", "*a", "!!x ", "{", "}", "[", "]", ": ", "- ", "#", "'", '"',
          "|", ">", "%", "---\n", "\n", "  ", "é", "\ufeff", "{each}", "yes", "~", "1e9",
          "?"]  # fmt: skip


@given(st.integers(0, 2**32), st.integers(1, 8))
@settings(max_examples=300)
def test_any_damage_to_a_good_file_is_a_finding_or_harmless(seed: int, blows: int) -> None:
    """Cut, doubled, moved or spiced text loads or raises BadFile, with printable findings."""
    chance, text = random.Random(seed), GOOD  # noqa: S311 - for variety only
    for _ in range(blows):
        a, b = sorted(chance.choices(range(len(text) + 1), k=2))
        b = min(b, a + 40)
        text = chance.choice(
            [
                text[:a] + text[b:],
                text[:a] + text[a:b] * 2 + text[b:],
                text[:a] + chance.choice(_SPICE) + text[a:],
                text[:a] + chance.choice(_SPICE) + text[b:],
                text[:a] + text[a:b][::-1] + text[b:],
            ]
        )
    lines = text.count("\n") + text.count("\r") + 2
    for finding in told(text):
        assert str(finding).isprintable()
        assert 0 <= finding.line <= lines


@given(st.text(max_size=300))
def test_any_text_at_all_is_refused_with_findings(text: str) -> None:
    """No text that is not a checklist raises anything but BadFile."""
    assert told(text)

"""Untagged hazard work, found by a step's words (invariant I7)."""

from __future__ import annotations

import textwrap
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant import packaged
from assistant.checking import check_file, check_loaded
from assistant.checklist.loader import Loaded, load
from assistant.checklist.model import Hazards, Step
from assistant.checklist.tags import BatteryTag, FluidTag
from assistant.errors import BadFile, BadInput
from assistant.safety.detection import findings, hazards_named, load_hazard_words, untagged
from assistant.safety.hazards import Hazard
from assistant.shelf import checklists_folder, load_checklist
from tests.safety.detection_sentences import HELD_OUT, SECOND_ROUND, THIRD_ROUND, TUNED

TEXT = (files("assistant") / "safety/data/en/hazard_words.yaml").read_text(encoding="utf-8")
WORDS = packaged.hazard_words("en")
ALL = (*HELD_OUT, *TUNED, *SECOND_ROUND, *THIRD_ROUND)
SHIPPED = sorted(checklists_folder().glob("*.yaml"))

HEAD = """\
checklist: small
title: Small job
version: 1.0.0
machines:
  - name: Ostrel 900 roadster
source: Written for a test.
standing: On the stand.
sections:
  - section: only
    title: Only section
"""


def _loaded(steps: str, each: str = "") -> Loaded:
    """A checklist of these steps; without `each` the first of them stands in line 12."""
    body = each + "steps:\n" + textwrap.indent(textwrap.dedent(steps), "  ")
    return load({"small.yaml": HEAD + textwrap.indent(body, "    ")}, "small.yaml")


def _step(do: str, **more: object) -> Step:
    return Step.model_validate({"step": "a", "do": do, **more})


@pytest.mark.parametrize(("text", "wanted"), ALL)
def test_each_sentence_names_its_hazards(text: str, wanted: str) -> None:
    """Work is found whatever its words are; refusals, mentions and look-alikes are not work."""
    assert " ".join(hazard.value for hazard in hazards_named(text, WORDS)) == wanted


def test_the_sentences_cover_both_answers_and_every_hazard() -> None:
    """No answer can be right by always being the same."""
    assert len({text for text, _ in ALL}) == len(ALL)
    assert sum(1 for _, wanted in ALL if not wanted) >= 60
    for hazard in Hazard:
        assert sum(1 for _, wanted in ALL if hazard.value in wanted) >= 20
    assert len(HELD_OUT) == 40


@pytest.mark.parametrize("verb", ["loosen", "loosens", "loosened", "loosening", "LOOSEN"])
def test_a_verb_counts_in_every_form(verb: str) -> None:
    """Inflection hides no work."""
    sentence = {
        "loosens": "The banjo bolt loosens with a jerk: loosen it slowly.",
        "loosened": "The banjo bolt is loosened a quarter turn.",
        "loosening": "Hold the hose while loosening the banjo bolt.",
    }.get(verb, f"{verb} the banjo bolt.")
    assert hazards_named(sentence, WORDS) == (Hazard.BRAKE,)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_the_shipped_checklists_have_no_finding(path: Path) -> None:
    """Every piece of hazard work in them is tagged or has its reason."""
    assert findings(load_checklist(path), WORDS) == ()
    assert check_file(str(path)).ok


TAGGED_BEYOND_THEIR_WORDS = frozenset(
    {"rear-sensor-off", "rear-axle-out", "rear-axle-in", "rear-sensor-on", "rear-axle-torque"}
)
"""Work on the rear axle: the caliper's bracket hangs on it, but no word of theirs names a brake."""


def test_shipped_work_is_found_when_its_tags_are_taken_away() -> None:
    """Every shipped step that opens, works on or refits a hazard's parts says so in its words.

    Steps that only prove, wait or unplug connectors carry tags that no word of theirs demands.
    """
    opening = (FluidTag.OPEN, FluidTag.WORK)
    missed = []
    for path in SHIPPED:
        for _, _, step in load_checklist(path).steps():
            bare = untagged(step.model_copy(update={"hazards": Hazards()}), WORDS)
            tags = step.hazards
            for tag, hazard in ((tags.fuel, Hazard.FUEL), (tags.brake, Hazard.BRAKE)):
                if tag in opening and hazard not in bare:
                    missed.append(step.step)
            if tags.battery is BatteryTag.RECONNECT and Hazard.BATTERY not in bare:
                missed.append(step.step)
    assert set(missed) == TAGGED_BEYOND_THEIR_WORDS


def test_a_tag_answers_for_its_own_hazard_only() -> None:
    """A brake tag does not cover the tank."""
    do = "Undo the banjo bolt and lift the tank."
    assert untagged(_step(do), WORDS) == (Hazard.FUEL, Hazard.BRAKE)
    assert untagged(_step(do, hazards={"brake": "open"}), WORDS) == (Hazard.FUEL,)
    assert untagged(_step(do, hazards={"brake": "open", "fuel": "work"}), WORDS) == ()


@pytest.mark.parametrize(
    ("more", "wanted"),
    [
        ({"off": ({"item": "brake line"},)}, (Hazard.BRAKE,)),
        ({"off": ({"item": "fuel tank"},)}, (Hazard.FUEL,)),
        ({"off": ({"item": "brake lever"},)}, (Hazard.BRAKE,)),
        ({"back": ({"item": "negative battery cable"},)}, (Hazard.BATTERY,)),
        ({"parts": ({"name": "fuel filter"},)}, (Hazard.FUEL,)),
        ({"fastener": {"name": "upper banjo bolt"}}, (Hazard.BRAKE,)),
        ({"consumables": ("DOT 4 brake fluid, sealed container",)}, (Hazard.BRAKE,)),
        ({"off": ({"item": "tank pad"},)}, ()),
        ({"off": ({"item": "bracket behind the caliper"},)}, ()),
        ({"back": ({"item": "battery tray cover"},)}, ()),
        ({"parts": ({"name": "brake light switch"},)}, ()),
        ({"consumables": ("can for fuel rags", "brake cleaner", "fine abrasive pad")}, ()),
        ({"fastener": {"name": "handlebar clamp bolt"}}, ()),
    ],
)
def test_names_of_things_show_work(more: dict[str, object], wanted: tuple[Hazard, ...]) -> None:
    """What comes off, goes back, is fitted, fastened or used up tells what the text leaves out."""
    assert untagged(_step("Do it as the sheet says.", **more), WORDS) == wanted


def test_a_repeated_step_is_read_for_each() -> None:
    """What {each} stands for counts, in a step and in a section."""
    step = _step("Undo the {each}.", each=("horn", "brake line"))
    assert untagged(step, WORDS) == (Hazard.BRAKE,)
    (found,) = findings(
        _loaded("- {step: a, do: 'Undo the {each} hose.'}\n", "each: [brake, horn]\n"), WORDS
    )
    assert "brake work" in found.message


def test_a_finding_tells_where_what_and_what_to_write() -> None:
    """The line of the text, the words, the tag and the reason as the two ways out."""
    loaded = _loaded(
        """\
        - step: cover
          do: "Cover the paint."
        - step: open-it
          minutes: 3
          do: "Undo the upper banjo bolt."
        """
    )
    (found,) = findings(loaded, WORDS)
    assert (found.level, found.code) == ("error", "untagged-hazard")
    assert (found.file, found.line) == ("small.yaml", 16)
    for said in ("open-it", "undo … banjo bolt", "brake: …", "open, work, close", "hazard_reason"):
        assert said in found.message
    assert not check_loaded(loaded).ok
    assert "untagged-hazard" in {one.code for one in check_loaded(loaded).findings}


def test_a_reason_is_no_error() -> None:
    """The author answers for it; the record shows it."""
    loaded = _loaded("- {step: a, do: Undo the banjo bolt., hazard_reason: A dry spare part.}\n")
    assert findings(loaded, WORDS) == ()


@given(st.text(max_size=200))
def test_any_text_can_be_read(text: str) -> None:
    """Nothing that an author writes breaks the reading, and the answer is always the same."""
    assert hazards_named(text, WORDS) == hazards_named(text, WORDS)


@given(
    st.lists(
        st.sampled_from(
            ("take", "undo", "the", "caliper", "tank", "off", "it", "and", "not", ",", ":", ".")
        ),
        max_size=12,
    )
)
def test_a_sentence_before_does_not_hide_work(words: list[str]) -> None:
    """Whatever stands before it, a plain order to work is found."""
    text = f"{' '.join(words)}. Undo the banjo bolt."
    assert Hazard.BRAKE in hazards_named(text, WORDS)


def test_a_language_without_words_is_refused() -> None:
    """No words, no check: that is said, never passed over."""
    with pytest.raises(BadInput, match=r"hazard_words\.yaml"):
        packaged.hazard_words("xx")


@pytest.mark.parametrize(
    ("old", "new", "line_of", "code"),
    [
        ("  unbolt: {}", "  unbolt: 3", "unbolt", "model-type"),
        ("  take: {past", "  take: {often: true, past", "  take:", "extra-forbidden"),
        ("harmless:\n", "harmless:\n  - remove\n", "- remove", "two-kinds"),
        ("special:\n", "special:\n  remove: {}\n", "  remove: {}\n  adjust", "two-kinds"),
        ("verbs: [pull, switch, turn]", "verbs: [pul]", "verbs: [pul]", "unknown-verb"),
        ("with: [off, out, away, down,", "with: [awry,", "[awry,", "unknown-particle"),
        ("language: en\n", "", "", "missing"),
    ],
)
def test_a_wrong_file_of_words_is_refused(old: str, new: str, line_of: str, code: str) -> None:
    """Each mistake is found with its line."""
    assert TEXT.count(old) == 1
    wrong = TEXT.replace(old, new)
    with pytest.raises(BadFile) as refused:
        load_hazard_words(wrong, "mine.yaml")
    finding = refused.value.findings[0]
    assert (finding.file, finding.code) == ("mine.yaml", code)
    if line_of:
        assert finding.line == wrong[: wrong.index(line_of)].count("\n") + 1

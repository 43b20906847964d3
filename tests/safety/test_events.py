"""Untagged events, found by a step's words (invariant I7)."""

from __future__ import annotations

import textwrap
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant import packaged
from assistant.checking import check_loaded
from assistant.checklist.loader import Loaded, load
from assistant.checklist.model import Hazards, Step
from assistant.checklist.tags import EventTag
from assistant.errors import BadFile, BadInput
from assistant.safety.event_words import load_event_words
from assistant.safety.events import events_named, findings, untagged_events
from assistant.shelf import checklists_folder, load_checklist
from tests.safety.event_sentences import (
    FIFTH_ROUND,
    FOURTH_ROUND,
    HELD_OUT,
    SECOND_ROUND,
    THIRD_ROUND,
)
from tests.safety.test_detection import ALL as HAZARD_SENTENCES
from tests.safety.test_detection import HEAD

TEXT = (files("assistant") / "safety/data/en/event_words.yaml").read_text(encoding="utf-8")
WORDS = packaged.event_words("en")
ALL = (*HELD_OUT, *SECOND_ROUND, *THIRD_ROUND, *FOURTH_ROUND, *FIFTH_ROUND)
SHIPPED = sorted(checklists_folder().glob("*.yaml"))
START, IGNITION, MOVED = EventTag.ENGINE_START, EventTag.IGNITION_ON, EventTag.MACHINE_MOVED


def _loaded(steps: str, each: str = "") -> Loaded:
    """A checklist of these steps; without `each` the first of them stands in line 12."""
    body = each + "steps:\n" + textwrap.indent(textwrap.dedent(steps), "  ")
    return load({"small.yaml": HEAD + textwrap.indent(body, "    ")}, "small.yaml")


def _step(do: str, **more: object) -> Step:
    return Step.model_validate({"step": "a", "do": do, **more})


@pytest.mark.parametrize(("text", "wanted"), ALL)
def test_each_sentence_names_its_events(text: str, wanted: str) -> None:
    """An event is found whatever its words are; refusals, mentions and look-alikes are none."""
    assert " ".join(event.value for event in events_named(text, WORDS)) == wanted


def test_the_sentences_cover_both_answers_and_every_event() -> None:
    """No answer can be right by always being the same."""
    assert len({text for text, _ in ALL}) == len(ALL)
    assert sum(1 for _, wanted in ALL if not wanted) >= 75
    for event in EventTag:
        assert sum(1 for _, wanted in ALL if event.value in wanted) >= 20
    assert len(HELD_OUT) == 60


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_the_shipped_checklists_tag_every_event(path: Path) -> None:
    """Nothing in them hangs on a reason: every event that their words tell of is tagged."""
    for _, _, step in load_checklist(path).steps():
        assert untagged_events(step, WORDS) == ()


ON_ALREADY = {"leak-look-running", "horn", "idle-at-locks", "lamps-rear", "throttle-blips"}


def test_shipped_events_are_found_when_their_tags_are_taken_away() -> None:
    """Every shipped step with an event tag says so in its words.

    But what is done with the engine or the ignition on since an earlier step: it is tagged, since
    nothing there may be open either.
    """
    tagged, missed = 0, set()
    for path in SHIPPED:
        for _, _, step in load_checklist(path).steps():
            if step.hazards.event is not None:
                tagged += 1
                bare = step.model_copy(update={"hazards": Hazards()})
                if step.hazards.event not in untagged_events(bare, WORDS):
                    missed.add(step.step)
    assert tagged >= 5
    assert missed == ON_ALREADY


def test_a_tag_answers_for_its_own_event() -> None:
    """A start answers for the ignition too, and nothing answers for a movement but its own tag."""
    do = "Turn the ignition on, start the engine and roll the machine out."
    assert untagged_events(_step(do), WORDS) == (IGNITION, START, MOVED)
    for tag, wanted in (
        (IGNITION, (START, MOVED)),
        (START, (MOVED,)),
        (MOVED, (IGNITION, START)),
    ):
        assert untagged_events(_step(do, hazards={"event": tag.value}), WORDS) == wanted


@pytest.mark.parametrize(
    ("more", "wanted"),
    [
        ({"readings": ({"name": "volts", "unit": "V", "condition": "key on"},)}, (IGNITION,)),
        (
            {"readings": ({"name": "volts", "unit": "V", "condition": "warm, engine idling"},)},
            (START,),
        ),
        ({"hold": {"time": "30 s", "what": "With the engine running, no drip."}}, (START,)),
        ({"readings": ({"name": "volts", "unit": "V", "condition": "key off"},)}, ()),
    ],
)
def test_what_holds_while_measuring_counts(
    more: dict[str, object], wanted: tuple[EventTag, ...]
) -> None:
    """A reading with the key on needs the ignition, whatever the text leaves out."""
    assert untagged_events(_step("Do it as the sheet says.", **more), WORDS) == wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Push it out.", (MOVED,)),
        ("Take the circlip off the pin and push it out.", ()),
        ("Put the key in and turn it on.", (IGNITION,)),
        ("Put the lamp in and turn it on.", ()),
        ("Insert the key and switch on.", (IGNITION,)),
        ("With the key on the board, plug the lamp in.", ()),
        ("Crank for five seconds.", (START,)),
        ("Loosen the straps. Roll it off the lift.", (MOVED,)),
        ("Fit the tire. Roll it over the block.", ()),
        ("Start it and listen.", (START,)),
        ("Oil the nut and start it by hand.", ()),
    ],
)
def test_it_stands_for_what_was_named_before(text: str, wanted: tuple[EventTag, ...]) -> None:
    """The thing in hand, or the machine where nothing in the text could be meant."""
    assert events_named(text, WORDS) == wanted


def test_a_repeated_step_is_read_for_each() -> None:
    """What {each} stands for counts, in a step and in a section."""
    step = _step("Turn the {each} on.", each=("lamp", "ignition"))
    assert untagged_events(step, WORDS) == (IGNITION,)
    steps, each = "- {step: a, do: 'Start the {each}.'}\n", "each: [timer, engine]\n"
    (found,) = findings(_loaded(steps, each), WORDS)
    assert "runs the engine" in found.message


def test_a_finding_tells_where_what_and_what_to_write() -> None:
    """The line of the text, the words, the tag and the reason as the two ways out."""
    loaded = _loaded(
        """\
        - step: cover
          do: "Cover the paint."
        - step: listen
          minutes: 3
          do: "Key on, then start the engine."
        """
    )
    (found,) = findings(loaded, WORDS)
    assert (found.level, found.code) == ("error", "untagged-event")
    assert (found.file, found.line) == ("small.yaml", 16)
    for said in ("listen", "start … engine", "no event tag", "engine-start}", "hazard_reason"):
        assert said in found.message
    assert "untagged-event" in {one.code for one in check_loaded(loaded).findings}


def test_a_wrong_tag_is_told_to_make_two_steps() -> None:
    """One step has one tag, so the other event needs its own step."""
    do = "{step: a, do: Start the engine and ride the bike., hazards: {event: machine-moved}}"
    (found,) = findings(_loaded(f"- {do}\n"), WORDS)
    assert "says only event: machine-moved; make it a step of its own" in found.message


def test_a_reason_is_no_error() -> None:
    """The author answers for it; the record shows it."""
    reason = "hazard_reason: The engine lies on the bench."
    assert findings(_loaded(f"- {{step: a, do: Start the engine., {reason}}}\n"), WORDS) == ()


def test_hazard_sentences_of_others_raise_no_false_event() -> None:
    """Of the sentences written for hazard work, only those with a real event are found."""
    found = {text for text, _ in HAZARD_SENTENCES if events_named(text, WORDS)}
    assert found == {
        "Squeeze the front brake lever and roll the machine back.",
        "Pull the fuel pump fuse and run the engine until it dies.",
        "Turn the ignition on and listen to the fuel pump run.",
        "Ride with the fuel cap closed.",
    }


@given(st.text(max_size=200))
def test_any_text_can_be_read(text: str) -> None:
    """Nothing that an author writes breaks the reading, and the answer is always the same."""
    assert events_named(text, WORDS) == events_named(text, WORDS)


@given(
    st.lists(
        st.sampled_from(
            ("turn", "roll", "the", "key", "it", "on", "off", "and", "not", "with", ",", ":", ".")
        ),
        max_size=12,
    )
)
def test_a_sentence_before_does_not_hide_an_event(words: list[str]) -> None:
    """Whatever stands before it, a plain order to start is found."""
    assert START in events_named(f"{' '.join(words)}. Start the engine.", WORDS)


def test_a_language_without_words_is_refused() -> None:
    """No words, no check: that is said, never passed over."""
    with pytest.raises(BadInput, match=r"_words\.yaml"):
        packaged.event_words("xx")


@pytest.mark.parametrize(
    ("old", "new", "line_of", "code"),
    [
        ("  energize: {}\n  fire", "  energize: 3\n  fire", "  energize: 3", "model-type"),
        ("          cycle: {}", "          cicle: {}", "cicle", "unknown-verb"),
        ("  ignition-on:", "  ignition:", "  ignition:", "missing"),
        ("language: en\n", "", "", "missing"),
    ],
)
def test_a_wrong_file_of_words_is_refused(old: str, new: str, line_of: str, code: str) -> None:
    """Each mistake is found with its line."""
    assert TEXT.count(old) == 1
    wrong = TEXT.replace(old, new)
    with pytest.raises(BadFile) as refused:
        load_event_words(wrong, "mine.yaml", packaged.hazard_words("en"))
    assert code in {finding.code for finding in refused.value.findings}
    if line_of and code != "missing":
        assert refused.value.findings[0].line == wrong[: wrong.index(line_of)].count("\n") + 1

"""The judges of the random dialogues do judge: a job that is broken on purpose is found out.

Only the two judges that know nothing of the job's own rules (`read_backs`, `hazard_ledger`) look
on here; each must object in its own words.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase

from assistant.job import confirm, flow, pause, stopping
from assistant.job.events import Heard, Stamp
from assistant.job.flow import Outcome
from assistant.job.state import Challenge, JobState, Setting
from assistant.language.intent import Intent
from assistant.safety import hazards
from tests.job.explore import explore
from tests.job.talk import talker

Patch = Callable[[pytest.MonkeyPatch], None]


def _read_back_right_if(right: Callable[[Setting, JobState, Heard, str], bool]) -> Patch:
    def wrong(setting: Setting, state: JobState, event: Heard, words: str) -> str | None:
        if state.challenge is None:
            return "stop.expired"
        return None if right(setting, state, event, words) else "stop.wrong"

    return lambda patch: patch.setattr(stopping, "_what_is_wrong", wrong)


def _number(state: JobState, event: Heard) -> bool:
    return state.challenge is not None and event.intent.get("challenge") == state.challenge.number


def _young(setting: Setting, state: JobState, event: Heard) -> bool:
    issued = state.challenge.issued if state.challenge is not None else 0.0
    return event.at.mono - issued <= setting.limits.challenge


def _same_number_again(patch: pytest.MonkeyPatch) -> None:
    def issue(state: JobState, at: Stamp) -> JobState:
        tries = state.challenge.tries if state.challenge is not None else 0
        return replace(state, challenge=Challenge(str(at.fresh), at.mono, tries))

    for module in (flow, stopping, confirm, pause):
        patch.setattr(module, "issue_number", issue)


def _kept_before(patch: pytest.MonkeyPatch) -> None:
    entered, passed = flow.enter_stop, stopping._passed

    def enter(setting: Setting, state: JobState, at: Stamp, *rest: Any) -> Outcome:  # noqa: ANN401 - handed on
        after, effects = entered(setting, state, at, *rest)
        return replace(after, before=state.before), effects

    def pass_(setting: Setting, state: JobState, *rest: Any) -> Outcome:  # noqa: ANN401 - handed on
        after, effects = passed(setting, state, *rest)
        return replace(after, before=(*state.before, state.progress)), effects

    patch.setattr(flow, "enter_stop", enter)
    patch.setattr(stopping, "_passed", pass_)


def _no_doubt(patch: pytest.MonkeyPatch) -> None:
    for module in (stopping, pause):
        patch.setattr(module, "doubt_open", lambda state: state)


def _never_due(stop: hazards.Stop) -> Patch:
    def break_it(patch: pytest.MonkeyPatch) -> None:
        real, after = hazards.due_stop, hazards.after_stop

        def due(state: hazards.HazardState, tags: Any) -> hazards.Stop | None:  # noqa: ANN401 - handed on
            while (found := real(state, tags)) is stop:
                state = after(state, found, releasing=tags is None)
            return found

        def walked(state: JobState, planned: Any) -> JobState:  # noqa: ANN401 - handed on
            progress, tags = state.progress, planned.step.hazards
            if real(progress.hazards, tags) is stop:
                told = after(progress.hazards, stop, releasing=False)
                state = replace(state, progress=replace(progress, hazards=told))
            return doubted(state, planned)

        doubted = flow._doubt_reopened
        patch.setattr(flow, "_doubt_reopened", walked)
        for module in (flow, stopping, confirm):
            patch.setattr(module, "due_stop", due)

    return break_it


def _alone(patch: pytest.MonkeyPatch) -> None:
    def ask(setting: Setting, state: JobState, at: Stamp, stop: Any, first: Any) -> Outcome:  # noqa: ANN401 - handed on
        return stopping._passed(setting, state, Heard(at, Intent("read_back")), stop, first)

    patch.setattr(stopping, "_ask_second", ask)


BROKEN: dict[str, Patch] = {
    "any number will do": _read_back_right_if(
        lambda setting, state, event, words: (
            event.intent.get("read_back") == words and _young(setting, state, event)
        )
    ),
    "any words will do": _read_back_right_if(
        lambda setting, state, event, _words: (
            _number(state, event) and _young(setting, state, event)
        )
    ),
    "a number never gets old": _read_back_right_if(
        lambda _setting, state, event, words: (
            event.intent.get("read_back") == words and _number(state, event)
        )
    ),
    "the same number is given again": _same_number_again,
    "what was before a stop can be taken back": _kept_before,
    "a break costs no trust": _no_doubt,
    "the fuel is never read back as closed": _never_due(hazards.Stop.FUEL_CLOSED),
    "the battery is never read back as off": _never_due(hazards.Stop.BATTERY_OFF),
    "an apprentice's word is enough": _alone,
}


@pytest.mark.parametrize("how", BROKEN)
def test_a_broken_job_is_found_out(how: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each breach, built into the job, makes a judge object before 60,000 steps are over."""
    BROKEN[how](monkeypatch)
    monkeypatch.setattr(talker, "look", lambda *_: None)
    with pytest.raises((AssertionError, ExceptionGroup)) as caught:
        explore("small", 60_000, [Phase.generate])
    found = caught.value
    each = found.exceptions if isinstance(found, ExceptionGroup) else (found,)
    for error in each:
        assert isinstance(error, AssertionError)
        by = Path(traceback.extract_tb(error.__traceback__)[-1].filename).stem
        assert by in ("read_backs", "hazard_ledger"), (by, error)

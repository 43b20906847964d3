"""The transition table: which intent means what in which mode, and where it may lead.

Everything that decides what is admitted lives here. A pair that is missing is refused and
changes nothing. The diagram in DEVELOPERS.md is drawn from this table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from assistant.job import confirm, kit_check, measure, parts, pause, questions, stopping, trouble
from assistant.job.flow import Outcome
from assistant.job.reopen import ALARMED
from assistant.job.state import JobState, Mode, Setting

Handler = Callable[[Setting, JobState, Any], Outcome]

# Where `flow.go_on` may lead: it decides by the state, not by who called it.
ONWARD: Final = frozenset(
    {Mode.KIT, Mode.STANDING, Mode.STEP, Mode.STOP, Mode.BEFORE_RELEASE},
)
BASES: Final = frozenset(
    {
        Mode.KIT,
        Mode.STANDING,
        Mode.STEP,
        Mode.SECOND_PERSON,
        Mode.STOP,
        Mode.STOP_SECOND,
        Mode.BEFORE_RELEASE,
    },
)
EXCHANGES: Final = frozenset(
    {
        Mode.READING_CHECK,
        Mode.PACE_CHECK,
        Mode.HOLDING,
        Mode.HOLD_CHECK,
        Mode.REASON,
        Mode.TROUBLE_KIND,
        Mode.OFF_PART,
        Mode.OFF_COUNT,
        Mode.OFF_CHECK,
        Mode.BACK_CHECK,
        Mode.PART_NUMBER,
        Mode.HAND_OVER,
    },
)
DICTATION: Final = frozenset({Mode.NOTE, Mode.TROUBLE_NOTE, Mode.OFF_LABEL})
PAUSES: Final = frozenset({Mode.STAND_BY, Mode.FROZEN})


@dataclass(frozen=True, slots=True)
class Rule:
    """What happens, and the modes it may lead to (checked after every transition)."""

    handler: Handler
    to: frozenset[Mode]


QUESTIONS: Final[Mapping[str, Handler]] = MappingProxyType(
    {
        "say_again": questions.say_again,
        "say_again_slowly": questions.say_again_slowly,
        "what_size": questions.what_size,
        "what_torque": questions.what_torque,
        "what_setting": questions.what_setting,
        "what_caution": questions.what_caution,
        "what_parts": questions.what_parts,
        "why": questions.why,
        "what_next": questions.what_next,
        "where_are_we": questions.where_are_we,
        "what_is_off": questions.what_is_off,
        "how_long_left": questions.how_long_left,
        "convert": questions.convert,
    },
)
ALARMS: Final = tuple(ALARMED)
_FROZEN_OR_ON: Final = ONWARD | {Mode.FROZEN}


def _own_rules() -> dict[tuple[Mode, str], Rule]:
    """What each mode is waiting for."""
    step, stop = Mode.STEP, Mode.STOP
    confirmed = ONWARD | {Mode.SECOND_PERSON}
    return {
        (Mode.KIT, "affirm"): Rule(kit_check.here, ONWARD),
        (Mode.KIT, "negative"): Rule(kit_check.missing, ONWARD),
        (Mode.KIT, "correction"): Rule(kit_check.taken_back, ONWARD),
        (Mode.KIT, "trouble_cleared"): Rule(trouble.trouble_cleared, ONWARD),
        (Mode.STANDING, "affirm"): Rule(confirm.standing_affirmed, ONWARD),
        (Mode.STANDING, "negative"): Rule(
            confirm.standing_denied,
            frozenset({Mode.STANDING}),
        ),
        (Mode.STANDING, "correction"): Rule(confirm.correction, ONWARD),
        (step, "step_done"): Rule(confirm.step_done, confirmed | {Mode.PACE_CHECK}),
        (step, "reading"): Rule(measure.reading, frozenset({step, Mode.READING_CHECK})),
        (step, "start_hold"): Rule(measure.start_hold, frozenset({step, Mode.HOLDING})),
        (step, "correction"): Rule(confirm.correction, ONWARD),
        (step, "go_back"): Rule(confirm.go_back, ONWARD),
        (step, "leave_out"): Rule(confirm.leave_out, frozenset({step, Mode.REASON})),
        (step, "also_off"): Rule(parts.also_off, frozenset({Mode.OFF_PART})),
        (step, "back_on"): Rule(parts.back_on, frozenset({step, Mode.OFF_PART})),
        (step, "read_part_number"): Rule(
            parts.read_part_number,
            frozenset({step, Mode.PART_NUMBER}),
        ),
        (step, "name_side"): Rule(measure.name_side, frozenset({step})),
        (step, "use_wrench"): Rule(measure.use_wrench, frozenset({step})),
        (step, "hand_over"): Rule(pause.hand_over, frozenset({step, Mode.HAND_OVER})),
        (step, "trouble_cleared"): Rule(trouble.trouble_cleared, ONWARD),
        (Mode.BEFORE_RELEASE, "trouble_cleared"): Rule(trouble.trouble_cleared, ONWARD),
        (Mode.BEFORE_RELEASE, "back_on"): Rule(
            parts.back_on,
            frozenset({Mode.BEFORE_RELEASE, Mode.OFF_PART}),
        ),
        (Mode.BEFORE_RELEASE, "go_back"): Rule(confirm.go_back, ONWARD),
        (Mode.BEFORE_RELEASE, "correction"): Rule(confirm.correction, ONWARD),
        (Mode.BEFORE_RELEASE, "carry_on"): Rule(pause.look_again, ONWARD),
        (Mode.PACE_CHECK, "affirm"): Rule(confirm.agreed, confirmed),
        (Mode.PACE_CHECK, "negative"): Rule(confirm.not_so_quick, ONWARD),
        (Mode.READING_CHECK, "affirm"): Rule(measure.reading_affirmed, frozenset({step})),
        (Mode.READING_CHECK, "negative"): Rule(measure.reading_denied, frozenset({step})),
        (Mode.READING_CHECK, "correction"): Rule(measure.reading_denied, frozenset({step})),
        (Mode.HOLD_CHECK, "affirm"): Rule(measure.held, frozenset({step})),
        (Mode.HOLD_CHECK, "negative"): Rule(measure.not_held, frozenset({step})),
        (Mode.HOLDING, "negative"): Rule(measure.not_held, frozenset({step})),
        (Mode.SECOND_PERSON, "read_back"): Rule(stopping.second_read_back, confirmed),
        (Mode.REASON, "leave_out_reason"): Rule(confirm.leave_out_reason, ONWARD),
        (stop, "read_back"): Rule(
            stopping.stop_read_back, ONWARD | {Mode.STOP_SECOND, Mode.RELEASED}
        ),
        (Mode.STOP_SECOND, "read_back"): Rule(
            stopping.second_at_stop, ONWARD | {Mode.STOP_SECOND, Mode.RELEASED}
        ),
        (Mode.FROZEN, "carry_on"): Rule(stopping.unfreeze_ask, frozenset({Mode.FROZEN})),
        (Mode.FROZEN, "read_back"): Rule(stopping.freeze_read_back, _FROZEN_OR_ON),
        (Mode.STAND_BY, "carry_on"): Rule(pause.carry_on, ONWARD),
        (Mode.TROUBLE_KIND, "trouble_kind"): Rule(
            trouble.trouble_kind,
            frozenset({Mode.TROUBLE_NOTE}),
        ),
        (Mode.OFF_PART, "name_part"): Rule(
            parts.name_part,
            frozenset({Mode.OFF_PART, Mode.OFF_COUNT, Mode.BACK_CHECK}),
        ),
        (Mode.OFF_PART, "other_part"): Rule(
            parts.other_part,
            frozenset({Mode.OFF_PART, Mode.OFF_LABEL, Mode.BACK_CHECK}),
        ),
        (Mode.OFF_COUNT, "name_count"): Rule(
            parts.name_count,
            frozenset({Mode.OFF_CHECK}),
        ),
        (Mode.OFF_CHECK, "affirm"): Rule(parts.off_affirmed, ONWARD),
        (Mode.OFF_CHECK, "negative"): Rule(parts.also_off, frozenset({Mode.OFF_PART})),
        (Mode.BACK_CHECK, "affirm"): Rule(parts.back_affirmed, ONWARD),
        (Mode.PART_NUMBER, "part_number"): Rule(parts.part_number, ONWARD),
        (Mode.HAND_OVER, "affirm"): Rule(pause.taken_over, ONWARD),
    }


def _always() -> dict[tuple[Mode, str], Rule]:
    """What can be said nearly always: questions, pauses, alarms, troubles, notes."""
    rules: dict[tuple[Mode, str], Rule] = {}
    for mode in BASES | EXCHANGES:
        stay = frozenset({mode})
        for name, handler in QUESTIONS.items():
            rules[mode, name] = Rule(handler, stay)
        rules[mode, "quiet"] = Rule(pause.quiet, stay)
        rules[mode, "start_timer"] = Rule(pause.start_timer, stay)
        rules[mode, "stand_by"] = Rule(pause.stand_by, frozenset({Mode.STAND_BY}))
        rules[mode, "freeze"] = Rule(stopping.freeze, frozenset({Mode.FROZEN}))
        rules[mode, "report_trouble"] = Rule(
            trouble.report_trouble,
            frozenset({Mode.TROUBLE_KIND}),
        )
        rules[mode, "take_note"] = Rule(trouble.take_note, frozenset({Mode.NOTE}))
        for alarm in ALARMS:
            rules[mode, alarm] = Rule(stopping.alarm, _FROZEN_OR_ON)
    for mode in EXCHANGES | DICTATION | {Mode.SECOND_PERSON}:
        rules[mode, "disregard"] = Rule(trouble.never_mind, ONWARD)
    for mode in EXCHANGES - {Mode.HOLDING, Mode.READING_CHECK, Mode.OFF_CHECK}:
        rules[mode, "negative"] = Rule(trouble.never_mind, ONWARD)
    for mode in PAUSES:
        for name in ("say_again", "say_again_slowly", "what_is_off", "where_are_we"):
            rules[mode, name] = Rule(QUESTIONS[name], frozenset({mode}))
        rules[mode, "freeze"] = Rule(stopping.freeze, frozenset({Mode.FROZEN}))
        rules[mode, "quiet"] = Rule(pause.quiet, frozenset({mode}))
        for alarm in ALARMS:
            rules[mode, alarm] = Rule(stopping.alarm, frozenset({mode, Mode.FROZEN}))
    return rules


def _dictation() -> dict[tuple[Mode, str], Rule]:
    """Events of free speech; the end phrase only ends the recording at the edge."""
    return {
        (Mode.NOTE, DICTATED): Rule(trouble.note_taken, ONWARD),
        (Mode.TROUBLE_NOTE, DICTATED): Rule(trouble.trouble_described, ONWARD),
        (Mode.OFF_LABEL, DICTATED): Rule(parts.label_spoken, frozenset({Mode.OFF_COUNT})),
    }


OPENED: Final = "(opened)"
RESUMED: Final = "(resumed)"
DICTATED: Final = "(dictated)"
TICK: Final = "(tick)"


def _build() -> Mapping[tuple[Mode, str], Rule]:
    rules = {**_always(), **_own_rules(), **_dictation()}
    rules[Mode.NEW, OPENED] = Rule(pause.opened, ONWARD)
    rules[Mode.HOLDING, TICK] = Rule(
        measure.hold_tick,
        frozenset({Mode.HOLDING, Mode.HOLD_CHECK}),
    )
    for mode in Mode:
        if mode not in (Mode.NEW, Mode.RELEASED):
            frozen = mode is Mode.FROZEN
            rules[mode, RESUMED] = Rule(pause.resumed, frozenset({mode}) if frozen else ONWARD)
    for mode in DICTATION:
        rules[mode, "freeze"] = Rule(stopping.freeze, frozenset({Mode.FROZEN}))
    return MappingProxyType(rules)


TABLE: Final = _build()

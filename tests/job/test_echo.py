"""Nothing the assistant's own voice says can be heard as a confirmation (I4)."""

from __future__ import annotations

import pytest

from assistant import shelf
from assistant.checklist.expand import expand
from assistant.job.effects import Say, line
from assistant.job.state import Mode
from assistant.opening import setting_of
from tests.job.bench import ROSTER, Bench, at_step
from tests.job.echo import heard_as_confirmation
from tests.job.test_table import MAKE


@pytest.mark.parametrize("mode", Mode)
def test_no_mode_is_entered_with_a_confirmation(mode: Mode) -> None:
    """What is said on the way into each mode, and when it is repeated, confirms nothing there."""
    bench = MAKE[mode]()
    assert heard_as_confirmation(bench.setting, bench.state, bench.effects) == ()
    again = (Say(bench.state.last),)
    assert heard_as_confirmation(bench.setting, bench.state, again) == ()


@pytest.mark.parametrize(
    "name", ["raised-handlebar", "battery-replacement", "clutch-cable-adjustment"]
)
def test_the_shipped_checklists_confirm_nothing_themselves(name: str) -> None:
    """A whole job of each, shown and spoken, with every step's questions."""
    plan = expand(shelf.load_checklist(shelf.find_checklist(name)), {})
    bench = Bench(setting_of(plan, ROSTER))
    while bench.state.mode is not Mode.RELEASED:
        for question in ("what_size", "what_torque", "what_caution", "what_parts", "why"):
            bench.hear(question)
            assert heard_as_confirmation(bench.setting, bench.state, bench.effects) == ()
        bench.answer()
        assert heard_as_confirmation(bench.setting, bench.state, bench.effects) == ()


def test_a_confirmation_would_be_found() -> None:
    """The search itself: a phrase across two lines, a whole read-back, and one without number."""
    step = at_step("hose-on")
    split = Say((line("text", text="This is the last step."), line("text", text="Complete it.")))
    assert heard_as_confirmation(step.setting, step.state, (split,)) == ("step complete",) * 2
    stop = at_step("line-off", Mode.STOP)
    answered = Say((line("text", text="Negative is off and clear: 4 7."),))
    found = heard_as_confirmation(stop.setting, stop.state, (answered,))
    assert found == ("negative is off and clear four seven",)
    bare = Say((line("text", text="Negative is off and clear."),))
    assert heard_as_confirmation(stop.setting, stop.state, (bare,)) == ()

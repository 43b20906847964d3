"""Troubles put right at once, while other work is open: the job must not get stuck there."""

from __future__ import annotations

import pytest

from assistant.checklist.loader import load
from assistant.safety.proof import prove_checklist
from tests.job.bench import HEAD
from tests.safety.simulator import disturbed, straight

FUEL_OPEN = ("hazards: {battery: disconnect}", "hazards: {fuel: open}")
BATTERY_ON = ("hazards: {battery: reconnect}", "hazards: {battery: prove}")
BRAKE = ("hazards: {brake: open}", "hazards: {brake: close}", "hazards: {brake: prove}")
RULE = "interlocks:\n  - {interlock: a, says: No., blocks: [s0], while_off: [plug]}\nsections:"
CASES = {
    "a look, from the leak check": (
        *FUEL_OPEN,
        "minutes: 1",
        "hazards: {fuel: close}",
        "hazards: {fuel: prove}, reopens: [s2]",
        *BATTERY_ON,
    ),
    "the brake's proof, from the leak check": (
        *BRAKE,
        *FUEL_OPEN,
        "hazards: {fuel: close}",
        "hazards: {fuel: prove}, reopens: [s2]",
        *BATTERY_ON,
    ),
    "ignition, while fuel is open": (
        "hazards: {event: ignition-on}",
        *FUEL_OPEN,
        "hazards: {fuel: work}, reopens: [s0]",
        "hazards: {fuel: close}",
        *BATTERY_ON,
    ),
    "an earlier proof, while open again": (
        *BRAKE,
        "hazards: {brake: open}",
        "hazards: {brake: work}, reopens: [s2]",
        "hazards: {brake: close}",
    ),
    "an earlier closing, while open again": (
        *BRAKE[:2],
        "hazards: {brake: open}",
        "hazards: {brake: work}, reopens: [s1]",
        "hazards: {brake: close}",
    ),
    "what an interlock blocks meanwhile": (
        "minutes: 1",
        "off: [{item: plug}]",
        "reopens: [s0]",
        "back: [{item: plug}]",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_reopening_that_gets_the_job_stuck_is_found(name: str) -> None:
    """Where the dialogue gets stuck the proof has a breach; or neither does."""
    steps = "".join(
        f"      - {{step: s{place}, do: Do it., {more}}}\n"
        for place, more in enumerate(CASES[name])
    )
    head = HEAD.replace("sections:", RULE) if "interlock" in name else HEAD
    loaded = load({"small.yaml": head + steps}, "small.yaml")
    stuck = straight(loaded) or disturbed(loaded)
    assert (stuck is not None) == bool(prove_checklist(loaded).broken)

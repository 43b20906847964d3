"""The proof: checklists that break an invariant are reported with a path a person can follow."""

from __future__ import annotations

import pytest

from assistant import shelf
from assistant.checklist.expand import expand, option_sets
from assistant.checklist.loader import load
from assistant.checklist.plan import Plan
from assistant.safety.breaches import BROKEN
from assistant.safety.proof import prove, prove_checklist
from tests.job.bench import HEAD

BATTERY_OFF = ("battery-off", "battery: disconnect")
BATTERY_ON = (("battery-on", "battery: reconnect"), ("volts", "battery: prove"))
SHIPPED = ("raised-handlebar", "battery-replacement", "clutch-cable-adjustment")


INTERLOCKED = HEAD.replace(
    "sections:",
    "interlocks:\n"
    "  - interlock: no-filling\n"
    "    says: No filling while the drain plug is out.\n"
    "    blocks: [oil-fill]\n"
    "    while_off: [drain plug]\n"
    "sections:",
)


def plan(*steps: tuple[str, ...]) -> Plan:
    """A plan of (name, hazards, further lines) steps."""
    text = INTERLOCKED if any(step[0] == "oil-fill" for step in steps) else HEAD
    for name, hazards, *more in steps:
        text += f'      - step: {name}\n        do: "Do it."\n'
        text += f"        hazards: {{{hazards}}}\n"
        text += "".join(f"        {line}\n" for line in more)
    return expand(load({"small.yaml": text}, "small.yaml"), {})


CASES: dict[str, tuple[tuple[str, ...], ...]] = {
    "needs-battery-isolated": (("tank", "fuel: open"), ("line", "fuel: close")),
    "battery-on-with-fuel-open": (BATTERY_OFF, ("tank", "fuel: open"), *BATTERY_ON),
    "battery-not-off": (("battery-on", "battery: reconnect"), ("volts", "battery: prove")),
    "battery-nothing-to-prove": (("volts", "battery: prove"),),
    "fuel-not-open": (("line", "fuel: close"),),
    "fuel-not-checked": (
        BATTERY_OFF,
        ("tank", "fuel: open"),
        ("line", "fuel: close"),
        *BATTERY_ON,
    ),
    "brake-not-checked": (("caliper-off", "brake: open"), ("caliper-on", "brake: close")),
    "asked-stop-untrue": (("caliper-off", "brake: open"), ("look", "", "stop: brake_proven")),
    "brake-not-open": (("lever", "brake: prove"),),
    "release-with-open-hazard": (("hose", "brake: open"),),
    "reopens-hazard-work": (
        ("hose", "brake: open"),
        ("hose-on", "brake: close"),
        ("lever", "brake: prove", "reopens: [hose]"),
    ),
    "ignition-with-fuel-open": (
        BATTERY_OFF,
        ("tank", "fuel: open"),
        ("start", "event: engine-start"),
        ("line", "fuel: close"),
        *BATTERY_ON,
    ),
    "moved-with-brake-open": (
        ("hose", "brake: open"),
        ("roll", "event: machine-moved"),
        ("hose-on", "brake: close"),
    ),
    "interlock": (
        ("oil-in", ""),
        ("plug-off", "", "off: [{item: drain plug}]"),
        ("oil-fill", ""),
        ("plug-on", "", "back: [{item: drain plug}]"),
    ),
    "still-off": (("seat", "", "off: [{item: seat}]"),),
    "back-without-off": (
        ("seat", "", "off: [{item: seat}]"),
        ("seat-on", "", "back: [{item: seat, count: 2}]"),
    ),
    "optional-hazard": (
        ("hose", "brake: open", "optional: true"),
        ("hose-on", "brake: close"),
    ),
}


def test_every_breach_has_a_case() -> None:
    """No breach that the proof can name goes untested here."""
    assert set(CASES) == set(BROKEN)


@pytest.mark.parametrize("code", CASES)
def test_a_broken_invariant_is_found(code: str) -> None:
    """Each kind of breach is reported, with words that name the remedy and no open places."""
    broken = {b.code: b for b in prove(plan(*CASES[code])).broken}
    assert code in broken
    assert "{" not in broken[code].message
    assert broken[code].path


@pytest.mark.parametrize(
    ("steps", "code", "path"),
    [
        (
            (("tank", "fuel: open"), ("line", "fuel: close")),
            "needs-battery-isolated",
            ("options any", "safety stop fuel_open", "step tank: fuel open"),
        ),
        (
            (BATTERY_OFF, ("tank", "fuel: open"), *BATTERY_ON),
            "battery-on-with-fuel-open",
            (
                "options any",
                "step battery-off: battery disconnect",
                "safety stop battery_off",
                "safety stop fuel_open",
                "step tank: fuel open",
                "safety stop battery_on",
                "step battery-on: battery reconnect",
            ),
        ),
        (
            (("hose", "brake: open"), ("hose-on", "brake: work")),
            "release-with-open-hazard",
            (
                "options any",
                "safety stop brake_open",
                "step hose: brake open",
                "step hose-on: brake work",
                "release",
            ),
        ),
        (
            (BATTERY_OFF, ("wire", "battery: needs-isolated"), ("end", "")),
            "release-with-open-hazard",
            (
                "options any",
                "step battery-off: battery disconnect",
                "safety stop battery_off",
                "step wire: battery needs-isolated",
                "release",
            ),
        ),
    ],
)
def test_the_path_can_be_followed(
    steps: tuple[tuple[str, ...], ...], code: str, path: tuple[str, ...]
) -> None:
    """The path names the steps and the stops on the way, in order, to where it breaks."""
    broken = {b.code: b for b in prove(plan(*steps)).broken}
    assert broken[code].path == path


def test_one_breach_is_told_once() -> None:
    """The first breach hides no other, and none is repeated for the same step."""
    proof = prove(plan(("tank", "fuel: open"), ("lever", "brake: prove"), *BATTERY_ON))
    codes = [(b.code, b.step.id if b.step else "") for b in proof.broken]
    assert len(codes) == len(set(codes))
    assert {"needs-battery-isolated", "brake-not-open"} <= {c for c, _ in codes}


def test_a_right_checklist_has_nothing_broken() -> None:
    """All three hazards opened and closed in their order: nothing is reported."""
    proof = prove(
        plan(
            BATTERY_OFF,
            ("tank", "fuel: open"),
            ("wire", "fuel: work, battery: needs-isolated"),
            ("line", "fuel: close"),
            ("leak", "fuel: prove", "reopens: [line]"),
            ("hose", "brake: open"),
            ("wipe", "", "optional: true"),
            ("hose-on", "brake: close"),
            ("lever", "brake: prove"),
            *BATTERY_ON,
        )
    )
    assert proof.broken == ()
    assert proof.paths == 2


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_checklists_prove(name: str) -> None:
    """Each checklist that comes with the program is safe for every choice of its options."""
    loaded = shelf.load_checklist(shelf.find_checklist(name))
    sets = list(option_sets(loaded, 4096))
    assert sets
    for chosen in sets:
        proof = prove(expand(loaded, chosen))
        assert proof.broken == ()
        assert proof.states > 0


WITH_OPTIONS = HEAD.replace(
    "sections:",
    "options:\n"
    "  abs: {ask: Is ABS fitted?, default: false}\n"
    "  grips: {ask: Which grips?, values: [plain, heated], default: plain}\n"
    "sections:",
)


@pytest.mark.parametrize(
    ("steps", "code", "path"),
    [
        (
            (
                "- {step: one, do: Unplug it., off: [{item: plug}]}",
                "- {step: two, do: Plug it in., when: {abs: false}, back: [{item: plug}]}",
            ),
            "still-off",
            ("options abs=yes", "step one: plug off", "release"),
        ),
        (
            (
                "- {step: one, do: Unplug it., when: {grips: heated}, off: [{item: plug}]}",
                "- {step: two, do: Plug it in., back: [{item: plug}]}",
            ),
            "back-without-off",
            ("options grips=plain", "step two: plug back"),
        ),
    ],
)
def test_one_choice_of_options_is_named(
    steps: tuple[str, ...], code: str, path: tuple[str, ...]
) -> None:
    """What breaks on some choice of options only is reported with that choice."""
    text = WITH_OPTIONS + "".join(f"      {step}\n" for step in steps)
    (broken,) = prove_checklist(load({"small.yaml": text}, "small.yaml")).broken
    assert (broken.code, broken.path) == (code, path)


def test_a_proof_that_meets_its_bound_is_no_proof() -> None:
    """Giving up is said, and no path counts as proved."""
    loaded = shelf.load_checklist(shelf.find_checklist("raised-handlebar"))
    proof = prove_checklist(loaded, bound=10)
    assert not proof.complete
    assert proof.paths == 0


@pytest.mark.parametrize("name", SHIPPED)
def test_all_choices_at_once_find_what_each_alone_finds(name: str) -> None:
    """The walk over all options counts the same paths as one walk for every choice of them."""
    loaded = shelf.load_checklist(shelf.find_checklist(name))
    together = prove_checklist(loaded)
    alone = [prove(expand(loaded, chosen)) for chosen in option_sets(loaded, 4096)]
    assert together.broken == ()
    assert together.paths == sum(proof.paths for proof in alone)

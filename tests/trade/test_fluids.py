"""Brake fluids against 49 CFR 571.116."""

from __future__ import annotations

import pytest

from assistant import packaged
from assistant.trade.fluids import BrakeFluid, fluids_in, may_mix, weaker
from tests.trade.outside import outside

FLUIDS = {fluid.grade: fluid for fluid in packaged.trade_tables().brake_fluids}
# 49 CFR 571.116 S5.1.1 and S5.1.2: least boiling points, dry and wet, in °C and °F as printed.
BOILING = [
    ("DOT 3", 205, 401, 140, 284), ("DOT 4", 230, 446, 155, 311),
    ("DOT 5", 260, 500, 180, 356), ("DOT 5.1", 260, 500, 180, 356),
]  # fmt: skip


def grades(text: str) -> list[str]:
    """The grades that a text names."""
    words = {"mineral oil": "mineral oil", "silicone brake fluid": "DOT 5"}
    return [fluid.grade for fluid in fluids_in(text, FLUIDS.values(), words)]


@outside("49 CFR 571.116", values=4)
@pytest.mark.parametrize(("grade", "dry_c", "dry_f", "wet_c", "wet_f"), BOILING)
def test_boiling_points(grade: str, dry_c: int, dry_f: int, wet_c: int, wet_f: int) -> None:
    """Both columns of the rule, which prove each other: °F = °C · 9/5 + 32."""
    fluid = FLUIDS[grade]
    assert fluid.dry_boiling is not None
    assert fluid.wet_boiling is not None
    assert [fluid.dry_boiling.value, fluid.wet_boiling.value] == [dry_c, wet_c]
    assert fluid.dry_boiling.value * 9 / 5 + 32 == dry_f
    assert fluid.wet_boiling.value * 9 / 5 + 32 == wet_f


@outside("49 CFR 571.116")
@pytest.mark.parametrize(
    ("grade", "color"),
    [("DOT 3", "colorless to amber"), ("DOT 4", "colorless to amber"), ("DOT 5", "purple"),
     ("mineral oil", "green")],
)  # fmt: skip
def test_colors(grade: str, color: str) -> None:
    """49 CFR 571.116 S5.1.14, as NHTSA letters of 1977, 1980 and 1991 tell it."""
    assert FLUIDS[grade].color == color


def test_silicone_and_mineral_oil_meet_nothing_else() -> None:
    """DOT 5 is 70 % silicone (571.116 S4), mineral oil destroys a glycol system's rubber."""
    glycol = [FLUIDS[g] for g in ("DOT 3", "DOT 4", "DOT 5.1")]
    assert all(may_mix(a, b) for a in glycol for b in glycol)
    for alone in (FLUIDS["DOT 5"], FLUIDS["mineral oil"]):
        assert may_mix(alone, alone)
        assert not any(may_mix(alone, other) or may_mix(other, alone) for other in glycol)
    assert not may_mix(FLUIDS["DOT 5"], FLUIDS["mineral oil"])


def test_a_blend_is_as_good_as_its_weaker_half() -> None:
    """By the wet boiling point."""
    assert weaker(FLUIDS["DOT 5.1"], FLUIDS["DOT 3"]) is FLUIDS["DOT 3"]
    assert weaker(FLUIDS["DOT 4"], FLUIDS["DOT 5.1"]) is FLUIDS["DOT 4"]
    with pytest.raises(ValueError, match="must not be mixed"):
        weaker(FLUIDS["DOT 4"], FLUIDS["DOT 5"])


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("DOT 4 brake fluid, sealed container", ["DOT 4"]),
        ("DOT4", ["DOT 4"]),
        ("dot-5.1 fluid", ["DOT 5.1"]),
        ("DOT 5. Never DOT 5.1.", ["DOT 5", "DOT 5.1"]),
        ("silicone brake fluid", ["DOT 5"]),
        ("mineral oil", ["mineral oil"]),
        ("DOT 45", []),
        ("clean rags", []),
        ("the dot faces front", []),
    ],
)
def test_grades_are_found_in_texts(text: str, named: list[str]) -> None:
    """5 and 5.1 are kept apart, though they sound alike."""
    assert grades(text) == named


def test_every_fluid_names_its_rule() -> None:
    """49 CFR 571.116 stands beside each row."""
    assert all(isinstance(f, BrakeFluid) and "571.116" in f.source for f in FLUIDS.values())

"""What the figures of a place mean."""

from __future__ import annotations

import pytest

from assistant.soundcheck import Measured, Tried, advise, figure, works


def _place(
    noise: float | None,
    speech: float | None,
    *,
    understood: int = 6,
    clipped: int = 0,
    dropouts: int = 0,
    dead: bool = False,
) -> Measured:
    tried = tuple(
        Tried("affirm", "affirm", number < understood, 1.0, 2.0, speech, False)
        for number in range(6)
    )
    return Measured(30.0, noise, noise, speech, clipped, dropouts, dead, tried)


@pytest.mark.parametrize(
    ("noise", "speech", "word"),
    [
        (-60.0, -26.0, "good"),
        (-40.0, -26.0, "fair"),
        (-32.0, -26.0, "poor"),
        (-26.0, -26.0, "none"),
        (-26.0, None, "none"),
        (None, -26.0, "none"),
    ],
)
def test_a_figure_to_compare_rooms(noise: float | None, speech: float | None, word: str) -> None:
    """The ratio of speech to noise decides; a place without either has none."""
    assert figure(_place(noise, speech)) == word


@pytest.mark.parametrize(
    ("place", "codes", "good"),
    [
        (_place(-60, -26), ["good"], True),
        (_place(-32, -26), ["headset"], True),
        (_place(-45, -40, understood=3), ["closer", "headset"], False),
        (_place(-20, -22, understood=0), ["too_loud"], False),
        (_place(-60, -26, understood=4), ["not_understood"], False),
        (_place(-60, -5, clipped=4), ["clipping"], True),
        (_place(-60, -26, dropouts=2), ["dropouts"], True),
        (_place(-60, None, understood=0), ["nobody"], False),
        (_place(-100, None, understood=0, dead=True), ["dead"], False),
    ],
)
def test_advice(place: Measured, codes: list[str], good: bool) -> None:
    """Each trouble has its own advice, and a place works or does not."""
    assert [said.key.removeprefix("soundcheck.") for said in advise(place)] == codes
    assert works(place) is good


def test_a_place_where_nothing_was_tried_is_not_known_to_work() -> None:
    """Without a phrase there is no proof."""
    assert not works(Measured(5.0, -60.0, -60.0, -26.0, 0, 0, False, ()))

"""Vehicle identification numbers: their check digit (49 CFR 565.15) and their letters spoken."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

LENGTH: Final = 17
CHECK_AT: Final = 8  # the ninth character

# 49 CFR 565.15 Table III: values of letters; I, O and Q are not used.
_VALUES: Final = {str(digit): digit for digit in range(10)} | {
    "A": 1, "B": 2, "C": 3, "D": 4, "E": 5, "F": 6, "G": 7, "H": 8,
    "J": 1, "K": 2, "L": 3, "M": 4, "N": 5, "P": 7, "R": 9,
    "S": 2, "T": 3, "U": 4, "V": 5, "W": 6, "X": 7, "Y": 8, "Z": 9,
}  # fmt: skip
# 49 CFR 565.15 Table IV: weights by position; the check digit itself has none.
_WEIGHTS: Final = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def normalized(text: str) -> str:
    """The number without spaces and hyphens, in capitals.

    Raises:
        ValueError: not 17 characters, or one that no such number holds.
    """
    vin = "".join(text.split()).replace("-", "").upper()
    if len(vin) != LENGTH:
        msg = f"a vehicle identification number has 17 characters, this has {len(vin)}"
        raise ValueError(msg)
    for place, character in enumerate(vin, start=1):
        if character not in _VALUES:
            msg = (
                f'character {place} is "{character}"; digits and letters but I, O and Q are '
                "allowed (I reads like 1, O and Q like 0)"
            )
            raise ValueError(msg)
    return vin


def check_digit(text: str) -> str:
    """The ninth character that belongs to the other sixteen: 0 to 9 or X.

    49 CFR 565.15(c): values times weights, added, divided by 11; the remainder, X for ten.

    Raises:
        ValueError: as `normalized`.
    """
    vin = normalized(text)
    total = sum(_VALUES[one] * weight for one, weight in zip(vin, _WEIGHTS, strict=True))
    remainder = total % 11
    return "X" if remainder == 10 else str(remainder)


def check_digit_holds(text: str) -> bool:
    """Whether the ninth character is the check digit.

    Numbers of vehicles made for North America must pass; others need not have a check digit.

    Raises:
        ValueError: as `normalized`.
    """
    vin = normalized(text)
    return vin[CHECK_AT] == check_digit(vin)


def spoken(text: str, character: Callable[[str], str]) -> tuple[str, ...]:
    """The number in groups as it is read aloud: maker 3, vehicle 5, check digit 1, rest 8.

    The groups are those of 49 CFR 565.15; eight are halved, since four at a time are kept in mind
    (common practice, no source).

    Args:
        text: the number.
        character: a digit's or letter's word in the language spoken: "alfa", "nine".

    Raises:
        ValueError: as `normalized`.
    """
    vin = normalized(text)
    cuts = ((0, 3), (3, 8), (8, 9), (9, 13), (13, 17))
    return tuple(" ".join(character(one) for one in vin[start:end]) for start, end in cuts)

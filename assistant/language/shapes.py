"""Shapes of what is written short in a workshop text.

ISO 261 and ISO 68-1 for metric threads (M8 × 1.25, M10 - 6g), ASME B1.1 for unified threads
(3/8-16 UNC, #10-32 UNF, 1/4-20 UNC-2A), SAE J300 for oils (10W-40, SAE 10W), ISO 3506-1 for
stainless classes (A2-70).
"""

from __future__ import annotations

import re
from typing import Final

DECIMAL = r"(?:[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]*\.[0-9]+|[0-9]+)"
FRACTION = r"[0-9]+/[0-9]+"
NUMBER = rf"(?:[0-9]+[ -]{FRACTION}|{FRACTION}|{DECIMAL})"
END = r"(?![^\W_])"

METRIC: Final = re.compile(
    rf"M(?P<size>{DECIMAL})(?P<more>(?: ?[×xX-] ?{DECIMAL}(?![gGhH0-9]))*)"
    rf"(?P<fit> ?- ?[0-9][gGhH](?:[0-9][gGhH])?)?(?![A-Za-z0-9])"
)
UNIFIED: Final = re.compile(
    rf"(?P<size>(?:[0-9]+[ -])?{FRACTION}|#[0-9]+|[0-9]+(?=-[0-9]+ UN))"
    rf"-(?P<pitch>[0-9]{{1,2}})(?![0-9/.A-Za-z])"
    rf"(?: ?(?P<series>UN[A-Z]*)(?:-(?P<fit>[123][AB]))?{END})?"
)
OIL: Final = re.compile(rf"(?P<cold>[0-9]{{1,2}})W-(?P<hot>[0-9]{{1,2}}){END}")
WINTER_OIL: Final = re.compile(rf"(?<=SAE )(?P<cold>[0-9]{{1,2}})W{END}")
STAINLESS: Final = re.compile(rf"(?P<steel>[ACF][1-8])-(?P<strength>[0-9]{{2,3}}){END}")
NAME: Final = re.compile(rf"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*{END}")
DASHED: Final = re.compile(rf"(?=[0-9-]*[A-Z])(?=[A-Z-]*[0-9])[A-Z0-9]+(?:-[A-Z0-9]+)+{END}")
FIGURES: Final = re.compile(r"[0-9]+(?:-[0-9]+)+(?![0-9/.]*[/.][0-9]|[^\W_])")
VERSION: Final = re.compile(rf"[0-9]+(?:\.[0-9]+){{2,}}{END}")
ORDINAL: Final = re.compile(rf"(?P<number>[0-9]+)(?:st|nd|rd|th){END}")
RUN: Final = re.compile(NUMBER)
MINUS: Final = re.compile(r"[-−](?=\.?[0-9])")
CODE: Final = re.compile(rf"(?P<letters>[A-Z]+)(?P<figures>[0-9]{{1,3}}){END}")
MIXED: Final = re.compile(rf"(?=[A-Z]*[0-9])(?=[0-9]*[A-Z])[A-Z0-9]+{END}")
OPERATOR: Final = re.compile(r"(?: ?[×–±+=/] ?| [xX] |[xX]| - |[-:])(?=\.?[0-9])")
TIMES: Final = re.compile(r" ?× ?(?![0-9.])|[xX](?![^\W_]) ?")
WORD: Final = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")
BY: Final = re.compile(r"×(?= ?\.?[0-9])|[xX] (?=\.?[0-9])")
LETTER: Final = re.compile(r"[A-Za-z](?![^\W_])")
OPENED: Final = re.compile(r"(?:^|[ (])['‘]")
FOLLOWING: Final = re.compile(r"[ -]([a-z]+(?:-[a-z]+)*)")
PAUSE: Final = re.compile(r"[()\[\]–—]|-(?= |$)|[.,?!;:…]")
QUOTE: Final = re.compile(r"[\"“”„«»'‘’]")

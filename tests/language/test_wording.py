"""What the ear gets for what the screen shows.

Unit names: NIST SP 811 (2008) chapters 9 and 10 and appendix B: newton meter, degree Celsius,
kilopascal, plural by adding s, hertz unchanged. Torque in US units is said as the trade says it:
foot pounds (common practice, no source). Threads: ISO 68-1 and ISO 261 (M8 × 1.25), ASME B1.1
(3/8-16 UNC, #10-32 UNF, class 2A). Property classes: ISO 898-1. Oils: SAE J300. Stainless:
ISO 3506-1. Fluids: 49 CFR 571.116 (DOT 4, DOT 5.1). Letters and figures of part numbers: ICAO
Annex 10 Volume II chapter 5. How a thread or a hex key is read aloud: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadFile, NotSpeakable
from assistant.language.numbers import NumberWords, load_numbers, parse_number
from assistant.language.wording import Wording, for_ear, load_wording
from assistant.trade.quantity import UNITS, Dimension, Quantity
from tests.language.conftest import shipped

ENGLISH = load_wording(*shipped("en/wording.yaml"), load_numbers(*shipped("en/numbers.yaml")))
ROOT = Path(__file__).parents[2]

SPOKEN = [
    # Drives and wrench sizes
    ("9/16 in", "nine sixteenths inch"),
    ("9/16 in socket", "nine sixteenths inch socket"),
    ("5/32 in hex key", "five thirty seconds inch hex key"),
    ("5/32 in hex key, short arm", "five thirty seconds inch hex key, short arm"),
    ("6 mm hex key", "six millimeter hex key"),
    ("14 mm open wrench", "fourteen millimeter open wrench"),
    ("10-mm deep socket", "ten millimeter deep socket"),
    ("hole 10 mm deep", "hole ten millimeters deep"),
    ("3/8 in drive", "three eighths inch drive"),
    ('1/4" drive', "one quarter inch drive"),
    ("T27", "T twenty seven"),
    ("E10 socket", "E ten socket"),
    ("PH2", "P H two"),
    ("#2 Phillips", "number two Phillips"),
    ("No. 2 Phillips", "number two Phillips"),
    ("JIS 2", "J I S two"),
    ("12-point socket", "twelve point socket"),
    # Threads
    ("M6", "M six"),
    ("M8 × 1.25", "M eight by one point two five"),
    ("M8x1.25", "M eight by one point two five"),
    ("M10 × 1.0", "M ten by one point zero"),
    ("M16 × 1.5 × 30 mm", "M sixteen by one point five by thirty millimeters"),
    ("M8 - 6g", "M eight six G"),
    ("M10 × 1.25 - 5H6H", "M ten by one point two five five H six H"),
    ("3/8-16 UNC", "three eighths sixteen U N C"),
    ("3/8-24 UNF", "three eighths twenty four U N F"),
    ("1/4-20", "one quarter twenty"),
    ("1/4-20 UNC-2A", "one quarter twenty U N C two A"),
    ("1/4-20 UNC × 7/8 in", "one quarter twenty U N C by seven eighths inch"),
    ("1 1/4-7 UNC", "one and one quarter seven U N C"),
    ("#10-32 UNF", "number ten thirty two U N F"),
    ("10-32 UNF", "ten thirty two U N F"),
    ("3/8-24 LH", "three eighths twenty four left hand"),
    ("4 × M8 bolt", "four M eight bolt"),
    ("2x washers", "two washers"),
    # Torque and other quantities
    ("22 N·m", "twenty two newton meters"),
    ("1 N·m", "one newton meter"),
    ("26 lbf·ft", "twenty six foot pounds"),
    ("80 lbf·in", "eighty inch pounds"),
    ("15 ft-lb", "fifteen foot pounds"),
    ("2.5 kgf·m", "two point five kilogram force meters"),
    ("Torque in N·m", "Torque in newton meters"),
    ("12.4 V", "twelve point four volts"),
    ("12V", "twelve volts"),
    ("12 V battery", "twelve volt battery"),
    ("10 A fuse", "ten ampere fuse"),
    ("230 kPa", "two hundred thirty kilopascals"),
    ("32 psi", "thirty two pounds per square inch"),
    ("2.5 bar", "two point five bar"),
    ("700 mL", "seven hundred milliliters"),
    ("5 L.", "five liters."),
    ("4 fl oz", "four fluid ounces"),
    ("30 s", "thirty seconds"),
    ("1 min", "one minute"),
    ("2 min", "two minutes"),
    ("1,200 rpm", "one thousand two hundred R P M"),
    ("50 Hz", "fifty hertz"),
    ("90°", "ninety degrees"),
    ("1°", "one degree"),
    ("−5 °C", "minus five degrees Celsius"),
    ("1 °C", "one degree Celsius"),
    ("446 °F", "four hundred forty six degrees Fahrenheit"),
    ("50 %", "fifty percent"),
    ("1 1/2 turn", "one and one half turns"),
    ("1/2 turn", "one half turn"),
    ("1½ in", "one and one half inches"),
    ("1-1/2 in", "one and one half inches"),
    ("0.5 mm", "zero point five millimeters"),
    (".5 mm", "zero point five millimeters"),
    ("0.0015 in", "zero point zero zero one five inches"),
    ("12.40 V", "twelve point four zero volts"),
    ("5 mm (0.20 in)", "five millimeters, zero point two zero inches"),
    # Ranges, limits, tolerances
    ("2–4 mm", "two to four millimeters"),
    ("2 - 4 mm", "two to four millimeters"),
    ("2-4 mm", "two to four millimeters"),
    ("2 mm – 4 mm", "two millimeters to four millimeters"),
    ("1/16–1/8 in", "one sixteenth to one eighth inches"),
    ("± 2", "plus or minus two"),
    ("22 ± 2 N·m", "twenty two plus or minus two newton meters"),
    ("± 10 %", "plus or minus ten percent"),
    ("≥ 12.4 V", "at least twelve point four volts"),
    ("≤ 3 mm", "at most three millimeters"),
    ("max. 5 mm", "maximum five millimeters"),
    ("10 × 12 mm", "ten by twelve millimeters"),
    ("2:1", "two to one"),
    # Inch or preposition
    ("1 in", "one inch"),
    ("2 in long", "two inches long"),
    ("put 2 in the tray", "put two in the tray"),
    ("Screw it in.", "Screw it in."),
    ("a reading: play, in in.", "a reading: play, in inches."),
    ("a reading: battery, in V. It counts", "a reading: battery, in volts. It counts"),
    ("slack: one three, L. Is that right?", "slack: one three, liters. Is that right?"),
    # Grades, fluids, oils, names
    ("8.8", "eight point eight"),
    ("class 10.9", "class ten point nine"),
    ("A2-70", "A two seventy"),
    ("SAE grade 5", "S A E grade five"),
    ("SAE 10W-40", "S A E ten W forty"),
    ("SAE 10W fork oil", "S A E ten W fork oil"),
    ("a 10W bulb", "a ten watt bulb"),
    ("GL-5", "G L five"),
    ("DOT 4", "dot four"),
    ("DOT 5.1, not DOT 5", "dot five point one, not dot five"),
    ("ABS", "A B S"),
    ("the ABS's pump", "the A B S's pump"),
    ("ECU and LEDs", "E C U and L E D's"),
    ("O-ring", "O ring"),
    ("VIN", "V I N"),
    ("VIN 1HGBH41", "V I N one hotel golf bravo hotel four one"),
    ("WL-RS-30", "whiskey lima dash romeo sierra dash three zero"),
    ("part number 904", "part number nine zero four"),
    ("part number A127", "part number alfa one two seven"),
    ("91-20405", "nine one dash two zero four zero five"),
    ("Ostrel 900 tourer", "Ostrel nine hundred tourer"),
    ("ISO 898-1", "I S O eight hundred ninety eight dash one"),
    ("page 4-12", "page four dash twelve"),
    # Sentences
    ("DANGER. Smoke. Get clear.", "danger. Smoke. Get clear."),
    ("Your number is 7, 3.", "Your number is seven, three."),
    ("Step 3 of 45. Steps left: 12.", "Step three of forty five. Steps left: twelve."),
    ("No. It stays open.", "No. It stays open."),
    ("Front first - then rear", "Front first, then rear"),
    ("Front first — then rear", "Front first, then rear"),
    ("Lock-to-lock, 1st gear", "Lock-to-lock, first gear"),
    ("the rider’s own decision", "the rider's own decision"),
    ("Turn it (by hand) “home”.", "Turn it, by hand, home."),
    ("marked '8.8' and \"10.9\" on", "marked eight point eight and ten point nine on"),
    ("grease, e.g. at the ball", "grease, for example at the ball"),
    ("", ""),
    ("  two \n lines ", "two lines"),
]


@pytest.mark.parametrize(("text", "said"), SPOKEN)
def test_as_a_technician_says_it(text: str, said: str) -> None:
    """Each text is said as it would be in the shop, and saying it again changes nothing."""
    assert for_ear(text, ENGLISH) == said
    assert for_ear(said, ENGLISH) == said


def test_there_are_enough_examples() -> None:
    """The table above covers the trade's ways of writing."""
    assert len(SPOKEN) >= 60


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("clutch/brake", "/"),
        ("a * b", "*"),
        ("5 foo²", "²"),
        ("6' pipe", "'"),
        ("the rider's 6' pipe", "'"),
        ("mail@shop", "@"),
        ("{name}", "{"),
        ("٣ bolts", "٣"),
        ("Ⅳ", "Ⅳ"),
        ("Kit3", "Kit3"),
        ("mAh", "mAh"),
        ("kPaa", "kPaa"),
        ("see x", "x"),
        ("tghtn it", "tghtn"),
        ("32nd of March, 33rd", "32nd"),
        ("☃", "☃"),
        ("e\u0301\u0302", "\u0302"),
    ],
)
def test_what_has_no_words_is_named(text: str, sign: str) -> None:
    """A sign or abbreviation without words is an error that names it, never passed on."""
    with pytest.raises(NotSpeakable) as caught:
        for_ear(text, ENGLISH)
    assert caught.value.sign == sign
    assert f'"{sign}"' in str(caught.value)


SHOP_TEXT = st.text(st.sampled_from("0123456789  .,/-–×±°%·#'\"()ACDMNTUVWXgimnstx½²"), max_size=30)


@given(st.one_of(SHOP_TEXT, st.text(max_size=40)))
@settings(deadline=None, max_examples=600)
def test_only_letters_and_pauses_reach_the_voice(text: str) -> None:
    """Any text at all is said in letters and pauses, or refused."""
    try:
        said = for_ear(text, ENGLISH)
    except NotSpeakable:
        return
    assert all(sign.isalpha() or sign in " .,?!;:'-" for sign in said)
    assert said == said.strip()
    assert "  " not in said


NUMBERS = st.one_of(
    st.integers(0, 999).map(Fraction),
    st.builds(lambda n: Fraction(n, 100), st.integers(0, 99_999)),
    st.builds(
        lambda whole, part, size: whole + Fraction(part % size, size),
        st.integers(0, 20),
        st.integers(1, 63),
        st.sampled_from((2, 4, 8, 16, 32, 64)),
    ),
)


@given(NUMBERS, st.sampled_from(UNITS))
@settings(deadline=None, max_examples=300)
def test_a_spoken_quantity_is_worth_what_was_written(value: Fraction, unit: object) -> None:
    """The words of any quantity give back its number, and its unit's name in full."""
    quantity = Quantity(value, next(u for u in UNITS if u is unit))
    said = for_ear(str(quantity), ENGLISH)
    names = ENGLISH.units[quantity.unit.symbol]
    name = next(n for n in sorted((names.one, names.many), key=len) if said.endswith(f" {n}"))
    assert parse_number(said.removesuffix(f" {name}"), ENGLISH.numbers) == value
    if value == 1 and quantity.unit.dimension is not Dimension.COUNT:
        assert said == f"one {names.one}"


def test_every_unit_of_the_trade_has_words() -> None:
    """All symbols and aliases that an author may write are in the table."""
    spellings = {name for unit in UNITS for name in (unit.symbol, *unit.aliases)}
    spelled_out = {"inches", "inch"}
    for name in spellings - spelled_out:
        said = for_ear(f"3 {name}", ENGLISH)
        assert said.startswith("three ")
        assert said != f"three {name}" or name.isalpha()


def shipped_texts() -> Iterator[tuple[str, str]]:
    """Texts of the shipped checklists and safety stops that are spoken."""
    spoken = ROOT / "assistant/safety/data/en/stops.yaml"
    files = [*ROOT.glob("checklists/**/*.yaml"), spoken]
    for file in sorted(files):
        waiting = [yaml.safe_load(file.read_text(encoding="utf-8"))]
        while waiting:
            value = waiting.pop()
            if isinstance(value, dict):
                # A reading's unit is said after "in": a reading in s.
                waiting.extend(
                    f"in {v}" if k == "unit" else v for k, v in value.items() if k != "include"
                )
            elif isinstance(value, list):
                waiting.extend(value)
            elif isinstance(value, str):
                yield file.name, value.replace("{each}", "left")


def test_everything_that_is_shipped_can_be_said() -> None:
    """No shipped checklist or safety stop holds a sign or abbreviation without words."""
    texts = list(shipped_texts())
    assert len(texts) > 100
    for file, text in texts:
        try:
            for_ear(text, ENGLISH)
        except NotSpeakable as error:
            pytest.fail(f"{file}: {error}")


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('"mm": {one: millimeter,', '"mm": {one: "1 millimeter",', "not-words"),
        ('"cm": {one: centimeter, many: centimeters}', '"cm": {one: centimeter}', "missing"),
        ('"ft": {one: foot, many: feet}', '"ft": {one: f, many: f, also: [mm]}', "unit-twice"),
        ("  DOT: dot", "  DOT: dot 4", "not-words"),
        ("language: en", "language: ko", "language"),
        ("unit_after", "units_after", "extra-forbidden"),
    ],
)
def test_mistakes_in_the_file(numbers: NumberWords, old: str, new: str, code: str) -> None:
    """Each mistake is found, with its line."""
    text, file = shipped("en/wording.yaml")
    assert old in text
    with pytest.raises(BadFile) as caught:
        load_wording(text.replace(old, new), file, numbers)
    finding = caught.value.findings[0]
    assert finding.code == code
    assert finding.line > 0


def test_a_shop_can_add_an_abbreviation(wording: Wording, numbers: NumberWords) -> None:
    """What is refused today is a line in the table tomorrow."""
    with pytest.raises(NotSpeakable):
        for_ear("chk it", wording)
    text, file = shipped("en/wording.yaml")
    longer = load_wording(text.replace("\nwords:\n", "\nwords:\n  chk: check\n"), file, numbers)
    assert for_ear("Chk it", longer) == "Check it"

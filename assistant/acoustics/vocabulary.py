"""The words of the shipped model: all that a job can need, and some thousand common ones."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.resources import files
from typing import Final

from assistant import packaged
from assistant.acoustics.phones import Dictionary, pocketsphinx_dictionary, with_more
from assistant.acoustics.splits import HELD_WORDS, UNHEARD_WORDS
from assistant.acoustics.texts import ALPHABET, LETTERS
from assistant.engines import whole_grammar

_MORE: Final = {
    "ines": ["IY N EH Z", "IY N EH S"],
    "mara": ["M AA R AH", "M EH R AH"],
    "niner": ["N AY N ER"],
    "psi": ["P IY EH S AY"],
    "rubout": ["R AH B AW T"],
    "tobin": ["T OW B IH N"],
    "x-ray": ["EH K S R EY"],
}
_TRIALS: Final = [
    "enter", "erase", "rubout", "smart", "mirror", "view", "glass", "computer", "visual", "wow",
    "marvin", "sheila", "yes", "no", "go", "up", "down", "left", "right", "on", "off", "start",
    "stop", "repeat", "help", "oh", "hundred", "thousand", "and", "cancel", "confirm", "brakes",
    "bled", "disconnected", "isolated", "stripped", "thread", "aardvark", "cheddar", "warning",
    "ceiling", "condition", "blather", "cannister", "flooring", "tablecloth",
]  # fmt: skip

_SHOP: Final = """
axle axles bearing bearings belt bleed bleeder block brake brakes bucket bulb bushing cable
calipers caliper camshaft carburetor chain choke clutch coil collar compression connector
coolant crankcase crankshaft cylinder damper diaphragm disc dot drain exhaust fairing fastener
fender filter flange float footpeg fork forks front fuse gasket gauge gear grease grip
gripper handlebar harness headlight hex horn hub idle ignition inner injector intake jet
kickstand lever lower magneto manifold master mirror muffler nozzle oil outer pad pads pedal
petcock pinion pipe piston pivot plug pulley pump radiator rear rectifier regulator relay
reservoir rim rocker rotor rubber seal seat shaft shim shock sleeve socket spacer spark
speedometer spindle spoke spring sprocket stand starter stator steering stem strap stud
suspension switch swing tank tappet tensioner terminal throttle timing tire tube upper valve
wheel wiring wrench yoke
""".split()  # noqa: SIM905 - a list of words is read more easily so


def dictionary() -> Dictionary:
    """Every word that the model could list."""
    found = with_more(pocketsphinx_dictionary(), _MORE)
    return with_more(found, packaged.phrasebook("en").pronunciations)


def common_words() -> list[str]:
    """Common English words, from the list beside this module (SCOWL, see the model card)."""
    text = files("assistant.acoustics").joinpath("data/common_words.txt").read_text("utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def vocabulary(known: Dictionary, more: Iterable[str] = ()) -> set[str]:
    """All words of the phrasebook, letters, their radio names, trial words and common words."""
    wanted = {*whole_grammar("en").words(), *ALPHABET, *LETTERS, *_TRIALS, *more}
    wanted |= HELD_WORDS | UNHEARD_WORDS | {"mara", "ines", "tobin"}
    return {word for word in (*wanted, *_SHOP, *common_words()) if word in known}

"""Options of every live job; apart from `live`, so that help needs no audio library."""

from __future__ import annotations

import argparse
from typing import Final

ENGINE: Final = "pair"
ENGINES: Final = "pair (PocketSphinx and our own Vosk model), pocketsphinx, or vosk:MODEL"


def add_to(command: argparse.ArgumentParser) -> None:
    """Options of every live job."""
    command.add_argument("--engine", default=ENGINE, help=ENGINES)
    command.add_argument(
        "--no-enrollment", action="store_true", help="hear as if nobody's voice were enrolled"
    )
    command.add_argument("--typed", action="store_true", help="keys only, no microphone")
    command.add_argument("--headset", action="store_true", help="full duplex: may be interrupted")
    command.add_argument("--microphone", metavar="NAME", help="part of the device's name")
    command.add_argument("--loudspeaker", metavar="NAME", help="part of the device's name")
    command.add_argument("--voice", metavar="NAME", help="voice to speak with")
    command.add_argument("--rate", type=int, default=150, metavar="WPM", help="words per minute")
    command.add_argument("--no-clips", action="store_true", help="keep no sound of replies")

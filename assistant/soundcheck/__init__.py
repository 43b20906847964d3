"""Whether voice will work in this place: noise, speech, microphone, a few phrases, plain advice."""

from assistant.soundcheck.advice import advise, figure, works
from assistant.soundcheck.measure import Measured, Tried
from assistant.soundcheck.run import listen_to_file, listen_to_person

__all__ = [
    "Measured",
    "Tried",
    "advise",
    "figure",
    "listen_to_file",
    "listen_to_person",
    "works",
]

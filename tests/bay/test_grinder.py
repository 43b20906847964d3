"""A bay with real ears beside a grinder: it says that it can't hear, waits, and goes on after."""

from __future__ import annotations

import numpy as np

from assistant.engines import open_engine
from assistant.hearing.ear import Ear
from assistant.hearing.noise import Samples, active_level_db, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.source import RATE, PcmSource
from tests.bays import shop
from tests.hearing.clips import clip
from tests.job.bench import at_step

SPEECH = -24.0
GRINDER = -12.0
"""12 dB over the voice. At 97 dB(A), the level of grinders (HSE, noise in vehicle repair), even a
close microphone hears the machine louder than the voice."""


def _said(words: str) -> Samples:
    spoken = from_pcm(clip(words))
    return spoken * 10 ** ((SPEECH - active_level_db(spoken, RATE)) / 20)


def _room(pieces: list[Samples], grinder_from_s: float, grinder_to_s: float) -> bytes:
    whole = np.concatenate(pieces)
    noise = at_level_db(pink(len(whole), 3), -65.0)
    first, last = round(grinder_from_s * RATE), round(grinder_to_s * RATE)
    noise[first:last] = at_level_db(pink(last - first, 4), GRINDER)
    return to_pcm(whole + noise)


def test_a_grinder_is_waited_out() -> None:
    """Nothing said beside it is guessed or asked again; it is told once, and then work goes on."""
    pause = np.zeros(2 * RATE)
    before = [pause, _said("where are we"), pause]
    begin_s = sum(map(len, before)) / RATE
    beside = [np.concatenate([pause, _said(w)]) for w in ("step complete", "what torque") * 3]
    end_s = begin_s + sum(map(len, beside)) / RATE
    after = [pause, pause, _said("what is off"), pause]
    made = shop(spoken=True, state=at_step("wipe-down").state).work()
    ear = Ear(
        PcmSource(_room([*before, *beside, *after], begin_s, end_s)), open_engine("pocketsphinx")
    )
    made.bay._ports.ear = ear
    while ear.now_s < end_s + 7.0:
        made.bay.turn(0.25)
    assert made.events() == ["where_are_we", "what_is_off"]
    texts = [text for text in made.mouth.texts if "hear" in text]
    assert texts == [
        "I cannot hear in this noise. The job waits. You can use the keys.",
        "I can hear again.",
    ]
    assert made.step() == "wipe-down"

"""Pico and RHVoice, where their files are.

What they are asked to say is heard by PocketSphinx, which has nothing to do with either.
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import numpy as np
import pytest

from assistant.acoustics.statistical_voices import Pico, RHVoice, Samples

PACK = Path(os.environ.get("GLOVESON_VOICES", "/nowhere"))
"""The folder that `pack` describes; these packages aren't in Debian's main component."""


def _heard(samples: Samples, rate: int) -> str:
    import pocketsphinx  # noqa: PLC0415 - loads a model

    from assistant.hearing.source import resample  # noqa: PLC0415 - as above

    decoder = pocketsphinx.Decoder(lm=None, loglevel="FATAL")
    decoder.add_jsgf_string(
        "w", "#JSGF V1.0;\ngrammar w;\npublic <w> = november | handlebar | stop;\n"
    )
    decoder.activate_search("w")
    sound = resample(samples / 32768, rate, 16_000)
    decoder.start_utt()
    decoder.process_raw(np.rint(sound * 30000).astype("<i2").tobytes(), full_utt=True)
    decoder.end_utt()
    found = decoder.hyp()
    return str(found.hypstr) if found else ""


@pytest.mark.parametrize(("kind", "voices"), [("pico", Pico), ("rhvoice", RHVoice)])
def test_a_voice_says_what_it_is_told(kind: str, voices: type[Pico] | type[RHVoice]) -> None:
    """Six tries at any voice, pace and pitch are heard as the word told."""
    if not (PACK / kind).is_dir():
        pytest.skip(f"no {kind} in GLOVESON_VOICES; the training's own files, see pack")
    speaker, chance = voices(PACK / kind), random.Random(1)  # noqa: S311 - no secrets
    rate = getattr(speaker, "rate", 16_000)
    assert [_heard(speaker.speak("november", chance), rate) for _ in range(6)] == ["november"] * 6

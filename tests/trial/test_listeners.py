"""Our hearing path with one part switched off."""

from __future__ import annotations

import pytest

from assistant.cli import trial as command
from assistant.hearing.ear import Heard
from assistant.hearing.masking import Masking, Unmasked
from assistant.hearing.source import FRAME_BYTES
from assistant.trial.listeners import Ours, WebRtc
from assistant.trial.parts import PARTS
from tests.hearing.clips import clip
from tests.trial.test_plain import bench, first


def heard(words: str, without: str | None, engine: str = "pocketsphinx") -> tuple[Heard, float]:
    """What our path makes of a fixture, and when."""
    one = bench(words)
    found = first(Ours(engine, without)(one, ""))
    assert isinstance(found, Heard)
    return found, one.after_clip_s


def test_the_command_line_names_every_part() -> None:
    """The list is written twice so that the command's help needs no audio library."""
    assert command.PARTS == PARTS


CLEAN_IS_ENOUGH = [part for part in PARTS if part != "voice-activity"]
"""Each part but voice activity is a help in bad conditions; none is needed in good ones.

Without voice activity words are cut: 20 % of human words were heard instead of 60 %."""


@pytest.mark.parametrize("part", CLEAN_IS_ENOUGH)
def test_a_clean_phrase_is_heard_without_any_one_part(part: str) -> None:
    """The pair, which listens by default, has every part, and does without any in quiet."""
    assert heard("carry on", part, "pair")[0].text == "carry on"


@pytest.mark.parametrize("part", ["rejection", "variation", "floor"])
def test_so_does_pocketsphinx(part: str) -> None:
    """PocketSphinx alone has these parts of its own."""
    assert heard("carry on", part)[0].text == "carry on"


@pytest.mark.parametrize("engine", ["pocketsphinx", "pair"])
def test_without_early_decision_nothing_is_decided_early(engine: str) -> None:
    """The decision comes more than a third of a second of sound later, whoever decides early."""
    early, late = (heard("what size", part, engine)[1] for part in (None, "early-decision"))
    assert late - early > 0.33


def test_without_rejection_other_speech_is_acted_on() -> None:
    """The part does what its name says."""
    assert heard("trouble is cleared", None)[0].intent is None
    assert heard("trouble is cleared", "rejection")[0].intent is not None


def test_without_variation_there_is_one_decoding() -> None:
    """Then the decodings can't disagree."""
    assert heard("carry on", "variation")[0].evidence["agreement"] == 1.0


def test_webrtc_tells_voice_from_silence() -> None:
    """A vowel is a voice, zeros are none."""
    pcm = clip("carry on")
    middle = len(pcm) // 4 * 2
    detector = WebRtc()
    assert detector(pcm[middle : middle + FRAME_BYTES]) == 1.0
    assert WebRtc()(bytes(FRAME_BYTES)) == 0.0


def test_without_masking_no_noise_masks_and_nobody_is_far_off() -> None:
    """The level of the noise and of the speech decide nothing then."""
    never, real = Unmasked(), Masking()
    for masking in (never, real):
        for _ in range(100):
            masking.take(-10.0)
        for _ in range(5):
            masking.understood(-20.0)
    assert (real.masked, real.far_off(-50.0)) == (True, True)
    assert (never.masked, never.hides(-10.0), never.far_off(-50.0)) == (False, False, False)

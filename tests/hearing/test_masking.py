"""When noise masks speech, and what is too far off, by levels alone."""

from __future__ import annotations

import pytest

from assistant.hearing.masking import CLEAR_ABOVE_DB, FAR_DB, MASKED_DB, NOMINAL_DBFS, Masking

_SECOND = 32  # frames, rounded up


def _pass(masking: Masking, noise_dbfs: float, frames: int = _SECOND) -> int:
    return sum(masking.take(noise_dbfs) for _ in range(frames))


def test_loud_noise_for_a_second_masks_speech() -> None:
    """Noise within the margin of the usual level masks after one second, a knock does not."""
    masking = Masking()
    noise = NOMINAL_DBFS - MASKED_DB + 1
    assert _pass(masking, noise, 25) == 0
    assert _pass(masking, -60.0, 1) == 0
    assert _pass(masking, noise, 30) == 0
    assert _pass(masking, noise) == 1
    assert masking.masked


def test_it_ends_when_the_noise_is_well_under_speech() -> None:
    """Noise in between the two margins changes nothing, so the state does not flicker."""
    masking = Masking()
    _pass(masking, NOMINAL_DBFS + 1)
    assert masking.masked
    between = NOMINAL_DBFS - (MASKED_DB + CLEAR_ABOVE_DB) / 2
    assert _pass(masking, between, 10 * _SECOND) == 0
    assert _pass(masking, NOMINAL_DBFS - CLEAR_ABOVE_DB - 1) == 1
    assert not masking.masked
    assert _pass(masking, between, 10 * _SECOND) == 0


def test_what_was_understood_sets_the_measure() -> None:
    """For a louder person the same noise does not mask."""
    masking = Masking()
    for _ in range(3):
        masking.understood(NOMINAL_DBFS + 12)
    assert masking.usual_dbfs == pytest.approx(NOMINAL_DBFS + 12)
    _pass(masking, NOMINAL_DBFS, 3 * _SECOND)
    assert not masking.masked


def test_one_shout_does_not_set_the_measure() -> None:
    """The usual level is a median: one utterance out of line moves it little."""
    masking = Masking()
    for level in (-30.0, -31.0, -29.0, -5.0, -30.5):
        masking.understood(level)
    assert masking.usual_dbfs == pytest.approx(-30.0)


def test_nothing_measured_masks_nothing() -> None:
    """Before the room has been measured there is no such state."""
    masking = Masking()
    assert not any(masking.take(None) for _ in range(100))
    masking.understood(None)
    assert masking.usual_dbfs == NOMINAL_DBFS


def test_only_masked_speech_is_hidden() -> None:
    """Speech near the noise is hidden while noise masks; who speaks up is heard."""
    masking = Masking()
    assert not masking.hides(MASKED_DB - 1)
    _pass(masking, NOMINAL_DBFS + 1)
    assert masking.hides(MASKED_DB - 1)
    assert not masking.hides(MASKED_DB + 1)
    assert not masking.hides(None)


def test_far_off_needs_a_measure_of_the_person() -> None:
    """Nobody is far off before three utterances have been understood; then level decides."""
    masking = Masking()
    assert not masking.far_off(-90.0)
    for _ in range(3):
        masking.understood(-26.0)
    assert masking.far_off(-26.0 - FAR_DB - 1)
    assert not masking.far_off(-26.0 - FAR_DB + 1)
    assert not masking.far_off(None)

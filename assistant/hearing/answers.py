"""What the ear answers: an utterance, free speech, or the reason why there was nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from assistant.hearing.acceptance import Verdict
from assistant.language.intent import Intent

FAR_OFF: Final = "far under the usual level"
"""Why an utterance is unclear that sounds like somebody in another bay."""

Hindrance = Literal["lost", "dead", "noise"]
Reason = Literal["silence", "ended", "stopped", "lost", "dead", "noise"]
Trouble = Literal["lost", "back", "dead", "alive", "clipping", "dropped"]


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nobody said anything that ended.

    Attributes:
        reason: "silence" (patience ran out), "ended" (the source has no more), "stopped" (the
            caller said so); or why nobody could be heard: "lost" (the microphone has gone), "dead"
            (it gives zeros only), "noise" (the room's noise masks speech). These three come at once
            when it begins, and then whenever patience runs out.
    """

    reason: Reason


@dataclass(frozen=True, slots=True)
class Heard:
    """One utterance.

    Attributes:
        intent: what its exact words mean; None when they mean nothing or were not accepted.
        text: the engine's words.
        confidence: the engine's, 0 to 1.
        verdict: "accepted" may be acted on, "unclear" has to be asked again.
        why: what was missing when unclear, else "".
        clip: 16 kHz mono s16le, with a little before and after.
        began_s, ended_s: first and last voice, in seconds of sound since the ear was opened.
        decided_s: when the verdict was known, on the same scale, recognition time included.
        snr_db: speech against the room, None when not measured.
        engine: its name and model.
        evidence: the engine's figures by name.
    """

    intent: Intent | None
    text: str
    confidence: float
    verdict: Verdict
    why: str
    clip: bytes
    began_s: float
    ended_s: float
    decided_s: float
    snr_db: float | None
    engine: str
    evidence: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Speech:
    """Free speech, kept as sound.

    Attributes:
        clip: 16 kHz mono s16le from the first word to the last, without the closing phrase.
        ended_by: "phrase", "silence", "limit", "ended" or "lost".
        began_s, ended_s: in seconds of sound since the ear was opened.
        closing: the phrase that ended it, None when something else did.
    """

    clip: bytes
    ended_by: Literal["phrase", "silence", "limit", "ended", "lost"]
    began_s: float
    ended_s: float
    closing: Intent | None = None

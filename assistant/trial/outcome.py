"""What came of one clip, and why.

Outcomes of a command or reading: "correct" (what was acted on is what was said), "wrong" (anything
else was acted on, even beside the right thing), "asked again" (nothing was acted on). Causes:

    not-heard         no utterance was found in the clip's time
    masked            no utterance was found, and the ear said that the noise masks speech
    cut               the clip was cut into several utterances, none of them accepted
    no-words          the engine found no words
    no-phrase         its words are no phrase that is admitted
    misheard-refused, REASON   the words of another phrase, refused for their confidence, ...
    right-refused, REASON      the right words, refused
    confused          the words of another phrase, acted on

Outcomes of unrelated speech and noise: "rejected" or "false accept".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from assistant.hearing.ear import Heard
from assistant.language.intent import Cost, Intent
from assistant.trial.manifest import Row
from assistant.trial.sound import Condition

CORRECT = "correct"
ASKED = "asked again"
WRONG = "wrong"
_REASONS: Final = {
    "confidence": "confidence",
    "agreement": "agreement",
    "over the room": "level",
    "usual level": "far off",
    "masks": "noise",
}
"""What stands in an ear's `why`, in the order of its looking, and a word for it."""

REJECTED = "rejected"
FALSE = "false accept"


@dataclass(frozen=True, slots=True)
class Decision:
    """One utterance that was heard.

    Attributes:
        heard: what the listener made of it.
        at_s: when it was decided, from the beginning of the clip, by the bench's clock.
        cost: cost class of its intent, None when it has none.
        late: whether it was still going on when nobody would have waited longer
            (`session.LATE_S` after the last voiced sound).
    """

    heard: Heard
    at_s: float
    cost: Cost | None = None
    late: bool = False


@dataclass(frozen=True, slots=True)
class Result:
    """One clip under one condition.

    Attributes:
        row, condition: which.
        outcome, cause: see above; no cause where all is well.
        text, why, confidence, evidence, heard_snr_db: of the utterance that decided it.
        utterances: how many there were.
        latency_s: last voiced sound to decision, for what was acted on.
        accepted: cost classes of everything that was acted on.
        seconds: length of the clip.
        late: whether an utterance had not come to its end in time.
        noise_clip: name of the noise file that was mixed in, "" for none.
    """

    row: Row
    condition: Condition
    outcome: str
    cause: str = ""
    text: str = ""
    why: str = ""
    confidence: float = 0.0
    evidence: Mapping[str, float] = field(default_factory=dict)
    heard_snr_db: float | None = None
    utterances: int = 0
    latency_s: float | None = None
    accepted: tuple[Cost, ...] = ()
    seconds: float = 0.0
    late: bool = False
    noise_clip: str = ""

    def as_json(self) -> dict[str, Any]:
        """One object, for a file with a line a clip."""
        return {
            "file": str(self.row.file),
            "kind": self.row.kind,
            "speaker": self.row.speaker,
            "transcript": self.row.transcript,
            "noise": self.condition.noise,
            "snr_db": self.condition.snr_db,
            "outcome": self.outcome,
            "cause": self.cause,
            "text": self.text,
            "why": self.why,
            "confidence": self.confidence,
            "evidence": dict(self.evidence),
            "heard_snr_db": self.heard_snr_db,
            "utterances": self.utterances,
            "latency_s": self.latency_s,
            "accepted": [str(cost) for cost in self.accepted],
            "seconds": self.seconds,
            "late": self.late,
            "noise_clip": self.noise_clip,
        }


def score(  # noqa: PLR0913 - a clip, what was said in it, what was heard, and when
    row: Row,
    condition: Condition,
    meant: Intent | None,
    decisions: Sequence[Decision],
    *,
    masked: bool,
    seconds: float,
    voiced_s: float,
) -> Result:
    """Judge what was heard of one clip.

    Args:
        row: the clip.
        condition: under which noise.
        meant: what its words mean; None for unrelated sound.
        decisions: the utterances, in order.
        masked: whether the listener said that noise masks speech.
        seconds: length of the clip.
        voiced_s: end of its last voiced sound.
    """
    acted = [each for each in decisions if each.heard.intent is not None]
    if meant is None:
        outcome, chosen = (FALSE, acted[0]) if acted else (REJECTED, _first(decisions))
    else:
        right = [each for each in acted if same(each.heard.intent, meant)]
        off = [each for each in acted if not same(each.heard.intent, meant)]
        outcome = WRONG if off else CORRECT if right else ASKED
        chosen = off[0] if off else right[0] if right else _first(decisions)
    heard = chosen.heard if chosen else None
    return Result(
        row,
        condition,
        outcome,
        _cause(outcome, meant, decisions, masked=masked),
        text=heard.text if heard else "",
        why=heard.why if heard else "",
        confidence=heard.confidence if heard else 0.0,
        evidence=dict(heard.evidence) if heard else {},
        heard_snr_db=heard.snr_db if heard else None,
        utterances=len(decisions),
        latency_s=chosen.at_s - voiced_s if chosen and acted else None,
        accepted=tuple(each.cost for each in acted if each.cost is not None),
        seconds=seconds,
        late=any(each.late for each in decisions),
    )


def same(heard: Intent | None, meant: Intent) -> bool:
    """Whether two intents ask for the same."""
    return heard is not None and (heard.name, heard.slots) == (meant.name, meant.slots)


def _first(decisions: Sequence[Decision]) -> Decision | None:
    return decisions[0] if decisions else None


def _cause(
    outcome: str, meant: Intent | None, decisions: Sequence[Decision], *, masked: bool
) -> str:
    if outcome == WRONG:
        return "confused"
    if outcome != ASKED or meant is None:
        return ""
    if not decisions:
        return "masked" if masked else "not-heard"
    return "cut" if len(decisions) > 1 else _refusal(decisions[0].heard, meant)


def _refusal(heard: Heard, meant: Intent) -> str:
    """Why the only utterance was not acted on."""
    if not heard.text:
        return "no-words"
    if heard.why == "no phrase":
        return "no-phrase"
    reason = next((name for sign, name in _REASONS.items() if sign in heard.why), heard.why)
    whose = "right" if heard.text == meant.phrase else "misheard"
    return f"{whose}-refused, {reason}"

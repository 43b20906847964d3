"""When what was said is over, sooner than a long silence would tell.

Only a whole phrase is ever decided early, at once where nothing admitted goes on from it. Between
the words of a read-back and its number, or the characters of a part number, people pause.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from assistant.hearing.acceptance import EngineBars, judge
from assistant.hearing.activity import Step
from assistant.hearing.engines import LONGEST_TALK_S, Engine, Recognized
from assistant.hearing.lines import Grammar
from assistant.hearing.source import RATE
from assistant.language.intent import Cost, Intent

_EARLY_S: Final = 0.25
"""Trailing silence that is enough after a whole phrase whatever the evidence, where it's cheap."""

_STABLE_FRAMES: Final = 6
_DEAR: Final = frozenset({Cost.READ_BACK, Cost.CONFIRMATION})
_CHEAP: Final = frozenset({Cost.QUESTION, Cost.CONTROL})

_SPELLED: Final = frozenset({Cost.READ_BACK, Cost.VALUE})
"""What holds numbers."""

_SURE: Final = 0.95
_SURE_S: Final = 0.06
"""Trailing silence that is enough where a mishearing is cheap and the engine as sure as that.

People's words, 185 of 73, clean and in machine noise 10 dB down, right and wrong, and audio alone
from the last voiced sample in ms (median): with the silences below 147 and 6, 190; 120 and 8, 272.
With this one too 147 and 6, 134; 120 and 8, 216. Without asking that it be so sure 147 and 6, 114;
120 and 10, 206. Every look at one voiceless frame: 148 and 7; 120 and 10.

With it, and with the whole heard at once where a look is in doubt, through the ear: 154 right and 6
wrong before, 155 and 7 after, and 92 and 6 before, 93 and 5 after 10 dB down; of 120 clips of other
speech 28 were taken for one of the words before and after. From the last voiced sample to the
decision 216 ms before, 182 after, and 278, 218 (95 %: 506, 482; 708, 459), at a load of 4 to 8:
`python -m tests.hearing.bench_latency`."""

_GLANCES_S: Final = (_SURE_S, 0.125, 0.25)
"""Trailing silence after which an engine that can is asked what it would be so far."""

_ENOUGH_S: Final = {
    Cost.QUESTION: 0.125,
    Cost.CONTROL: 0.125,
    Cost.VALUE: 0.125,
    Cost.CONFIRMATION: 0.16,
    Cost.READ_BACK: 0.25,
}
"""Trailing silence that is enough after such a phrase when the engine is sure of it already.

The gaps that people leave between turns of talk are about 0.2 s (Stivers et al., PNAS 106:10587,
2009); longer where a mishearing is dearer (common practice, no source)."""

_MORE_S: Final = 0.4
"""The same after a phrase that another one goes on from ("say again" and "say again slowly").
Numbers and part numbers, which people say with pauses, wait for the endpointer's long silence."""


@dataclass
class Utterance:
    """What is gathered of one utterance while it lasts."""

    began_s: float
    voiced_s: float
    clip: bytearray = field(default_factory=bytearray)
    too_long: bool = False
    partial: str = ""
    stable: int = 0
    glances: int = 0
    glance: Recognized | None = None
    whole: Recognized | None = None

    def goes_on(self, now_s: float) -> None:
        """A voice again: what was thought in the silence before is out of date."""
        self.voiced_s = now_s
        self.glances, self.glance, self.whole = 0, None, None


def sure_already(  # noqa: PLR0913, PLR0917 - the evidence and what it is held against
    engine: Engine,
    bars: EngineBars,
    grammar: Grammar,
    said: Utterance,
    step: Step,
    snr_db: Callable[[], float | None],
) -> Recognized | None:
    """What was said, when the engine is as sure of it as its cost wants after a short silence.

    What a glance takes for a phrase without being sure enough is heard as if it were over, unless a
    mishearing is dear. That ends the engine's hearing: `said.whole` keeps the result, and who goes
    on feeding must start it anew.
    """
    if said.whole is None:
        looks = sum(step.silence_s >= after_s for after_s in _GLANCES_S)
        if looks > said.glances and len(said.clip) <= LONGEST_TALK_S * RATE * 2:
            said.glances, said.glance = looks, engine.glance()
    glance = said.glance
    if glance is None or (said.whole is None and _enough(bars, grammar, glance, step, snr_db)):
        return glance
    if said.whole is None and _deserves_more(grammar, glance, step):
        said.whole = engine.finish()
    whole = said.whole
    if whole is None or _is_dear(grammar, whole) or not _enough(bars, grammar, whole, step, snr_db):
        return None
    return whole


def _meant(grammar: Grammar, found: Recognized) -> Intent | None:
    return grammar.match(found.text) if found.text else None


def _is_dear(grammar: Grammar, found: Recognized) -> bool:
    """Whether it is a phrase that a mere glance must have been sure of, or the long silence."""
    intent = _meant(grammar, found)
    return intent is not None and grammar.cost_of(intent.name) in _DEAR


def _enough(
    bars: EngineBars,
    grammar: Grammar,
    found: Recognized,
    step: Step,
    snr_db: Callable[[], float | None],
) -> bool:
    """Whether the silence is long enough after these words, and they would be accepted."""
    intent = _meant(grammar, found)
    if intent is None:
        return False
    cost = grammar.cost_of(intent.name)
    enough_s = _ENOUGH_S[cost]
    if not grammar.complete_only(found.text):
        if cost in _SPELLED:
            return False
        enough_s = _MORE_S
    elif cost in _CHEAP and found.confidence >= _SURE:
        enough_s = _SURE_S
    if step.silence_s < enough_s:
        return False
    return judge(bars, found, intent, cost, snr_db()).verdict == "accepted"


def _deserves_more(grammar: Grammar, glance: Recognized, step: Step) -> bool:
    """Whether it is a phrase, not dear to mishear, that would be over if it were sure."""
    intent = _meant(grammar, glance)
    if intent is None or not grammar.complete_only(glance.text):
        return False
    cost = grammar.cost_of(intent.name)
    return cost not in _DEAR and step.silence_s >= _ENOUGH_S[cost]


def whole_already(
    engine: Engine, grammar: Grammar, said: Utterance, step: Step, trailing_s: float
) -> bool:
    """Whether the words so far are a whole phrase, and have been for some time.

    A short silence is enough after them, or an ordinary one where a mishearing is dear.
    """
    partial = engine.partial() if said.whole is None else said.whole.text
    said.stable = said.stable + 1 if partial == said.partial else 0
    said.partial = partial
    if step.silence_s < _EARLY_S or said.stable < _STABLE_FRAMES:
        return False
    intent = grammar.match(partial)
    if intent is None or not grammar.complete_only(partial):
        return False
    dear = grammar.cost_of(intent.name) in _DEAR
    return not dear or step.silence_s >= trailing_s

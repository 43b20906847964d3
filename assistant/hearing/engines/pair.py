"""Two recognisers that fail differently, side by side: PocketSphinx and a Vosk model.

Both hear the same sound. The likeliest admitted phrase of either may be believed; what counts is
how far it leads everything else that the Vosk model could have heard, and whether PocketSphinx,
which must choose a phrase, chose the same. The weights of that evidence (`data/acceptance.yaml`,
"pair") were fitted by `assistant.acoustics.fit_pair`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from assistant.hearing.acceptance import Weights, shipped_bars
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.opinion import Meaning, Texts, evidence_of, first_meant
from assistant.hearing.engines.pocketsphinx_engine import FLOOR_DB, WAYS, PocketSphinxEngine
from assistant.hearing.engines.vosk_engine import ALTERNATIVES, PACES, VoskEngine
from assistant.hearing.lines import Grammar
from assistant.language.intent import Cost

NAME: Final = "pair"
OWN_WORDS: Final = "shop.dict"
"""In the folder of a model that was built for a shop: its words and how they are said."""

_DOUBT: Final = 0.5
"""Under this the pair has not understood."""


class Heard(NamedTuple):
    """What the two made of the same sound.

    Attributes:
        texts: of the Vosk model.
        others: the same at other paces; none before the utterance is over.
        choice: PocketSphinx's phrase, "" for none.
    """

    texts: Texts
    others: Sequence[Texts]
    choice: str


class PairEngine:
    """PocketSphinx and a Vosk model on the same sound.

    Args:
        folder: of the Vosk model.
        paces: at which the Vosk model hears a whole utterance again; none leaves it at one hearing,
            weighed like an early look.
        alternatives: most texts that are asked of the Vosk model.
        floor_db: noise under the sound that PocketSphinx hears, in dB under the speech.

    Raises:
        EngineUnavailable: either can't be loaded.
    """

    name = NAME

    def __init__(
        self,
        folder: Path,
        paces: Sequence[float] = PACES,
        *,
        alternatives: int = ALTERNATIVES,
        floor_db: float = FLOOR_DB,
    ) -> None:
        self.folder = folder
        self._ours = VoskEngine(
            folder, paces, alternatives=alternatives, streaming=False, all_words=False
        )
        self._other = PocketSphinxEngine([(1.0, floor_db), *WAYS[1:]])
        self._other.learn(own_words(folder))
        self.model = f"{self._ours.model} beside {self._other.model}"
        self._bars = shipped_bars()[NAME]
        self._weights = self._bars.weights if paces else self._bars.early
        self._beside = ThreadPoolExecutor(1, thread_name_prefix="second recogniser")

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Words that PocketSphinx lacks: what the Vosk model lacks is heard by it alone."""
        return self._other.unknown_words(words)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next utterance on.

        Raises:
            UnknownWords: a phrase holds a word that PocketSphinx doesn't know.
            EngineUnavailable: PocketSphinx refuses the grammar.
        """
        self._ours.use(grammar)
        self._other.use(grammar)

    def forget(self) -> None:
        """What comes next comes from elsewhere: drop what was learned of the sound so far."""
        self._ours.forget()
        self._other.forget()

    def start(self) -> None:
        """An utterance begins."""
        self._ours.start()
        self._other.start()

    def feed(self, pcm: bytes) -> None:
        """Both take more of the utterance."""
        self._ours.feed(pcm)
        self._other.feed(pcm)

    def partial(self) -> str:
        """PocketSphinx's path so far: the Vosk model looks a third of a second ahead."""
        return self._other.partial()

    def glance(self) -> Recognized:
        """What the utterance would be if it ended now, without a second look by either."""
        return self._joined(self.heard_so_far(), self._bars.early)

    def finish(self) -> Recognized:
        """Both hear the whole again, at the same time; their evidence is weighed together.

        A phrase with a word that the Vosk model doesn't know is PocketSphinx's alone to hear.
        """
        heard = self.heard()
        found = self._joined(heard, self._weights)
        if found.confidence < _DOUBT and self._ours.unknown_words(heard.choice.split()):
            alone = self._other.finish()
            return replace(alone, confidence=self._as_sure(alone.confidence))
        return found

    def _as_sure(self, confidence: float) -> float:
        """What passes each bar of PocketSphinx alone passes the same bar here, and no other."""
        costs = list(Cost)
        theirs = [0.0, *(self._other.bars.bars[cost].confidence for cost in costs), 1.0]
        ours = [0.0, *(self._bars.bars[cost].confidence for cost in costs), 1.0]
        return float(np.interp(confidence, theirs, ours))

    def heard_so_far(self) -> Heard:
        """What both have of an utterance that goes on."""
        return Heard(self._ours.texts(), (), self._other.partial())

    def heard(self) -> Heard:
        """What both make of the whole; the utterance is over."""
        waiting = self._beside.submit(self._other.once)
        texts, others = self._ours.texts(), self._ours.texts_at_other_paces()
        choice = waiting.result()
        return Heard(texts, others, choice.text)

    def _joined(self, heard: Heard, weights: Weights) -> Recognized:
        return joined(self._ours.meaning, heard, weights, self._ours.respelled)


def own_words(folder: Path) -> Mapping[str, tuple[str, ...]]:
    """The words that a shop's model was built with, and how they are said in ARPABET."""
    path = folder / OWN_WORDS
    if not path.is_file():
        return {}
    found: dict[str, tuple[str, ...]] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        word, _, phones = line.strip().partition(" ")
        if phones:
            name = word.partition("(")[0]  # "word(2)" is the second way to say it
            found[name] = (*found.get(name, ()), phones.strip())
    return found


def candidates(meaning: Meaning, heard: Heard) -> Mapping[object, tuple[str, Mapping[str, float]]]:
    """The meanings that either heard, each with its text and the evidence for it.

    Evidence: that of the Vosk model's texts (`opinion.evidence_of`), and same: 1 when PocketSphinx
    chose the meaning.
    """
    text, means = first_meant(heard.texts, meaning)
    chosen = meaning(heard.choice)
    found: dict[object, tuple[str, Mapping[str, float]]] = {}
    for said, each in ((text, means), (heard.choice, chosen)):
        if each is not None and each not in found:
            known = evidence_of(heard.texts, heard.others, meaning, said)
            found[each] = said, known | {"same": float(chosen == each)}
    return found


def joined(
    meaning: Meaning, heard: Heard, weights: Weights, respelled: Callable[[str], str]
) -> Recognized:
    """One result out of two: the likelier candidate; nothing when neither is a phrase.

    Args:
        meaning: what a text means, None when it is no phrase.
        heard: what the two made of the sound.
        weights: of the evidence that `candidates` gives.
        respelled: how the phrase that sounds so is written.
    """
    best = Recognized("", 0.0)
    for text, evidence in candidates(meaning, heard).values():
        likely = weights.confidence(evidence)
        if likely > best.confidence:
            best = Recognized(respelled(text), likely, evidence)
    return best

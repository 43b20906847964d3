"""PocketSphinx with the American English model that lies inside its wheel.

A strict grammar makes this recogniser choose one of its phrases whatever was said, and its own
confidence does not tell right from wrong. So an utterance is decoded as it comes in, to know when
it is complete, and then several times as a whole, at a little other pace and over a little noise;
and once more against a loop of phones. What is right is heard the same way each time and fits
about as well as free phones do; `acceptance` weighs that.
"""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from assistant.errors import EngineUnavailable, UnknownWords
from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.dictionary import Dictionary
from assistant.hearing.engines.fit import Decoding, decode, evidence
from assistant.hearing.engines.phrases import unheard_phrases
from assistant.hearing.engines.variation import stretched, with_floor
from assistant.hearing.lines import Grammar
from assistant.hearing.source import RATE

FLOOR_DB: Final = 27.0
"""Noise floor of most decodings, under the speech."""

WAYS: Final = ((1.0, FLOOR_DB), (1.0, 20.0), (0.95, FLOOR_DB), (1.06, FLOOR_DB))
"""Pace and noise floor of each decoding, in dB under the speech.

Measured on 100 clips in a quiet room, 40 of them eSpeak NG's: without a floor 24 of its 40 and 55
of the other 60 were right, with one 27 dB down 34 and 57.
"""

FIRST_MEANS: Final = "49.58,0.50,-2.61,5.06,-4.62,-1.76,-0.13,-2.46,-1.98,-0.06,-0.07,-0.04,-0.57"
"""Cepstral means before anything has been heard; each utterance then moves them, for all that come.

The mean of what they come to with the four tuning voices. The model's own (40, 3, -1, 0, ...) fit
no voice here: of 57 first commands of held-out voices 33 had the right words with them and 14 were
accepted; with these 56 and 38, and once a voice has been heard for some time 54 and 44: `python -m
tests.hearing.bench_channel`."""

_DICTIONARY: Final = "en-us/cmudict-en-us.dict"

_ROOM_S: Final = 15
"""Longer than any utterance: the ear ends them after 12 s."""

_ROOM_WORD: Final = "no"
"""Any word will do."""

_KEPT_GRAMMARS: Final = 2
"""A step's takes 6 to 16 MB, and 0.02 to 0.06 s to make again before it is listened for."""


class PocketSphinxEngine:
    """A strict grammar on PocketSphinx's own model; English only.

    Args:
        ways: pace and noise floor (dB under the speech) of each decoding of a whole utterance.

    Raises:
        EngineUnavailable: the package or its model can't be loaded.
    """

    name = "pocketsphinx"

    def __init__(self, ways: Sequence[tuple[float, float]] = WAYS) -> None:
        self._ways = tuple(ways)
        try:
            import pocketsphinx  # noqa: PLC0415 - loads a native library, only when chosen
        except ImportError as problem:
            raise EngineUnavailable(
                "pocketsphinx can't be loaded; install it with: pip install pocketsphinx"
            ) from problem
        self.model = f"en-us in pocketsphinx {_version('pocketsphinx')}"
        try:
            # Without the second, word-lattice pass: it costs three times the time and, with a
            # strict grammar in noise, made more mistakes (44 of 60 right without, 32 with it).
            self._decoder = pocketsphinx.Decoder(
                lm=None, dict=None, bestpath=False, loglevel="FATAL"
            )
            self._dictionary = Dictionary(Path(pocketsphinx.get_model_path(), _DICTIONARY))
            self.unknown_words([_ROOM_WORD])
            _make_room(self._decoder)
            self._decoder.set_cmn(FIRST_MEANS)
        except (RuntimeError, ValueError, KeyError) as problem:
            raise EngineUnavailable(f"pocketsphinx can't load its model: {problem}") from problem
        self._searches: OrderedDict[str, str] = OrderedDict()
        self.bars = shipped_bars()[self.name]
        self._made = 0
        self._grammar: Grammar | None = None
        self._heard = bytearray()
        self._going = False

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Words missing from the pronouncing dictionary."""
        asked = set(words)
        for entry, phones in self._dictionary.new(asked):
            if self._decoder.lookup_word(entry) is None:
                self._decoder.add_word(entry, phones, update=False)
        return frozenset(word for word in asked if self._decoder.lookup_word(word) is None)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next utterance on; compiled ones are kept.

        Raises:
            UnknownWords: a phrase holds a word that has no pronunciation.
            EngineUnavailable: the grammar is not one of American English, or isn't JSGF.
        """
        if not grammar.language.startswith("en"):
            raise EngineUnavailable(
                f"pocketsphinx hears English only, not {grammar.language!r}; use a Vosk model"
            )
        self._end()  # an utterance that was decided before its end is still open
        text = grammar.jsgf()
        name = self._searches.get(text)
        if name is None:
            name = self._compile(grammar, text)
        self._searches.move_to_end(text)
        self._decoder.activate_search(name)
        self._grammar = grammar

    def _compile(self, grammar: Grammar, text: str) -> str:
        self.learn(grammar.pronunciations)
        if unheard := unheard_phrases(grammar, self.unknown_words):
            raise UnknownWords(self.name, unheard)
        if len(self._searches) >= _KEPT_GRAMMARS:  # before another is made: both take memory
            _, oldest = self._searches.popitem(last=False)
            self._decoder.remove_search(oldest)
        self._made += 1
        name = f"grammar{self._made}"
        try:
            self._decoder.add_jsgf_string(name, text)
        except (ValueError, RuntimeError) as problem:
            raise EngineUnavailable(f"pocketsphinx refuses the grammar: {problem}") from problem
        self._searches[text] = name
        return name

    def forget(self) -> None:
        """What comes next comes from elsewhere: drop what was learned of the sound so far."""
        self._end()
        decoders = [self._decoder, *([self._phones] if "_phones" in self.__dict__ else [])]
        for decoder in decoders:
            decoder.reinit_feat()
            decoder.set_cmn(FIRST_MEANS)

    def learn(self, pronunciations: Mapping[str, tuple[str, ...]]) -> None:
        """Add pronunciations in ARPABET for words that the dictionary lacks."""
        for word in self.unknown_words(pronunciations):
            ways = pronunciations[word]
            for number, phones in enumerate(ways, start=1):
                entry = word if number == 1 else f"{word}({number})"
                self._decoder.add_word(entry, phones, update=False)

    def start(self) -> None:
        """An utterance begins."""
        self._end()
        self._heard = bytearray()
        self._decoder.start_utt()
        self._going = True

    def feed(self, pcm: bytes) -> None:
        """Decode more of the utterance."""
        self._heard += pcm
        self._decoder.process_raw(pcm, no_search=False, full_utt=False)

    def partial(self) -> str:
        """The best path so far, complete or not."""
        return _words(self._decoder.hyp())

    def glance(self) -> None:
        """Nothing to go by before the whole has been decoded in several ways."""

    def once(self) -> Decoding:
        """The utterance is over: decode the whole in the first way only."""
        self._end()
        pace, floor = self._ways[0]
        return decode(self._decoder, with_floor(stretched(bytes(self._heard), pace), floor, 0))

    def finish(self) -> Recognized:
        """Decode the whole again in several ways and weigh how well they agree."""
        self._end()
        pcm = bytes(self._heard)
        passes = [
            decode(self._decoder, with_floor(stretched(pcm, pace), floor, seed))
            for seed, (pace, floor) in enumerate(self._ways)
        ]
        texts = [each.text for each in passes]
        text = _most_heard(texts, self._meaning)
        if not text:
            return Recognized("", 0.0)
        meant = self._meaning(text)
        agreement = sum(self._meaning(each) == meant for each in texts) / len(texts)
        best = next((each for each in passes if self._meaning(each.text) == meant), passes[0])
        found = evidence(best, decode(self._phones, best.pcm), self._pronounce)
        details = {"agreement": agreement, **found}
        return Recognized(text, self.bars.weights.confidence(details), details)

    def _end(self) -> None:
        if self._going:
            self._decoder.end_utt()
            self._going = False

    @cached_property
    def _phones(self) -> Any:  # noqa: ANN401 - ships no types
        """The loop of phones; 5 MB that only what hears by PocketSphinx alone needs."""
        import pocketsphinx  # noqa: PLC0415 - as above

        made = pocketsphinx.Decoder(lm=None, dict=None, loglevel="FATAL")
        refused = made.add_allphone_file("phones")  # returns errors, see facts
        if refused is not None:
            raise EngineUnavailable(f"pocketsphinx can't loop over phones: {refused}") from refused
        made.activate_search("phones")
        made.set_cmn(FIRST_MEANS)
        return made

    def _pronounce(self, word: str) -> list[str]:
        """The phones of a word; "and(2)" is the second way to say "and"."""
        found = self._decoder.lookup_word(word) or self._decoder.lookup_word(
            word.split("(", maxsplit=1)[0]
        )
        return str(found or "").split()

    def _meaning(self, text: str) -> object:
        """What two texts must share to count as the same: "volt" and "volts" do."""
        intent = self._grammar.match(text) if self._grammar and text else None
        return (intent.name, intent.slots) if intent else text


def _make_room(decoder: Any) -> None:  # noqa: ANN401 - ships no types
    """Let a decoder make its buffers long enough for every utterance that will be followed.

    They grow with what is decoded as a whole only. An utterance that is followed while it lasts and
    is longer than all those goes round in them; now and then, where its frames and its features
    come to their ends together, the library then reads beyond one and the program dies.
    """
    decoder.add_jsgf_string("room", f"#JSGF V1.0; grammar room; public <room> = {_ROOM_WORD};")
    decoder.activate_search("room")
    decoder.start_utt()
    decoder.process_raw(bytes(2 * _ROOM_S * RATE), no_search=False, full_utt=True)
    decoder.end_utt()


def _most_heard(texts: list[str], meaning: Callable[[str], object]) -> str:
    """The text whose meaning most decodings share; on a tie the first such."""
    counts = Counter(meaning(text) for text in texts if text)
    if not counts:
        return ""
    most = max(counts.values())
    return next(text for text in texts if text and counts[meaning(text)] == most)


def _words(hypothesis: Any) -> str:  # noqa: ANN401 - ships no types
    return "" if hypothesis is None else str(hypothesis.hypstr or "").strip()


def _version(package: str) -> str:
    from importlib.metadata import version  # noqa: PLC0415 - asked once, when the engine loads

    return version(package)

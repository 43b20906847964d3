"""An engine's result joined with a person's takes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.acceptance import Weight, Weights
from assistant.hearing.engines import Recognized
from assistant.hearing.enrollment.engine import EnrolledEngine, evidence_of, joined
from assistant.hearing.enrollment.evidence import FARTHEST, Nearness, enrolled
from assistant.hearing.enrollment.spectrum import take_of
from assistant.hearing.enrollment.weights import shipped_weights
from assistant.hearing.noise import from_pcm
from assistant.hearing.source import read_audio
from assistant.language.grammar import build_grammar
from assistant.packaged import phrasebook
from tests.hearing.clips import FIXTURES
from tests.hearing.fakes import Parrot

WEIGHTS = Weights(
    bias=-2.0,
    weights={
        "chosen": Weight(factor=1.0, low=0, high=1),
        "odds": Weight(factor=1.0, low=-6, high=6),
        "lead": Weight(factor=2.0, low=-FARTHEST, high=FARTHEST),
        "fit": Weight(factor=-1.0, low=0, high=FARTHEST),
    },
)
BOOK = phrasebook("en")
GRAMMAR = build_grammar(
    BOOK, ["step_done", "stand_by", "affirm", "reading"], {"unit": {"N·m": ("newton meters",)}}
)
CLEAR = (Nearness("stand by", 0.8, 3.0), Nearness("affirm", 3.0, -3.0))


def test_agreement_makes_surer() -> None:
    """The same phrase from both is believed more than from the engine."""
    found = joined(GRAMMAR, Recognized("stand by", 0.7), CLEAR, WEIGHTS)
    assert found.text == "stand by"
    assert found.confidence > 0.9


def test_a_clear_phrase_is_rescued() -> None:
    """What the engine made nothing of is the nearest phrase, when that leads clearly."""
    found = joined(GRAMMAR, Recognized("", 0.0), CLEAR, WEIGHTS)
    assert found.text == "stand by"
    assert found.confidence > 0.9


def test_what_is_far_from_all_takes_is_no_command() -> None:
    """Unrelated speech is not rescued."""
    far = (Nearness("stand by", FARTHEST, 0.1), Nearness("affirm", FARTHEST, -0.1))
    assert joined(GRAMMAR, Recognized("", 0.0), far, WEIGHTS).confidence < 0.1


def test_a_contradiction_makes_unsure() -> None:
    """The engine's phrase is not believed when another's takes are clearly nearer."""
    found = joined(GRAMMAR, Recognized("step complete", 0.9), CLEAR, WEIGHTS)
    assert (found.text, found.confidence < 0.1) == ("step complete", True)
    even = (Nearness("stand by", 1.0, 0.2), Nearness("affirm", 1.2, -0.2))
    assert joined(GRAMMAR, Recognized("affirm", 0.9), even, WEIGHTS).confidence < 0.9


def test_a_phrase_without_takes_stays_the_engines() -> None:
    """With half the phrases enrolled the others are heard as before."""
    found = Recognized("step complete", 0.9)
    poor = (Nearness("stand by", 2.5, 0.3), Nearness("affirm", 3.0, -0.3))
    assert joined(GRAMMAR, found, poor, WEIGHTS) == found
    assert joined(GRAMMAR, found, (), WEIGHTS) == found


@given(st.floats(0, 1), st.floats(0, FARTHEST), st.floats(-FARTHEST, FARTHEST))
def test_takes_have_no_say_in_figures(confidence: float, fit: float, lead: float) -> None:
    """A reading is the engine's alone, whatever the takes say."""
    found = Recognized("reading two two newton meters", confidence)
    assert joined(GRAMMAR, found, (Nearness("affirm", fit, lead),), WEIGHTS) == found


@given(st.floats(0, 1), st.floats(-FARTHEST, FARTHEST), st.floats(0, 1))
def test_more_lead_is_never_less_sure(confidence: float, lead: float, more: float) -> None:
    """Confidence in a phrase grows with its lead."""
    low = evidence_of(confidence, Nearness("affirm", 1.0, lead))
    high = evidence_of(confidence, Nearness("affirm", 1.0, lead + more))
    assert WEIGHTS.confidence(high) >= WEIGHTS.confidence(low)


def test_a_take_heard_again_is_rescued_and_noise_is_not() -> None:
    """The wrapper keeps the utterance's sound and compares it with what may be said now."""
    voice = FIXTURES / "en" / "flite-rms"
    pcm = {p: read_audio(voice / f"{p.replace(' ', '-')}.flac") for p in ("stand by", "affirm")}
    sounds = {phrase: from_pcm(each) for phrase, each in pcm.items()}
    phrases = enrolled({p: [(take_of(s), s), (take_of(s), s)] for p, s in sounds.items()})
    parrot = Parrot([Recognized("", 0.0), Recognized("", 0.0)])
    engine = EnrolledEngine(parrot, phrases, WEIGHTS)
    engine.use(GRAMMAR)
    engine.start()
    engine.feed(pcm["affirm"])
    assert engine.finish().text == "affirm"
    engine.now_for(())
    engine.use(GRAMMAR)
    engine.start()
    engine.feed(pcm["affirm"])
    assert engine.finish() == Recognized("", 0.0)
    assert parrot.heard == [pcm["affirm"]] * 2


def test_each_engine_has_fitted_weights() -> None:
    """The wrapper works with every engine; more lead and a better fit speak for a phrase."""
    for name in ("pocketsphinx", "vosk", "pair"):
        weights = shipped_weights(name)
        assert weights.weights["lead"].factor > 0 > weights.weights["fit"].factor

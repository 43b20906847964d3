"""An engine's result joined with a person's takes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.acceptance import Weight, Weights, shipped_bars
from assistant.hearing.engines import TAKES, Recognized
from assistant.hearing.enrollment.engine import EnrolledEngine, joined
from assistant.hearing.enrollment.evidence import FARTHEST, Nearness, enrolled
from assistant.hearing.enrollment.spectrum import take_of
from assistant.hearing.enrollment.weights import Fitted, has_weights, shipped_weights
from assistant.hearing.noise import from_pcm
from assistant.hearing.source import read_audio
from assistant.language.grammar import build_grammar
from assistant.language.intent import Cost
from assistant.packaged import phrasebook
from tests.hearing.clips import FIXTURES
from tests.hearing.fakes import Parrot

FITTED = Fitted(
    origin="for this test",
    least=0.5,
    weights=Weights(
        bias=0.0,
        weights={
            "odds": Weight(factor=1.0, low=-6, high=6),
            "lead": Weight(factor=2.0, low=-FARTHEST, high=FARTHEST),
            "fit": Weight(factor=-0.5, low=0, high=FARTHEST),
        },
    ),
)
BOOK = phrasebook("en")
GRAMMAR = build_grammar(
    BOOK, ["step_done", "stand_by", "affirm", "reading"], {"unit": {"N·m": ("newton meters",)}}
)
CLEAR = (Nearness("stand by", 0.8, 3.0), Nearness("affirm", 3.0, -3.0))


def test_agreement_makes_surer() -> None:
    """What the engine was not sure enough of is believed when its takes are clearly the nearest."""
    found = joined(GRAMMAR, Recognized("stand by", 0.6, {"margin": 2.0}), CLEAR, FITTED)
    assert found.text == "stand by"
    assert found.confidence > 0.9
    assert found.details["margin"] == 2.0
    assert TAKES in found.details


def test_agreement_never_makes_less_sure() -> None:
    """Takes that are the nearest, however badly they fit, take nothing from the engine."""
    poor = (Nearness("stand by", FARTHEST, 0.0),)
    assert joined(GRAMMAR, Recognized("stand by", 0.95), poor, FITTED).confidence == 0.95


def test_nothing_heard_stays_nothing() -> None:
    """However clearly takes fit: where the engine has no phrase there is no command."""
    assert joined(GRAMMAR, Recognized("", 0.0), CLEAR, FITTED) == Recognized("", 0.0)


@given(st.floats(0, 0.499), st.floats(0, FARTHEST), st.floats(-FARTHEST, FARTHEST))
def test_what_the_engine_hardly_believes_is_never_made_surer(
    confidence: float, fit: float, lead: float
) -> None:
    """Unrelated speech for which the engine has a candidate by force gains nothing by takes."""
    near = (Nearness("stand by", fit, lead),)
    found = Recognized("stand by", confidence)
    assert joined(GRAMMAR, found, near, FITTED) == found


@given(st.floats(0, 1), st.floats(0, FARTHEST), st.floats(-FARTHEST, FARTHEST))
def test_the_text_is_always_the_engines(confidence: float, fit: float, lead: float) -> None:
    """Takes never turn what was heard into another phrase."""
    near = (Nearness("stand by", fit, lead), Nearness("affirm", fit, -lead))
    assert joined(GRAMMAR, Recognized("affirm", confidence), near, FITTED).text == "affirm"


def test_a_contradiction_makes_unsure() -> None:
    """The engine's phrase is asked again when another's takes are clearly nearer."""
    assert joined(GRAMMAR, Recognized("affirm", 0.95), CLEAR, FITTED).confidence < 0.1
    even = (Nearness("stand by", 1.0, 0.1), Nearness("affirm", 1.1, -0.1))
    assert 0.9 < joined(GRAMMAR, Recognized("affirm", 0.99), even, FITTED).confidence < 0.99


def test_a_phrase_without_takes_stays_the_engines() -> None:
    """With half the phrases enrolled the others are heard as before."""
    found = Recognized("step complete", 0.9)
    assert joined(GRAMMAR, found, CLEAR, FITTED) == found
    assert joined(GRAMMAR, found, (), FITTED) == found


@given(st.floats(0, 1), st.floats(0, FARTHEST), st.floats(-FARTHEST, FARTHEST))
def test_takes_have_no_say_in_figures(confidence: float, fit: float, lead: float) -> None:
    """A reading is the engine's alone, whatever the takes say."""
    found = Recognized("reading two two newton meters", confidence)
    assert joined(GRAMMAR, found, (Nearness("affirm", fit, lead),), FITTED) == found


@given(st.floats(0, 1), st.floats(-FARTHEST, FARTHEST), st.floats(0, 1))
def test_more_lead_is_never_less_sure(confidence: float, lead: float, more: float) -> None:
    """Confidence in a phrase grows with its lead, by the shipped weights too."""
    found = Recognized("affirm", confidence)
    for fitted in (FITTED, shipped_weights("pair")):
        low = joined(GRAMMAR, found, (Nearness("affirm", 1.0, lead),), fitted)
        high = joined(GRAMMAR, found, (Nearness("affirm", 1.0, lead + more),), fitted)
        assert high.confidence >= low.confidence


def test_the_wrapper_weighs_the_utterances_own_sound() -> None:
    """A take heard again makes surer, another phrase's sound less sure; nobody's nothing."""
    voice = FIXTURES / "en" / "flite-rms"
    pcm = {p: read_audio(voice / f"{p.replace(' ', '-')}.flac") for p in ("stand by", "affirm")}
    sounds = {phrase: from_pcm(each) for phrase, each in pcm.items()}
    phrases = enrolled({p: [(take_of(s), s), (take_of(s), s)] for p, s in sounds.items()})
    heard = Recognized("affirm", 0.7)
    parrot = Parrot([heard] * 3, glance=heard)
    engine = EnrolledEngine(parrot, phrases, FITTED)
    engine.use(GRAMMAR)
    sure = []
    for said in ("affirm", "stand by"):
        engine.start()
        engine.feed(pcm[said])
        assert engine.glance() == heard  # the engine's own until it is over
        sure.append(engine.finish().confidence)
    assert sure[0] > 0.9
    assert sure[1] < 0.3
    engine.now_for(())
    engine.use(GRAMMAR)
    engine.start()
    engine.feed(pcm["affirm"])
    assert engine.finish() == heard
    assert parrot.heard == [pcm["affirm"], pcm["stand by"], pcm["affirm"]]


def test_takes_make_nothing_of_what_the_engine_would_not_act_on() -> None:
    """Agreement begins where the engine alone would already have answered a question."""
    assert shipped_weights("pair").least >= shipped_bars()["pair"].bars[Cost.QUESTION].confidence


def test_only_an_engine_with_fitted_weights_has_takes_beside_it() -> None:
    """The default engine has; more lead and a better fit speak for a phrase."""
    assert has_weights("pair")
    assert not has_weights("keys")
    weights = shipped_weights("pair").weights.weights
    assert weights["lead"].factor > 0 > weights["fit"].factor

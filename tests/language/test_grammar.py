"""What may be said in a state: matching, and the forms that engines read."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pocketsphinx import Decoder

from assistant.errors import BadInput
from assistant.language.expression import words_of
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Cost
from assistant.language.numbers import load_numbers
from assistant.language.phrasebook import Phrasebook, load_phrasebook
from tests.language.conftest import shipped
from tests.language.spoken import FILLERS, jsgf_as_pattern, phrases_of, srgs_as_pattern

BOOK = load_phrasebook(*shipped("en/phrasebook.yaml"), load_numbers(*shipped("en/numbers.yaml")))
KOREAN = load_phrasebook(*shipped("ko/phrasebook.yaml"), load_numbers(*shipped("ko/numbers.yaml")))
EVERYTHING = build_grammar(BOOK, BOOK.intents, FILLERS)
ANY_PHRASE = st.one_of(*(phrases_of(pattern.expression) for pattern in EVERYTHING.patterns))
ALL_WORDS = sorted(EVERYTHING.words())


@pytest.mark.parametrize(
    ("text", "name", "slots"),
    [
        ("step complete", "step_done", {}),
        ("Done and checked.", "step_done", {}),
        ("say again", "say_again", {}),
        ("say again slowly", "say_again_slowly", {}),
        ("reading one two point four volts", "reading", {"number": "12.4", "unit": "V"}),
        ("reading nine sixteenths inch", "reading", {"number": "9/16", "unit": "in"}),
        ("reading twenty-two newton-meters", "reading", {"number": "22", "unit": "N·m"}),
        ("reading one foot pound", "reading", {"number": "1", "unit": "lbf·ft"}),
        ("reading zero point three millimeters", "reading", {"number": "0.3", "unit": "mm"}),
        ("in foot pounds", "convert", {"torque_unit": "lbf·ft"}),
        ("start timer two minutes", "start_timer", {"number": "2"}),
        ("count twenty five", "name_count", {"cardinal": "25"}),
        ("cable ties", "name_part", {"part": "cable-tie"}),
        ("stripped thread", "trouble_kind", {"trouble": "stripped-thread"}),
        ("hand over to Tobin", "hand_over", {"name": "tobin"}),
        ("alfa one two dash X-ray niner", "part_number", {"characters": "A12X9"}),
        (
            "negative is off and clear seven three",
            "read_back",
            {"read_back": "battery-off", "challenge": "73"},
        ),
    ],
)
def test_what_is_understood(text: str, name: str, slots: dict[str, str]) -> None:
    """Exactly the phrases of the phrasebook, with canonical values."""
    intent = EVERYTHING.match(text)
    assert intent is not None
    assert (intent.name, dict(intent.slots)) == (name, slots)
    assert intent.phrase == " ".join(text.lower().replace("-", " ").replace(".", "").split())


@pytest.mark.parametrize(
    "text",
    [
        "",
        "step",
        "steps complete",
        "step complete please",
        "step complete step complete",
        "reading one two point four",
        "reading volts",
        "reading twelve four volts",
        "reading 12.4 volts",
        "count one hundred",
        "count zero",
        "negative is off and clear",
        "negative is off and clear seven",
        "negative is off and clear seven three one",
        "negative is off and clear seventy three",
        "negative is of and clear seven three",
        "hand over to ines",
        "in volts",
        "[unk] step complete",
    ],
)
def test_what_is_not_understood(text: str) -> None:
    """Nothing close to a phrase is taken for it; a challenge is two digits, one by one."""
    assert EVERYTHING.matches(text) == ()
    assert EVERYTHING.match(text) is None


def test_only_what_is_admitted_is_understood(book: Phrasebook) -> None:
    """A phrase of another state is nothing here."""
    grammar = build_grammar(book, ["affirm", "negative"])
    assert grammar.admitted == ("affirm", "negative")
    assert grammar.match("affirm") is not None
    assert grammar.match("step complete") is None
    assert grammar.words() == {"affirm", "negative"}
    assert grammar.cost_of("affirm") is Cost.CONFIRMATION
    with pytest.raises(KeyError):
        grammar.cost_of("step_done")


def test_words_with_two_meanings_are_not_guessed(book: Phrasebook) -> None:
    """Two names that sound the same are seen as two, and neither is taken."""
    fillers = {"name": {"tobin": ("tobin",), "toby": ("tobin", "toby")}}
    grammar = build_grammar(book, ["hand_over"], fillers)
    assert grammar.match("hand over to tobin") is None
    found = grammar.matches("hand over to tobin")
    assert [intent.get("name") for intent in found] == ["tobin", "toby"]
    assert grammar.match("hand over to toby") is not None


def test_fillers_stand_instead_of_the_table(book: Phrasebook) -> None:
    """A state may admit only the unit that it asks for."""
    grammar = build_grammar(book, ["reading"], {"unit": {"V": ("volts", "volt")}})
    assert grammar.match("reading twelve volts") is not None
    assert grammar.match("reading twelve millimeters") is None


@pytest.mark.parametrize(
    ("admitted", "fillers", "said"),
    [
        (["step_donne"], {}, "step_donne"),
        (["hand_over"], {}, "<name>"),
        (["hand_over"], {"name": {}}, "<name>"),
        (["hand_over"], {"name": {"r2": ("r 2",)}}, "r 2"),
        (["read_back"], {"read_back": {"x": ("",)}}, "read_back"),
    ],
)
def test_grammars_that_cannot_be_built(
    book: Phrasebook,
    admitted: list[str],
    fillers: dict[str, dict[str, tuple[str, ...]]],
    said: str,
) -> None:
    """An unknown intent or an empty slot is an error that names it."""
    with pytest.raises(BadInput, match=said):
        build_grammar(book, admitted, fillers)


@pytest.mark.parametrize(
    ("text", "complete"),
    [
        ("say again", False),
        ("say again slowly", True),
        ("step complete", True),
        ("step", False),
        ("negative", False),
        ("reading one two volts", True),
        ("reading one two inch", False),
        ("reading one two inches", True),
        ("count twenty", False),
        ("count twenty five", True),
        ("count five", True),
        ("negative is off and clear seven three", True),
        ("alfa one", False),
        ("nonsense", False),
        ("", False),
    ],
)
def test_when_a_phrase_can_be_acted_on_early(text: str, complete: bool) -> None:
    """Only a whole phrase that no other one continues is decided before silence."""
    assert EVERYTHING.complete_only(text) is complete


def test_beginnings_are_known() -> None:
    """Words that begin a phrase can be told from words that never will."""
    assert EVERYTHING.can_begin("reading one two")
    assert not EVERYTHING.can_begin("reading one two three four five")


@given(ANY_PHRASE)
@settings(deadline=None, max_examples=300)
def test_every_admitted_phrase_means_one_thing(words: tuple[str, ...]) -> None:
    """No phrase of the whole English phrasebook is ambiguous or lost."""
    text = " ".join(words)
    assert EVERYTHING.match(text) is not None
    assert EVERYTHING.can_begin(text)


JSGF = jsgf_as_pattern(EVERYTHING.jsgf())
XML = srgs_as_pattern(EVERYTHING.srgs())


@given(
    st.one_of(
        ANY_PHRASE,
        st.lists(st.sampled_from(ALL_WORDS), max_size=6).map(tuple),
        st.tuples(
            ANY_PHRASE,
            st.integers(0, 12),
            st.sampled_from(ALL_WORDS),
        ).map(lambda t: (*t[0][: t[1]], t[2], *t[0][t[1] + 1 :])),
    )
)
@settings(deadline=None, max_examples=300)
def test_all_forms_admit_the_same_words(words: tuple[str, ...]) -> None:
    """JSGF, SRGS and the matcher agree, also on phrases with one word wrong."""
    text = "".join(f"{word} " for word in words)
    understood = bool(EVERYTHING.matches(text))
    assert (JSGF.fullmatch(text) is not None) == understood
    assert (XML.fullmatch(text) is not None) == understood


def decoder_for(grammar: Grammar) -> Decoder:
    """A PocketSphinx decoder that knows the grammar's pronunciations."""
    decoder = Decoder(lm=None, loglevel="FATAL")
    for word, ways in grammar.pronunciations.items():
        for number, phones in enumerate(ways, 1):
            decoder.add_word(word if number == 1 else f"{word}({number})", phones, True)
    return decoder


def test_pocketsphinx_knows_every_word() -> None:
    """Each English word is in the wheel's dictionary or has a pronunciation in the data."""
    decoder = decoder_for(EVERYTHING)
    assert [word for word in ALL_WORDS if decoder.lookup_word(word) is None] == []


def test_pronunciations_are_needed_and_use_known_phones() -> None:
    """The phonebook lists only words that the dictionary lacks, in the dictionary's phones."""
    plain = Decoder(lm=None, loglevel="FATAL")
    phones = {phone for word in ALL_WORDS for phone in (plain.lookup_word(word) or "").split()}
    for word, ways in BOOK.pronunciations.items():
        assert plain.lookup_word(word) is None, word
        assert {phone for way in ways for phone in way.split()} <= phones


def test_pocketsphinx_accepts_the_whole_phrasebook() -> None:
    """The JSGF with every slot and filler compiles in the real decoder."""
    decoder = decoder_for(EVERYTHING)
    decoder.add_jsgf_string("everything", EVERYTHING.jsgf())
    decoder.activate_search("everything")
    assert decoder.current_search() == "everything"


@pytest.mark.parametrize("intent", sorted(BOOK.intents))
def test_pocketsphinx_accepts_each_intent_alone(intent: str) -> None:
    """A state may admit any one intent."""
    grammar = build_grammar(BOOK, [intent], FILLERS)
    decoder = decoder_for(grammar)
    decoder.add_jsgf_string("one", grammar.jsgf())


def test_the_srgs_is_in_the_namespace_of_the_recommendation() -> None:
    """Version, mode, root and language stand where SRGS 1.0 wants them; all references lead on."""
    root = ET.fromstring(EVERYTHING.srgs())  # noqa: S314 - our own output
    space = "{http://www.w3.org/2001/06/grammar}"
    assert root.tag == f"{space}grammar"
    assert root.attrib["version"] == "1.0"
    assert root.attrib["{http://www.w3.org/XML/1998/namespace}lang"] == "en"
    ids = [rule.get("id") for rule in root.findall(f"{space}rule")]
    assert root.get("root") in ids
    assert len(set(ids)) == len(ids)
    assert {ref.get("uri") for ref in root.iter(f"{space}ruleref")} <= {f"#{i}" for i in ids}


def test_the_list_for_vosk() -> None:
    """Fixed phrases stand whole, open ones by examples that can be said, and no word is missing."""
    phrases = EVERYTHING.vosk_phrases()
    assert {"step complete", "in foot pounds", "say again slowly"} <= {*phrases}
    assert "hand over two tobin" in phrases  # "to" and "two" sound the same: one spelling only
    assert all(EVERYTHING.matches(EVERYTHING.respelled(phrase)) for phrase in phrases)
    spelled = {word for phrase in phrases for word in EVERYTHING.respelled(phrase).split()}
    assert spelled == set(ALL_WORDS)
    assert len(set(phrases)) == len(phrases)


def test_what_sounds_the_same_is_spelled_as_the_phrase_wants_it() -> None:
    """A recognizer can't tell "to" from "two"; where they stand does."""
    assert EVERYTHING.respelled("hand over two tobin") == "hand over to tobin"
    assert EVERYTHING.respelled("reading to to volts") == "reading two two volts"
    assert EVERYTHING.respelled("neither two nor to") == "neither two nor to"


def test_every_pair_of_words_that_sound_the_same_is_named() -> None:
    """By the CMU Pronouncing Dictionary, which lies in PocketSphinx: no such word is forgotten."""
    decoder = decoder_for(EVERYTHING)
    said: dict[str, set[str]] = {}
    for word in ALL_WORDS:
        said.setdefault(str(decoder.lookup_word(word)), set()).add(word)
    alike = [words for words in said.values() if len(words) > 1]
    assert alike
    groups = [set(group) for group in BOOK.sounds_alike]
    assert [words for words in alike if not any(words <= group for group in groups)] == []


def test_words_by_phrase_name_where_a_word_stands() -> None:
    """An engine that lacks a word can name the phrase."""
    by_phrase = EVERYTHING.words_by_phrase()
    assert "juliett" in by_phrase["<characters>"]
    assert by_phrase["step complete"] == {"step", "complete"}


def test_korean_goes_the_same_way() -> None:
    """A second language needs data only."""
    fillers = {"read_back": {"battery-off": ("음극 분리 확인",)}}
    grammar = build_grammar(KOREAN, KOREAN.intents, fillers)
    said = grammar.match("측정 결과 이십 이 점 오 뉴턴 미터")
    assert said is not None
    assert dict(said.slots) == {"number": "22.5", "unit": "N·m"}
    back = grammar.match("음극 분리 확인 칠 삼")
    assert back is not None
    assert back.get("challenge") == "73"
    assert "작업 단계 완료" in grammar.vosk_phrases()
    jsgf = jsgf_as_pattern(grammar.jsgf())
    for pattern in grammar.patterns:
        assert set(words_of(pattern.expression)) <= grammar.words()
    assert jsgf.fullmatch("모두 정지 ")

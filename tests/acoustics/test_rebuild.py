"""A model with a shop's own words: they are heard, and what is wrong is told with its line."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from assistant import packaged
from assistant.acoustics.graph import tools_missing
from assistant.acoustics.rebuild import build_model, own_words
from assistant.cli.main import main
from assistant.engines import open_engine
from assistant.errors import BadFile, BadInput
from assistant.hearing.engines.pair import OWN_WORDS
from assistant.hearing.source import read_audio, room_tone
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.phrasebook import extend
from tests.real_parts import require

_PHRASES = """\
language: en
intents:
  what_torque:
    - how tight is the wozzle
pronunciations:
  wozzle: [W AA Z AH L]
  xqzkw: [Z AE K W UW]
"""
_SHOP = "roster:\n  mara: Mara\n  xq: Xqzkw\n  brenna: Brenna\n"

# As a synthesizer has to be told them; none of these voices was trained on.
_SAID = {
    "hand over to xqzkw": "hand over to zackwoo",
    "hand over to brenna": "hand over to brenna",
    "how tight is the wozzle": "how tight is the wozzle",
}
_VOICES = {
    "flite-rms": ("flite", "-voice", "rms", "-o", "{out}", "-t", "{text}"),
    "espeak-f2": ("espeak-ng", "-v", "en-us+f2", "-s", "150", "-w", "{out}", "{text}"),
}


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user's folder with a shop's file, a phrase file, and a model built from both."""
    require(not tools_missing(), tools_missing())
    folder = tmp_path_factory.mktemp("home")
    (folder / "shop.yaml").write_text(_SHOP, encoding="utf-8")
    (folder / "phrases.yaml").write_text(_PHRASES, encoding="utf-8")
    build_model("ours", folder / "models", [folder / "phrases.yaml"], folder)
    return folder


def _grammar() -> Grammar:
    book = extend(packaged.phrasebook("en"), _PHRASES, "phrases.yaml")
    names = {name: (name,) for name in ("mara", "ines", "tobin", "xqzkw", "brenna")}
    return build_grammar(book, ["hand_over", "disregard", "what_torque"], {"name": names})


def _spoken(voice: str, text: str, out: Path) -> bytes:
    require(shutil.which(_VOICES[voice][0]), f"{_VOICES[voice][0]} is not installed")
    command = [part.format(out=out, text=text) for part in _VOICES[voice]]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    return room_tone(4000) + read_audio(out) + room_tone(4000)


@pytest.mark.parametrize("engine", ["vosk", "pair"])
def test_own_words_become_hearable(
    home: Path, engine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plausible name, one that no dictionary has, and a new phrase, by two unseen voices."""
    monkeypatch.setenv("GLOVESON_HOME", str(home))
    heard = open_engine(f"{engine}:ours")
    heard.use(_grammar())
    for voice in _VOICES:
        for text, said in _SAID.items():
            heard.start()
            heard.feed(_spoken(voice, said, tmp_path / "said.wav"))
            assert heard.finish().text == text


def test_only_the_built_model_knows_them(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The shipped model lacks the made-up words; the built one has them and all it had before."""
    monkeypatch.setenv("GLOVESON_HOME", str(home))
    made = {"wozzle", "xqzkw"}
    assert open_engine("vosk:en-shop-1").unknown_words(made) == made
    words = (home / "models/ours/graph/words.txt").read_text("utf-8").splitlines()
    shipped = Path("assistant/hearing/data/models/en-shop-1/graph/words.txt")
    before = (Path(__file__).parents[2] / shipped).read_text("utf-8").splitlines()
    assert {line.split()[0] for line in before} <= {line.split()[0] for line in words}
    assert "xqzkw Z AE K W UW" in (home / "models/ours" / OWN_WORDS).read_text("utf-8")


def test_a_word_without_a_pronunciation_is_told_with_its_line(tmp_path: Path) -> None:
    """File and line of the word, of a phrase file and of the shop's file, all at once."""
    file = tmp_path / "phrases.yaml"
    file.write_text("language: en\nintents:\n  why:\n    - why the blorfle\n", encoding="utf-8")
    (tmp_path / "shop.yaml").write_text(_SHOP, encoding="utf-8")
    with pytest.raises(BadFile) as problem:
        own_words([file], tmp_path)
    assert f'{file}:4: error: no dictionary says how "blorfle" is said' in str(problem.value)
    assert f'{tmp_path / "shop.yaml"}:3: error: no dictionary says how "xqzkw"' in str(
        problem.value
    )


def test_what_is_no_phone_is_told_with_its_line(tmp_path: Path) -> None:
    """XX is no phone of ARPABET."""
    file = tmp_path / "phrases.yaml"
    file.write_text("language: en\npronunciations:\n  wozzle: [W XX L]\n", encoding="utf-8")
    with pytest.raises(BadFile, match=r"phrases.yaml:3: error: .*XX is no ARPABET phone"):
        own_words([file], tmp_path)


@pytest.mark.parametrize("name", ["", "../up", ".hidden", "a/b", "x.unpacking"])
def test_names_that_would_lead_elsewhere(name: str, tmp_path: Path) -> None:
    """A model's name is the name of one folder in the models folder."""
    with pytest.raises(BadInput, match="is no name for a model"):
        build_model(name, tmp_path / "models", [], tmp_path)


@pytest.mark.parametrize("place", ["own", "own.unpacking", "own.lock", "."])
def test_nothing_is_built_where_a_link_leads(place: str, tmp_path: Path) -> None:
    """A link in the model's place, or in that of what it needs, is refused and not followed."""
    require(not tools_missing(), tools_missing())
    (tmp_path / "phrases.yaml").write_text(_PHRASES, encoding="utf-8")
    target, models = tmp_path / "elsewhere", tmp_path / "models"
    target.mkdir()
    (target / OWN_WORDS).write_text("kept\n", encoding="utf-8")
    if place == ".":
        models.write_text("", encoding="utf-8")
    else:
        models.mkdir()
        (models / place).symlink_to(target / "new" if place.endswith(".lock") else target)
    with pytest.raises(BadInput, match="own"):
        build_model("own", models, [tmp_path / "phrases.yaml"], tmp_path, replace=True)
    assert [path.name for path in target.iterdir()] == [OWN_WORDS]


def test_the_command(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Built anew only when asked; the shipped model's name and a missing file are bad input."""
    monkeypatch.setenv("GLOVESON_HOME", str(home))
    file = str(home / "phrases.yaml")
    assert main(["model", "build", "ours", file]) == 2
    assert "--replace" in capsys.readouterr().err
    assert main(["model", "build", "en-shop-1", file]) == 2
    assert main(["model", "build", "other", str(home / "none.yaml")]) == 2
    assert "none.yaml" in capsys.readouterr().err
    assert main(["model", "build", "ours", file, "--replace", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["words"]["xqzkw"] == ["Z AE K W UW"]
    assert main(["model", "list"]) == 0
    assert "vosk:ours: " in capsys.readouterr().out

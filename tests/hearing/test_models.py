"""Models: the list, fetching one, and trying one."""

from __future__ import annotations

import hashlib
import io
import shutil
import zipfile
from importlib.resources import files
from pathlib import Path

import pytest

from assistant.engines import SHIPPED_MODEL
from assistant.errors import BadInput, EngineUnavailable
from assistant.hearing import models
from assistant.hearing.download import DownloadFailed
from assistant.hearing.models import (
    KnownModel,
    find_model,
    get_model,
    known_models,
    list_models,
    models_folder,
    remove_model,
    try_model,
)
from tests.hearing.phrases import Phrases
from tests.hearing.test_download import Server
from tests.hearing.test_download import server as server  # noqa: PLC0414 - a fixture, used by name
from tests.hearing.test_vosk_engine import korean_model

STANDARD = "vosk-model-small-en-us-0.15"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of its own for every test."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def served(server: Server, monkeypatch: pytest.MonkeyPatch) -> Server:
    """A small standard model, "tiny", at the test's own server."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        file.writestr("tiny-model/am/final.mdl", bytes(20_000))
        file.writestr("tiny-model/README", "tiny")
    server.body = packed.getvalue()
    entry = KnownModel(
        language="en",
        about="for tests",
        address=server.address,
        bytes=len(server.body),
        sha256=hashlib.sha256(server.body).hexdigest(),
        license="none",
    )
    monkeypatch.setattr(models, "known_models", lambda: {"tiny": entry})
    return server


def test_standard_model_is_as_published() -> None:
    """Address, size and digest of the standard model are the published ones.

    Source: the digest in several independent packaging files, seen 2026-11-24.
    """
    entry = known_models()[STANDARD]
    assert entry.bytes == 41_205_931
    assert entry.sha256 == "30f26242c4eb449f948e42cb302dd7a686cb29a3423a8367f99ff41780942498"
    assert entry.address.startswith("https://")
    assert entry.address.endswith(f"{STANDARD}.zip")


def test_model_is_fetched_once(served: Server, home: Path) -> None:
    """A model that was fetched is unpacked at its place, listed as here, and not fetched again."""
    place = get_model("tiny")
    assert place == home / "models/tiny"
    assert (place / "README").read_text() == "tiny"
    assert get_model("tiny") == place
    assert served.asked == [None]
    assert [(model.name, model.folder) for model in list_models()] == [("tiny", place)]
    assert not list(home.rglob("*.part"))


def test_broken_download_is_resumed_by_the_next_get(served: Server) -> None:
    """A get that was cut off leaves no model, and the next one goes on."""
    served.break_after = 5_000
    with pytest.raises(DownloadFailed, match="try again"):
        get_model("tiny")
    assert list_models()[0].folder is None
    served.break_after = None
    assert (get_model("tiny") / "am/final.mdl").stat().st_size == 20_000
    assert served.asked == [None, "bytes=5000-"]


def test_another_file_is_never_unpacked(served: Server, home: Path) -> None:
    """A model of the wrong digest leaves nothing behind."""
    served.body = served.body.replace(b"tiny-model/README", b"tiny-model/REAMDE")
    with pytest.raises(DownloadFailed, match="SHA-256"):
        get_model("tiny")
    assert [path.name for path in (home / "models").iterdir()] in ([], ["tiny.lock"])


def test_removed_model_is_gone(served: Server) -> None:
    """A removed model is not found any more, and the error says how to fetch it."""
    get_model("tiny")
    remove_model("tiny")
    with pytest.raises(EngineUnavailable, match="gloveson model get tiny"):
        find_model("tiny")
    assert served.asked == [None]


def test_models_are_found_by_name_and_by_path(home: Path, tmp_path: Path) -> None:
    """A folder's path and the name of a folder in the models folder both find it."""
    by_hand = home / "models/own"
    by_hand.mkdir(parents=True)
    assert models_folder() == home / "models"
    assert find_model("own") == by_hand
    assert find_model(str(tmp_path)) == tmp_path
    assert [model.name for model in list_models() if model.folder] == ["own"]


def test_unknown_names_are_refused_with_the_known_ones() -> None:
    """A name that is nothing here says what there is; no name leads outside the folder."""
    with pytest.raises(BadInput, match=STANDARD):
        get_model("nonesuch")
    for name in ("nonesuch", "../models", "", "x" * 5_000, "~nobody-of-this-name/x"):
        with pytest.raises(EngineUnavailable):
            find_model(name)


def test_trying_a_model_lists_what_it_lacks() -> None:
    """A real model that lacks a word of the phrases names phrase and word, and hears nothing."""
    tried = try_model(korean_model(), Phrases.of("모두 정지", "모두 zorble", language="ko"), None)
    assert tried.unknown == {"모두 zorble": ("zorble",)}
    assert (tried.heard, tried.speed) == (None, None)
    assert tried.load_s >= 0


@pytest.mark.parametrize("name", ["HCLr.fst", "Gr.fst"])
@pytest.mark.parametrize("content", [b"", b"\xff" * 100, None])
def test_a_damaged_graph_is_told_before_anything_is_heard(
    name: str, content: bytes | None, tmp_path: Path
) -> None:
    """Vosk would go on without it and crash at the first phrase."""
    source = Path(str(files("assistant.hearing"))) / "data" / "models" / SHIPPED_MODEL
    shutil.copytree(source, tmp_path / "spoiled")
    graph = tmp_path / "spoiled" / "graph" / name
    graph.unlink() if content is None else graph.write_bytes(content)
    with pytest.raises(EngineUnavailable, match=r"damaged|missing|graph is fixed"):
        try_model(tmp_path / "spoiled", Phrases.of("stand by"), None)

"""The published JSON Schema, checked with the independent package jsonschema."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from assistant.checklist.schema import json_schema, schema_text

FOLDER = Path(__file__).parents[2] / "checklists"
FILES = sorted(FOLDER.glob("*.yaml")) + sorted(FOLDER.glob("shared/*.yaml"))


class _Words(yaml.SafeLoader):
    """Reads `off` as a word, as YAML 1.2 has it and as editors do."""


_Words.yaml_implicit_resolvers = {
    letter: [(tag, pattern) for tag, pattern in rules if not tag.endswith(":bool")]
    for letter, rules in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
_Words.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("true|false"), ["t", "f"])


def read(text: str) -> Any:  # noqa: ANN401 - any YAML
    """The file as an editor reads it."""
    return yaml.load(text, Loader=_Words)  # noqa: S506 - a safe loader with fewer rules


def errors(document: object) -> list[str]:
    """What the schema finds wrong in a document."""
    return [e.message for e in Draft202012Validator(json_schema()).iter_errors(document)]


def test_the_schema_is_valid() -> None:
    """Against the metaschema of draft 2020-12."""
    Draft202012Validator.check_schema(json_schema())


def test_the_published_file_is_current() -> None:
    """`python -m assistant.checklist.schema > checklists/checklist.schema.json` was run."""
    assert (FOLDER / "checklist.schema.json").read_text(encoding="utf-8") == schema_text()


def test_there_are_files_to_check() -> None:
    """The next test would pass on none."""
    assert len(FILES) >= 2


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_every_shipped_file_validates(file: Path) -> None:
    """The demo and the shared sections, read by PyYAML and judged by jsonschema."""
    assert errors(read(file.read_text(encoding="utf-8"))) == []


def test_every_key_is_described() -> None:
    """An editor has something to say about each key."""
    for name, definition in json_schema()["$defs"].items():
        for key, value in definition.get("properties", {}).items():
            assert value.get("description"), f"{name}.{key}"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"tittle": "x"}, "'tittle'"),
        ({"version": "1"}, "does not match"),
        ({"options": {"A-b": {"ask": "A?", "default": True}}}, "'A-b'"),
        ({"sections": []}, "non-empty"),
        ({"title": None}, "None is not of type 'string'"),
    ],
)
def test_an_editor_sees_mistakes(change: dict[str, object], said: str) -> None:
    """What the loader refuses in shape, the schema refuses too."""
    good = {
        "checklist": "a", "title": "A", "version": "1.0.0", "machines": [{"name": "M"}],
        "source": "S.", "standing": "On the stand.",
        "sections": [{"section": "s", "title": "S", "steps": [{"step": "a", "do": "X."}]}],
    }  # fmt: skip
    assert errors(good) == []
    assert any(said in error for error in errors({**good, **change}))


def test_the_schema_is_json() -> None:
    """With its names in plain text, so that units read as the trade writes them."""
    assert "N·m" in schema_text()
    assert json.loads(schema_text()) == json_schema()

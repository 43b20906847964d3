"""The JSON Schema of checklist files, for editors that complete and check while one types.

`python -m assistant.checklist.schema > checklists/checklist.schema.json` writes it anew.
Dialect: JSON Schema draft 2020-12.
"""

from __future__ import annotations

import json
import re
from typing import Any, Final

from pydantic.json_schema import models_json_schema

from assistant.checklist.model import Checklist, SharedSection

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
# Keys under which the schema has names of fields or definitions, not keywords.
_NAMED: Final = frozenset({"properties", "$defs"})


def json_schema() -> dict[str, Any]:
    """The schema of a checklist file, or of a shared section where the file has that key."""
    _, together = models_json_schema(
        [(Checklist, "validation"), (SharedSection, "validation")],
        ref_template="#/$defs/{model}",
    )
    every = {name: _for_editors(one) for name, one in together["$defs"].items()}
    used = _used(every, ("Checklist", "SharedSection"))
    definitions = {name: one for name, one in every.items() if name in used}
    return {
        "$schema": DIALECT,
        "title": "Checklist or shared section",
        "description": "A written procedure for the bay, or a section that several of them use.",
        "type": "object",
        "if": {"required": ["shared"]},
        "then": {"$ref": "#/$defs/SharedSection"},
        "else": {"$ref": "#/$defs/Checklist"},
        "$defs": definitions,
    }


def schema_text() -> str:
    """The schema as its published file has it."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _for_editors(schema: Any) -> Any:  # noqa: ANN401 - a schema is any JSON
    """The schema without what a file can't say: null, and defaults that only the program sees."""
    if isinstance(schema, list):
        return [_for_editors(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    kept: dict[str, Any] = {}
    for key, value in schema.items():
        if key in _NAMED:
            kept[key] = {name: _for_editors(one) for name, one in value.items()}
        elif key != "title" and not (key == "default" and _says_nothing(value)):
            kept[key] = _for_editors(value)
    if "patternProperties" in kept:
        kept["additionalProperties"] = False  # the loader refuses other names too
    real = [one for one in kept.get("anyOf", ()) if one != {"type": "null"}]
    if len(real) == 1 and len(real) < len(kept["anyOf"]):
        del kept["anyOf"]
        return {**real[0], **kept}
    return kept


def _used(definitions: dict[str, Any], roots: tuple[str, ...]) -> set[str]:
    """The definitions that the roots lead to: a quantity is a text, its inside is nobody's."""
    found: set[str] = set()
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(re.findall(r'"#/\$defs/(\w+)"', json.dumps(definitions[name])))
    return found


def _says_nothing(default: Any) -> bool:  # noqa: ANN401 - a default is any JSON
    if isinstance(default, dict):
        return all(_says_nothing(value) for value in default.values())
    return default is None or default == []


if __name__ == "__main__":
    print(schema_text(), end="")  # noqa: T201 - its output is the file

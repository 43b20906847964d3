"""Reading YAML without trusting it."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadFile
from assistant.language.located import MAX_CHARACTERS, read_yaml


def test_plain_words_of_yaml_1_1_stay_words() -> None:
    """Yes, no, on and off are words; a shop writes them without quotes."""
    assert read_yaml("a: [yes, no, on, off, true, 12, 1.5, '12', ~]", "f").value == {
        "a": ["yes", "no", "on", "off", True, 12, 1.5, "12", None]
    }


def test_lines_are_kept_for_values_and_keys() -> None:
    """A finding points at the line of the value, or of the nearest thing around it."""
    located = read_yaml("a:\n  b:\n    - one\n    - two\n", "f")
    assert located.line(("a", "b", 1)) == 4
    assert located.line(("a", "b", "none such")) == 2
    assert located.line(("z",)) == 1


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("a: &x [1]\nb: 2", "anchor", 1),
        ("a: 1\nb: *x", "alias", 2),
        ("a: 1\nb: !!python/object/apply:os.system ['true']", "tag", 2),
        ("a: 1\nb: 2\na: 3", "twice", 3),
        ("a: 1\n---\nb: 2", "documents", 2),
        ("a: 1\nb: [1, 2", "yaml", 2),
        ("a: 1\n[1, 2]: 3", "key", 2),
        ("[" * 50 + "]" * 50, "depth", 1),
        ("a: \x00", "yaml", 1),
        (" " * (MAX_CHARACTERS + 1), "too-long", 0),
    ],
)
def test_what_is_refused(text: str, code: str, line: int) -> None:
    """Everything that could harm or mislead is refused with its line."""
    with pytest.raises(BadFile) as caught:
        read_yaml(text, "shop.yaml")
    (finding,) = caught.value.findings
    assert (finding.code, finding.line, finding.file) == (code, line, "shop.yaml")


@given(st.text(max_size=60))
@settings(deadline=None)
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text at all leads to another error than BadFile."""
    with suppress(BadFile):
        read_yaml(text, "f")

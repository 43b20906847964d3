"""Keys: lines from a keyboard or a pedal, read beside the listening."""

from __future__ import annotations

import io
import os
import time

import pytest

from assistant.hearing.keys import KeyboardKeys
from assistant.ports import Keys
from assistant.testing import ScriptedKeys


def _all(keys: KeyboardKeys, patience_s: float = 5.0) -> list[str]:
    """Every line until the end."""
    found = []
    while (line := keys.line(patience_s)) is not None:
        found.append(line)
    return found


@pytest.mark.parametrize("make", [KeyboardKeys, ScriptedKeys])
def test_lines_come_in_order_then_none(make: type) -> None:
    """The real keys and the scripted ones give each line once, then none for ever."""
    keys: Keys = (
        KeyboardKeys(io.StringIO("affirm\n\nstep complete\n"))
        if make is KeyboardKeys
        else ScriptedKeys("affirm", "", "step complete")
    )
    assert [keys.line(5.0) for _ in range(5)] == ["affirm", "", "step complete", None, None]


def test_a_bare_enter_is_a_line() -> None:
    """A pedal that sends only Enter gives an empty line, whatever the system's line end."""
    assert _all(KeyboardKeys(io.StringIO("\n\r\n"))) == ["", ""]


def test_the_end_is_known_once_all_is_read() -> None:
    """`ended` is said after the last line was taken, not before."""
    keys = KeyboardKeys(io.StringIO("affirm"))
    assert keys.line(5.0) == "affirm"
    assert not keys.ended
    assert keys.line(5.0) is None
    assert keys.ended


def test_a_program_without_input_has_no_keys() -> None:
    """A service has no standard input at all; that is no error."""
    keys = KeyboardKeys(None)
    assert keys.ended
    assert keys.line(5.0) is None


def test_bytes_that_are_no_text_do_not_end_the_keys() -> None:
    """A broken byte becomes a sign that no phrase has; the lines after it still come."""
    stream = io.TextIOWrapper(io.BytesIO(b"affirm\n\xff\xfe\nwhat torque\n"), encoding="utf-8")
    assert _all(KeyboardKeys(stream)) == ["affirm", "\ufffd\ufffd", "what torque"]


def test_nothing_typed_is_not_waited_for() -> None:
    """Without patience a silent keyboard gives none at once; a line typed later is found."""
    read, write = os.pipe()
    with os.fdopen(read, encoding="utf-8") as stream, os.fdopen(write, "w") as keyboard:
        keys = KeyboardKeys(stream)
        assert keys.line(0.0) is None
        assert keys.line(0.01) is None
        assert not keys.ended
        keyboard.write("affirm\n")
        keyboard.flush()
        assert keys.line(5.0) == "affirm"
        keyboard.close()
        for _ in range(100):
            if keys.line(0.05) is None and keys.ended:
                break
            time.sleep(0.01)
        assert keys.ended

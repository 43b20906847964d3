"""Two safety stops on a real sound server whose loudspeaker the microphone hears."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

import pytest

from assistant.language.numbers import digits
from assistant.packaged import numbers_of, stop_texts
from tests.end_to_end.live_sound import (
    SPEAKER,
    TRIES,
    Bay,
    echoing,
    from_microphone,
    room_tone_into,
    sounding,
)
from tests.end_to_end.running import live
from tests.hearing.clips import clip
from tests.job.bench import HEAD
from tests.virtual_sound import virtual_sound

OFF_AND_ON = HEAD + textwrap.indent(
    textwrap.dedent("""\
    - step: negative-off
      do: "Take the negative cable off."
      hazards: {battery: disconnect}
      off:
        - {item: "negative cable"}
    - step: posts-looked-at
      do: "Look at the posts."
      hazards: {battery: needs-isolated}
    - step: negative-on
      do: "Put the negative cable on."
      hazards: {battery: reconnect}
      back:
        - {item: "negative cable"}
    - step: resting-voltage
      do: "Read the voltage."
      hazards: {battery: prove}
      readings:
        - {name: "resting voltage", unit: V, at_least: "12.4 V", at_most: "13.2 V"}
    """),
    "      ",
)
WORDS = {stop.value: text.read_back for stop, text in stop_texts("en").stops.items()}


def test_only_the_read_back_passes_a_stop(tmp_path: Path) -> None:
    """The prompt, heard while it is said and again afterwards, passes nothing; its answer does."""
    (tmp_path / "sound").mkdir()
    (tmp_path / "small.yaml").write_text(OFF_AND_ON, encoding="utf-8")
    command = ["start", "small.yaml", "--who", "Mara", "--job", "stops", "--rate", "300"]
    with (
        virtual_sound(tmp_path / "sound") as sound,
        echoing(sound),
        room_tone_into(sound),
        live(tmp_path, *command, extra=sound.environment) as job,
    ):
        bay = Bay(job, sound, tmp_path / "jobs" / "stops")
        assert job.shows("How is the machine held?"), job.screen
        assert job.type("affirm")
        assert job.shows("Take the negative cable off"), job.screen
        _stop(bay, WORDS["battery_off"])
        assert job.shows("Look at the posts"), job.screen
        _stop(bay, WORDS["battery_on"])
        assert job.interrupt() == 1


def _stop(bay: Bay, words: str) -> None:
    """The open step is done, and a stop is due: its prompt is played back, then answered."""
    bay.wait_until_silent()
    before = bay.entries("heard", "unclear")
    with bay.sound.listen() as prompt:
        seen = len(bay.job.screen)
        assert bay.job.type("step complete")
        if bay.job.shows("That was quicker", after=seen, timeout_s=1):
            assert bay.job.type("affirm")
        assert bay.job.shows(f"Read back: {words}"), bay.job.screen
        assert sounding(from_microphone(bay.sound, 2.0)) > 0.5, "there is no echo to be deaf to"
        bay.wait_until_silent()
    while_said = bay.entries("heard", "unclear")[len(before) :]
    assert {data.get("via") for data in while_said} <= {"typed"}, while_said

    bay.sound.speak(prompt.pcm, tail_s=0.5)
    bay.wait_until_silent()
    played_back = bay.entries("heard", "unclear")[len(before) + len(while_said) :]
    assert played_back, "the prompt never reached the open ear"
    assert "read_back" not in [data.get("intent", {}).get("name") for data in played_back]

    _answer(bay, words)


def _answer(bay: Bay, words: str) -> None:
    """Say the words and the number that was asked last, until it passes."""
    for _ in range(TRIES):
        number = re.findall(r"Your number is (\d), (\d)", " ".join(bay.job.screen))[-1]
        said = digits("".join(number), numbers_of("en"))
        seen = len(bay.job.screen)
        bay.sound.speak(clip(words, SPEAKER) + clip(said, SPEAKER), tail_s=0.3)
        if bay.job.shows("Safety stop passed", after=seen, timeout_s=6):
            return
        bay.wait_until_silent()
    pytest.fail(f"the read-back never passed: {bay.job.screen[-8:]}")

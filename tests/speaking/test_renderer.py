"""The renderer speaks through its real child process, whatever happens to that process."""

from __future__ import annotations

import logging
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.errors import BadInput, VoiceUnavailable
from assistant.speaking import renderer as renderer_module
from assistant.speaking.renderer import Renderer
from assistant.speaking.voice_process import VoiceProcess

_LINE = "Loosen the four clamp bolts evenly, a quarter turn at a time."


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    """A folder for rendered phrases."""
    return tmp_path / "speech"


@pytest.fixture
def renderer(cache: Path) -> Iterator[Renderer]:
    """A renderer with an empty cache."""
    with Renderer(cache=cache) as made:
        yield made


def _pid(renderer: Renderer) -> int:
    assert renderer._process is not None
    return renderer._process.pid


def _files(cache: Path) -> int:
    return len(list(cache.glob("*.wav")))


def test_words_become_speech(renderer: Renderer) -> None:
    """A sentence lasts about as long as its words at the asked rate, and is loud enough."""
    speech = renderer.render(_LINE)
    at_rate = len(_LINE.split()) / renderer.rate * 60
    assert 0.6 * at_rate < speech.seconds < 1.6 * at_rate
    assert np.abs(speech.samples.astype(int)).max() > 5_000
    assert speech.at_rate(16_000).seconds == pytest.approx(speech.seconds, abs=0.001)


def test_slowly_is_slower(renderer: Renderer) -> None:
    """At three quarters of the rate a sentence takes about four thirds of the time."""
    assert 1.2 < renderer.render(_LINE, slowly=True).seconds / renderer.render(_LINE).seconds < 1.5


def test_a_rendered_phrase_is_kept(cache: Path) -> None:
    """A second renderer plays it from the cache and starts no child at all."""
    with Renderer(cache=cache) as first:
        speech = first.render(_LINE)
    with Renderer(cache=cache) as second:
        assert second.render(_LINE) == speech
        assert second._process is None


def test_a_damaged_phrase_is_rendered_again(
    renderer: Renderer, cache: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Half a file in the cache is replaced by a whole one."""
    speech = renderer.render(_LINE)
    (file,) = cache.glob("*.wav")
    file.write_bytes(file.read_bytes()[:1_000])
    with caplog.at_level(logging.WARNING):
        again = renderer.render(_LINE)
    assert "damaged" in caplog.text
    assert again.seconds == pytest.approx(speech.seconds, rel=0.05)
    assert len(file.read_bytes()) > 1_000


def test_a_hundred_phrases_in_a_row(renderer: Renderer, cache: Path) -> None:
    """All are rendered, each as its own, by one child."""
    tens = ["alpha", "bravo", "charlie", "delta", "echo", "golf", "hotel", "india", "mike", "oscar"]
    lengths = {a: [renderer.render(f"{a} {b}").seconds for b in tens] for a in tens}
    assert all(0.4 < seconds < 3.0 for row in lengths.values() for seconds in row)
    assert _files(cache) == 100
    assert renderer.restarts == 0


def test_a_long_text_is_rendered_whole(renderer: Renderer) -> None:
    """Nineteen thousand letters, which crash the voice at once, come out in full."""
    sentence = "Feel along both edges of the tank that nothing is trapped under it. "
    one = renderer.render(sentence)
    whole = renderer.render(sentence * 280)
    assert whole.seconds > 280 * one.seconds
    assert renderer.restarts == 0


def test_a_killed_child_is_replaced(renderer: Renderer) -> None:
    """After kill -9 between two phrases the next one comes from a new child."""
    renderer.render("before")
    old = _pid(renderer)
    os.kill(old, signal.SIGKILL)
    assert renderer.render("after").seconds > 0.2
    assert _pid(renderer) != old
    assert renderer.restarts == 1


def test_a_child_killed_in_the_middle_of_a_phrase_is_replaced(renderer: Renderer) -> None:
    """The phrase is retried; whoever waits for it gets it."""
    renderer.render("before")
    old = _pid(renderer)
    os.kill(old, signal.SIGSTOP)  # so that the phrase is certainly under way when the kill comes
    killer = threading.Timer(0.3, os.kill, (old, signal.SIGKILL))
    killer.start()
    assert renderer.render("in the middle").seconds > 0.2
    killer.join()
    assert _pid(renderer) != old
    assert renderer.restarts == 1


def test_a_hung_child_is_replaced(cache: Path) -> None:
    """A stopped child is killed when the patience is over, and the phrase retried."""
    with Renderer(cache=cache, patience_s=2.0) as renderer:
        renderer.render("before")
        old = _pid(renderer)
        os.kill(old, signal.SIGSTOP)
        assert renderer.render("after").seconds > 0.2
        assert renderer.restarts == 1
        with pytest.raises(ProcessLookupError):
            os.kill(old, 0)


def test_a_voice_that_always_fails_is_given_up(
    cache: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Two failures in a row are an error with the child's last words, not an endless loop."""
    script = tmp_path / "ends.py"
    script.write_text(
        "import json, sys\n"
        'voice = {"id": "x", "name": "x", "language": "en-us"}\n'
        'ready = {"driver": "x", "default": "x", "voices": [voice]}\n'
        'print(json.dumps({"ready": ready}), flush=True)\n'
        'sys.stdin.readline(); sys.exit("out of breath")\n'
    )
    monkeypatch.setattr("assistant.speaking.voice_process._SCRIPT", script)
    with Renderer(cache=cache) as renderer:
        with pytest.raises(VoiceUnavailable, match=r"failed twice.*out of breath"):
            renderer.render("anything")
        assert renderer.restarts == 2
        with pytest.raises(VoiceUnavailable, match="failed twice"):  # and is tried again each time
            renderer.render("anything")


def test_no_synthesizer_says_what_to_install(
    cache: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A child that can't start is an error that names the cure."""
    script = tmp_path / "none.py"
    script.write_text("import a_speech_library_that_is_not_here\n")
    monkeypatch.setattr("assistant.speaking.voice_process._SCRIPT", script)
    with Renderer(cache=cache) as renderer, pytest.raises(VoiceUnavailable) as raised:
        renderer.render("anything")
    assert "espeakng-loader" in str(raised.value)
    assert "a_speech_library_that_is_not_here" in str(raised.value)


@pytest.mark.parametrize("text", ["22 N·m", "M8", ""])
def test_what_is_not_words_is_refused(renderer: Renderer, text: str) -> None:
    """Digits and symbols never reach the voice, now or ahead."""
    with pytest.raises(ValueError, match=r"ear|nothing"):
        renderer.render(text)
    with pytest.raises(ValueError, match=r"ear|nothing"):
        renderer.ahead(["fine", text])


def test_voices_are_listed_and_chosen(renderer: Renderer, cache: Path) -> None:
    """A voice can be named by language or id, and another voice sounds different."""
    voices = {voice.language: voice for voice in renderer.list_voices()}
    assert {"en-us", "ko"} <= set(voices)
    american = renderer.render("go on")
    with Renderer(voice=voices["ko"].id, cache=cache) as korean:
        assert korean.render("배터리를 분리하십시오.").seconds > 0.8
    with Renderer(voice="en_GB", cache=cache) as british:
        assert british.render("go on").pcm != american.pcm


def test_a_voice_that_is_not_here_is_named(cache: Path) -> None:
    """An unknown voice is an error that says which languages there are."""
    with Renderer(voice="tlh", cache=cache) as renderer:
        with pytest.raises(VoiceUnavailable, match=r"'tlh'.*en-us"):
            renderer.render("go on")
        assert renderer.restarts == 0


@pytest.mark.parametrize("rate", [0, 79, 451])
def test_an_impossible_rate_is_bad_input(rate: int) -> None:
    """Rates that the voice would silently clip are refused."""
    with pytest.raises(BadInput, match="80 to 450"):
        Renderer(rate=rate)


def test_ahead_renders_in_the_background(renderer: Renderer, cache: Path) -> None:
    """What was asked for ahead is in the cache without anybody waiting for it."""
    renderer.ahead(["next step", "safety stop. battery off"])
    assert renderer.settle(20)
    assert _files(cache) == 3
    assert renderer.ahead_problem is None


def test_a_phrase_that_is_waited_for_overtakes(
    renderer: Renderer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It comes before all but the one at work; the newest batch comes before older ones."""
    order: list[str] = []
    gate = threading.Event()
    save = VoiceProcess.save

    def watched(self: VoiceProcess, text: str, *rest: Any) -> None:  # noqa: ANN401 - passed on
        order.append(text)
        assert gate.wait(10)
        save(self, text, *rest)

    monkeypatch.setattr(VoiceProcess, "save", watched)
    renderer.ahead(["old first", "old second", "both"])
    while not order:
        time.sleep(0.005)
    renderer.ahead(["new first", "both"])
    waiting = threading.Thread(target=renderer.render, args=("at once",))
    waiting.start()
    while not renderer._urgent:
        time.sleep(0.005)
    gate.set()
    waiting.join(10)
    assert renderer.settle(20)
    assert order == ["old first", "at once", "new first", "both", "old second"]


def test_a_failure_ahead_is_kept_and_logged(cache: Path, caplog: pytest.LogCaptureFixture) -> None:
    """A background failure doesn't pass in silence, and drops what was queued behind it."""
    with Renderer(voice="tlh", cache=cache) as renderer, caplog.at_level(logging.WARNING):
        renderer.ahead(["one", "two", "three"])
        assert renderer.settle(20)
        assert isinstance(renderer.ahead_problem, VoiceUnavailable)
    assert caplog.text.count("not rendered ahead") == 1


def test_many_threads_may_ask(renderer: Renderer) -> None:
    """Eight threads at once each get their own words."""
    words = [f"line {name}" + " and on" * n for n, name in enumerate("abcdefgh")]
    got: dict[str, float] = {}

    def ask(text: str) -> None:
        got[text] = renderer.render(text).seconds

    threads = [threading.Thread(target=ask, args=(text,)) for text in words]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert [got[text] for text in words] == sorted(got[text] for text in words)


def test_closing_ends_child_and_files(cache: Path) -> None:
    """After closing, neither process nor temporary folder is left, and a wait is ended."""
    renderer = Renderer(cache=cache)
    renderer.render("before")
    pid, folder = _pid(renderer), renderer._folder
    assert folder is not None
    os.kill(pid, signal.SIGSTOP)
    failed: list[BaseException] = []

    def wait() -> None:
        try:
            renderer.render("never said")
        except VoiceUnavailable as problem:
            failed.append(problem)

    waiting = threading.Thread(target=wait)
    waiting.start()
    while not renderer._busy:
        time.sleep(0.005)
    renderer.close()
    waiting.join(5)
    assert "closed" in str(failed[0])
    assert not folder.exists()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    with pytest.raises(VoiceUnavailable, match="closed"):
        renderer.render("after")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_the_voice_needs_no_system_library(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a bare environment the child uses eSpeak NG's library and data from its package."""
    for name in list(os.environ):
        monkeypatch.delenv(name)
    monkeypatch.setenv("HOME", "/nonexistent")
    with Renderer(cache=cache) as renderer:
        renderer.render(_LINE)
        maps = Path(f"/proc/{_pid(renderer)}/maps").read_text()
        environment = Path(f"/proc/{_pid(renderer)}/environ").read_text()
    used = {line.split()[-1] for line in maps.splitlines() if "libespeak" in line}
    assert len(used) == 1
    assert "site-packages/espeakng_loader/" in used.pop()
    assert "PATH=" not in environment.replace("ESPEAK_DATA_PATH=", "")


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is not there")
def test_the_child_does_not_outlive_a_killed_parent(tmp_path: Path) -> None:
    """When the program itself is killed, the child ends by itself."""
    code = (
        "import sys, time; from pathlib import Path\n"
        "from assistant.speaking.renderer import Renderer\n"
        "r = Renderer(cache=Path(sys.argv[1])); r.render('before')\n"
        "print(r._process.pid, flush=True); time.sleep(60)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)],
        stdout=subprocess.PIPE,
        cwd=Path(renderer_module.__file__).parents[2],
        env=os.environ | {"TMPDIR": str(tmp_path)},
    )
    assert parent.stdout is not None
    with parent.stdout as out:
        child = int(out.readline())
    parent.kill()
    parent.wait()
    for _ in range(200):
        if not _running(child):
            return
        time.sleep(0.05)
    pytest.fail("the child is still there")


def _running(pid: int) -> bool:
    """Whether a process runs; one that has ended and waits to be collected doesn't."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, check=False)
    return not state.stdout.strip().startswith(b"Z")

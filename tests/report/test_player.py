"""The page that plays a spoken record, in a real browser from the disk, without a network."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from assistant.accounts import account_of
from assistant.cli.main import main
from assistant.errors import VoiceUnavailable
from assistant.report.player import player_page
from assistant.report.spoken import Spoken, make_spoken
from assistant.report.write import write_html
from assistant.speaking.renderer import Renderer
from tests.job.bench import ALL_HAZARDS, ROSTER
from tests.real_parts import require
from tests.report.browser import browser
from tests.report.spoken_jobs import PHRASES, ToneVoice, short, written
from tests.report.test_page import seen

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

HOSTILE = "<img src=x onerror=\"document.title='got in'\"></script><script>document.title='in'//"
NAME = "one #1 100% <b>&.d"
"""A folder's name that must not end the address of the sound, nor begin a tag."""


def paged(folder: Path, out: Path) -> tuple[Spoken, Path]:
    """The spoken record of a job with its page."""
    spoken = make_spoken(folder, out, ToneVoice())
    page = out / "page.html"
    write_html(player_page(account_of(folder), spoken, HOSTILE), page)
    return spoken, page


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> tuple[Spoken, Path]:
    """A job in which every text that people choose is an attack."""
    place = tmp_path_factory.mktemp("hostile")
    folder = written(
        place, short(HOSTILE), vehicle=HOSTILE, roster={**ROSTER, "mara": HOSTILE},
        checklist=ALL_HAZARDS.replace("title: Only section", "title: '<i>Only</i> section'"),
    )  # fmt: skip
    return paged(folder.rename(place / NAME), place / "out")


@pytest.fixture(scope="module")
def driven(hostile: tuple[Spoken, Path]) -> Iterator[Chrome]:
    """One browser for all tests here."""
    with browser() as found:
        found.get(hostile[1].as_uri())
        until(lambda: found.execute_script("return document.querySelector('audio').readyState") > 0)
        yield found


def until(true: Callable[[], object], patience_s: float = 20.0) -> None:
    """Wait for something the browser does in its own time."""
    ends = time.monotonic() + patience_s
    while not true():
        assert time.monotonic() < ends, "the browser did not get there"
        time.sleep(0.02)


def audio(driven: Chrome, what: str) -> Any:  # noqa: ANN401 - whatever the page holds
    """A property of the page's sound."""
    return driven.execute_script(f"return document.querySelector('audio').{what}")


def lit(driven: Chrome) -> str:
    """The entry that is highlighted."""
    return str(driven.execute_script("return document.querySelector('li[aria-current]')?.id ?? ''"))


def test_the_sound_plays_from_the_disk(driven: Chrome, hostile: tuple[Spoken, Path]) -> None:
    """Its whole length, no error, nothing refused by the page's own policy."""
    assert audio(driven, "error") is None
    assert abs(float(audio(driven, "duration")) - hostile[0].seconds) < 0.01
    assert lit(driven) == f"n{hostile[0].placed[0].told.n}"
    assert driven.get_log("browser") == []  # type: ignore[no-untyped-call] # the library's own


def test_what_people_wrote_is_text_in_the_browser(driven: Chrome) -> None:
    """No tag of theirs exists, no script of theirs ran."""
    counts = "return ['img','b','i','script'].map(t => document.querySelectorAll(t).length)"
    assert driven.execute_script(counts) == [0, 2, 0, 1]  # two <b> are the page's own
    assert "in" not in driven.title.split()
    assert HOSTILE in driven.execute_script("return document.body.innerText")
    assert "<i>Only</i> section" in driven.execute_script("return document.body.innerText")


def test_a_click_jumps_and_the_entry_is_highlighted(
    driven: Chrome, hostile: tuple[Spoken, Path]
) -> None:
    """The sound goes on from that entry, and the page shows who speaks and what."""
    one = hostile[0].placed[6]
    driven.execute_script(f"document.querySelector('#n{one.told.n} a').click()")
    until(lambda: lit(driven) == f"n{one.told.n}" and not audio(driven, "paused"))
    driven.execute_script("document.querySelector('audio').pause()")
    assert one.start - 0.01 <= float(audio(driven, "currentTime")) < one.end
    told = driven.execute_script("return document.getElementById('text').textContent")
    assert told == one.told.text


def test_the_highlight_follows_the_sound(driven: Chrome, hostile: tuple[Spoken, Path]) -> None:
    """At any moment of an entry it is the one that is lit; between two, the one before."""
    for one in hostile[0].placed:
        for moment in (one.start, (one.start + one.end) / 2, one.end + 0.1):
            if moment < hostile[0].seconds:
                driven.execute_script(
                    "document.querySelector('audio').currentTime = arguments[0]", moment
                )
                until(lambda one=one: lit(driven) == f"n{one.told.n}")  # type: ignore[misc] # bound now


def test_playing_moves_the_highlight_by_itself(
    driven: Chrome, hostile: tuple[Spoken, Path]
) -> None:
    """Played over the end of an entry, the next one is lit."""
    first, second = hostile[0].placed[:2]
    driven.execute_script(
        "const a = document.querySelector('audio'); a.currentTime = arguments[0]; a.play()",
        first.end - 0.05,
    )
    until(lambda: lit(driven) == f"n{second.told.n}")
    driven.execute_script("document.querySelector('audio').pause()")


def test_the_keyboard_is_enough(driven: Chrome, hostile: tuple[Spoken, Path]) -> None:
    """Arrows go from entry to entry, Enter plays the chosen one, Space stops and plays."""
    from selenium.webdriver.common.action_chains import ActionChains  # noqa: PLC0415 - optional
    from selenium.webdriver.common.keys import Keys  # noqa: PLC0415 - optional

    def press(key: str) -> None:
        ActionChains(driven).send_keys(key).perform()

    ids = [f"n{one.told.n}" for one in hostile[0].placed]
    driven.execute_script("document.querySelector('audio').currentTime = 0; document.body.focus()")
    until(lambda: lit(driven) == ids[0])
    press(Keys.ARROW_DOWN)
    press(Keys.ARROW_DOWN)
    press(Keys.ARROW_UP)
    until(lambda: lit(driven) == ids[1])
    assert audio(driven, "paused")
    press(Keys.ENTER)
    until(lambda: not audio(driven, "paused"))
    press(Keys.SPACE)
    until(lambda: audio(driven, "paused"))


def test_on_paper_there_are_the_entries_and_no_player(driven: Chrome) -> None:
    """Printing leaves out what can't be used on paper."""
    driven.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    shown = (
        "return ['.player','nav','.entries'].map(s => document.querySelector(s).offsetHeight > 0)"
    )
    assert driven.execute_script(shown) == [False, False, True]
    driven.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_a_narrow_screen_has_room_for_the_text(driven: Chrome) -> None:
    """On a phone the text of an entry takes most of the width, and nothing hangs out."""
    before = driven.get_window_size()
    driven.set_window_size(500, 900)
    share = """const text = document.querySelector('.entries a > :last-child');
    return [text.offsetWidth / innerWidth, document.documentElement.scrollWidth <= innerWidth]"""
    width, fits = driven.execute_script(share)
    driven.set_window_size(before["width"], before["height"])
    assert width > 0.6
    assert fits


@pytest.mark.parametrize("which", ["captions", "chapters"])
def test_the_browser_reads_the_tracks(
    driven: Chrome, hostile: tuple[Spoken, Path], which: str
) -> None:
    """Chromium's own WebVTT parser: as many cues, the same times, hostile texts as text."""
    file: Path = getattr(hostile[0], which)
    script = """
    const [text, done] = arguments;
    const video = document.createElement('video'), track = document.createElement('track');
    track.src = 'data:text/vtt,' + encodeURIComponent(text);
    track.onload = () => done([...track.track.cues].map(c =>
      [c.startTime, c.endTime, c.getCueAsHTML().textContent,
       [...c.getCueAsHTML().querySelectorAll('*')].map(e => e.title)]));
    track.onerror = () => done('not read');
    video.append(track); track.track.mode = 'hidden';
    """
    driven.get("about:blank")  # the page's policy admits no tracks
    found = driven.execute_async_script(script, file.read_text(encoding="utf-8"))
    driven.get(hostile[1].as_uri())
    until(lambda: audio(driven, "readyState") > 0)
    if which == "chapters":
        assert [one[2] for one in found] == ["<i>Only</i> section"]
        return
    placed = hostile[0].placed
    assert [one[2] for one in found] == [one.told.text for one in placed]
    assert [one[3] for one in found] == [[one.told.who] for one in placed]
    for one, cue in zip(placed, found, strict=True):
        assert abs(cue[0] - one.start) <= 0.001
        assert abs(cue[1] - one.end) <= 0.001


def test_without_its_sound_the_page_says_so(driven: Chrome, hostile: tuple[Spoken, Path]) -> None:
    """A page that was moved alone names the file it misses."""
    alone = hostile[1].parent.parent / "moved.html"
    alone.write_bytes(hostile[1].read_bytes())
    driven.get(alone.as_uri())
    shown = "return document.getElementById('missing').offsetHeight > 0"
    until(lambda: driven.execute_script(shown))


@pytest.mark.parametrize("clips", [True, False])
def test_sound_that_was_not_kept_is_told_on_the_page(tmp_path: Path, *, clips: bool) -> None:
    """How many replies have none, with a tag at each; a typed line is no loss."""
    folder = written(tmp_path, short("typed"), clips=clips)
    spoken = make_spoken(folder, tmp_path / "out", ToneVoice())
    text = seen(player_page(account_of(folder), spoken)).text
    spoken_ones = sum(one.told.text in PHRASES.values() for one in spoken.placed)
    assert (f"No sound is kept of {spoken_ones} replies" in text) == (not clips)
    assert text.count("sound not kept") == (0 if clips else spoken_ones)
    assert "typed" in text


def test_the_command_makes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Sound, captions, chapters and page in one folder; figures with --json."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    written(tmp_path / "jobs", short()[:2])
    try:
        with Renderer() as voice:
            voice.list_voices()
    except VoiceUnavailable as problem:
        require(None, f"no voice here: {problem}")
    assert main(["record", "one", "--spoken", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {path.name for path in (tmp_path / "one-spoken").iterdir()} == {
        "one.flac", "one.vtt", "one-chapters.vtt", "one.html",
    }  # fmt: skip
    assert told["entries"] == len(Path(told["captions"]).read_text().split("\n\n")) - 2
    assert main(["record", "one", "--spoken", str(tmp_path / "x")]) == 0
    assert len(capsys.readouterr().out.split()) == 4
    (tmp_path / "file").write_text("")
    assert main(["record", "one", "--spoken", str(tmp_path / "file")]) == 2

"""The report: everything of the account is on it, nothing on it is a trick, nothing is fetched."""

from __future__ import annotations

import html.parser
from typing import Any

import pytest

from assistant.accounts import account_of
from assistant.packaged import stop_texts
from assistant.report.page import SHEETS, page
from tests.real_parts import require
from tests.store.records import played


@pytest.fixture(scope="module")
def account(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """A job with a trouble and a reading out of limits."""
    folder = tmp_path_factory.mktemp("shop")
    return account_of(played(folder, "one", "WREN 7", trouble=True, low=True))


class Seen(html.parser.HTMLParser):
    """What a browser would make of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A tag, with what it would fetch."""
        self.tags.append(tag)
        names = {"src", "href", "xlink:href", "action", "style"}
        self.links.extend(value or "" for name, value in attrs if name in names)
        assert not [name for name, _ in attrs if name.startswith("on")]

    def handle_data(self, data: str) -> None:
        """Text that is seen."""
        self.text += data


def seen(text: str) -> Seen:
    """The page, parsed by the standard library."""
    parser = Seen()
    parser.feed(text)
    return parser


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_page_is_self_contained(account: dict[str, Any], sheet: str) -> None:
    """No script, no frame, and nothing that a browser would fetch."""
    found = seen(page(account, sheet, "Wren Lane Cycle Works"))
    assert not {"script", "iframe", "object", "embed", "link", "img"} & set(found.tags)
    assert not [link for link in found.links if ":" in link and "mm" not in link]
    assert "Wren Lane Cycle Works" in found.text


def test_the_report_holds_what_the_account_holds(account: dict[str, Any]) -> None:
    """Every step, reading, torque, stop, trouble and the seal."""
    text = " ".join(seen(page(account)).text.split())
    for step in account["steps"]:
        assert step["do"] in text
    for reading in account["readings"]:
        assert f"{reading['name']}" in text
        assert reading["value"] in text
    for stop in account["safety_stops"]:
        assert stop["number"] in text
    assert "found a leak" in text
    assert account["seal"] in text
    assert "1 out of limits" in text


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize(
    "hostile",
    [
        "<script>alert(1)</script>",
        '"><img src=x onerror=alert(1)>',
        "{{ 7 * 7 }}",
        "{% include '/etc/passwd' %}",
        "</style><script>",
        "&lt;b&gt;",
        "</title><script>alert(1)</script>",
        "<svg onload=alert(1)>",
    ],
)
def test_what_people_write_is_text(account: dict[str, Any], sheet: str, hostile: str) -> None:
    """Every name, note, title and text of a record stays text on the page."""
    found = seen(page(hostile_account(account, hostile), sheet, hostile))
    honest = seen(page(account, sheet, "shop"))
    assert not {"script", "img"} & set(found.tags)
    assert set(found.tags) <= set(honest.tags) | {"ul", "li", "small", "span", "b", "title"}
    assert found.text.count(hostile) > 5


def hostile_account(account: dict[str, Any], hostile: str) -> dict[str, Any]:
    """The account with an attack in every place that a person or a file fills."""
    step = account["steps"][0]["step"]
    return {
        **account,
        "vehicle": hostile,
        "engine": hostile,
        "roster": dict.fromkeys(account["roster"], hostile),
        "people": [{**one, "name": hostile} for one in account["people"]],
        "checklist": {**account["checklist"], "title": hostile, "id": hostile},
        "steps": [{**one, "do": hostile, "section": hostile} for one in account["steps"]],
        "plan": [
            {**one, "do": hostile, "driver": hostile, "thread": hostile} for one in account["plan"]
        ],
        "readings": [{**one, "name": hostile, "condition": hostile} for one in account["readings"]],
        "torques": [
            {**one, "fastener": hostile, "wrench": hostile, "source": hostile}
            for one in account["torques"]
        ],
        "parts": [{"step": step, "name": hostile, "number": hostile, "count": 1}],
        "troubles": [
            {**one, "text": hostile, "item": hostile, "cleared": False}
            for one in account["troubles"]
        ],
        "notes": [
            {"step": step, "seconds": 1.0, "at": account["began"], "clip": None, "text": hostile}
        ],
        "off": [{"item": hostile, "count": 1}],
        "left_out": [{"step": step, "reason": hostile, "at": account["began"], "who": "mara"}],
        "hazard_reasons": [{"step": step, "reason": hostile}],
    }


def test_steps_are_told_by_their_text(account: dict[str, Any]) -> None:
    """A left-out step or a trouble's place is read as a sentence, not as an id."""
    step = account["plan"][3]
    left = [{"step": step["step"], "reason": "inspected", "at": account["began"], "who": "mara"}]
    for sheet in SHEETS:
        text = seen(page({**account, "left_out": left}, sheet)).text
        assert step["do"] in text
        assert step["step"] not in text


def test_a_torque_is_told_with_its_tool_and_the_read_backs_with_their_words(
    account: dict[str, Any],
) -> None:
    """What was in hand, the thread, and what was said back at each stop."""
    text = " ".join(seen(page(account)).text.split())
    drivers = {one["step"]: one["driver"] for one in account["plan"]}
    for torque in account["torques"]:
        assert drivers[torque["step"]] in text
    for stop in account["safety_stops"]:
        assert stop_texts("en").stops[stop["stop"]].read_back in text


def test_the_customer_is_told_in_plain_words(account: dict[str, Any]) -> None:
    """No signs for limits, no ids; what stayed out of limits is told where the eye falls."""
    readings = [
        {**account["readings"][-1], "value": "12.8 V", "at_least": "12.4 V", "at_most": None}
    ]
    text = seen(page({**account, "readings": readings}, "customer")).text
    assert "at least 12.4 V" in text
    assert "≥" not in text
    bad = [{**readings[0], "within": False}]
    assert "Outside what is allowed" in seen(page({**account, "readings": bad}, "customer")).text


@pytest.mark.filterwarnings("ignore:HarfBuzz-Subset:DeprecationWarning")  # an older Debian
def test_the_customers_page_is_one_page(account: dict[str, Any]) -> None:
    """With as much on it as the demo job has: twelve parts, twelve readings, three open points."""
    try:
        from weasyprint import HTML  # noqa: PLC0415 - needs the system's Pango
    except (ImportError, OSError) as problem:
        require(None, str(problem))
        return
    full = {
        **account,
        "parts": [{"step": "", "name": "crush washer", "number": "WL-CW-38", "count": 2}] * 12,
        "readings": account["readings"][-1:] * 12,
        "off": [{"item": "clip", "count": 1}] * 3,
    }
    assert len(HTML(string=page(full, "customer", "Wren Lane Cycle Works")).render().pages) == 1


@pytest.mark.parametrize("sheet", SHEETS)
def test_an_open_job_is_told_as_open(account: dict[str, Any], sheet: str) -> None:
    """Nobody takes the page of a job that goes on for that of one that is done."""
    text = seen(page({**account, "status": "stopped", "ended": "", "seal": None}, sheet)).text
    assert "not released" in text or "not finished" in text
    assert "Not sealed" in text


def test_the_report_tells_what_became_of_the_sound(account: dict[str, Any]) -> None:
    """Not kept, or removed by the shop's rule, stands above the seal; kept needs no word."""
    gone = {"clip": "clips/000001.flac", "at": "2026-06-01T00:00:00.000Z", "days": 90}
    texts = {
        name: seen(page({**account, "sound": sound})).text
        for name, sound in {
            "kept": {"kept": True, "removed": []},
            "none": {"kept": False, "removed": []},
            "removed": {"kept": True, "removed": [gone]},
        }.items()
    }
    assert "sound is not kept in this record" in texts["none"]
    assert "removed on 2026-06-01 by its rule of 90 days" in texts["removed"]
    assert "sound" not in texts["kept"]


@pytest.mark.parametrize("sheet", SHEETS)
def test_an_endless_text_is_cut_and_no_picture_is(account: dict[str, Any], sheet: str) -> None:
    """A machine's name of megabytes would take minutes to lay out; the record has all of it."""
    text = page({**account, "vehicle": "Ostrel " * 100_000}, sheet)
    assert len(text) < 200_000
    assert "Ostrel Ostrel" in seen(text).text
    assert text.count("<svg") == page(account, sheet).count("<svg")


def test_a_clock_that_was_set_is_told(account: dict[str, Any]) -> None:
    """How often, when, which way and how far; a computer that may have slept is not accused."""
    back = {"n": 7, "at": "2026-03-02T09:30:04.000Z", "before": "2026-03-02T10:30:02.000Z"}
    forth = {"n": 9, "at": "2026-03-03T09:31:00.000Z", "before": "2026-03-02T09:31:00.000Z"}

    def told(*steps: dict[str, object]) -> str:
        return " ".join(seen(page({**account, "clock_set": list(steps)})).text.split())

    assert "clock was set" not in told()
    once = told({**back, "seconds": -3600.0})
    assert "set once while this job was open (at 10:30 back by 60 min, to 09:30):" in once
    both = told({**back, "seconds": -3600.0}, {**forth, "seconds": 86_400})
    assert "set 2 times while this job was open, or the computer slept (at 10:30 back" in both
    assert "to 09:30; at 09:31 forward by 24 h, to 09:31): times of day are as it showed" in both
    assert "; 2 more in the record)" in told(*[{**back, "seconds": -3.0}] * 6)

"""The report: everything of the account is on it, nothing on it is a trick, nothing is fetched."""

from __future__ import annotations

import html.parser
from typing import Any

import pytest

from assistant.accounts import account_of
from assistant.report.page import SHEETS, page
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
    ],
)
def test_what_people_write_is_text(account: dict[str, Any], sheet: str, hostile: str) -> None:
    """A vehicle's name, a note of a trouble or a shop's name stays text on the page."""
    troubles = [{**account["troubles"][0], "text": hostile, "cleared": False}]
    changed = {**account, "vehicle": hostile, "troubles": troubles}
    found = seen(page(changed, sheet, hostile))
    assert not {"script", "img"} & set(found.tags)
    assert hostile in found.text


@pytest.mark.parametrize("sheet", SHEETS)
def test_an_open_job_is_told_as_open(account: dict[str, Any], sheet: str) -> None:
    """Nobody takes the page of a job that goes on for that of one that is done."""
    text = seen(page({**account, "status": "stopped", "ended": "", "seal": None}, sheet)).text
    assert "not released" in text or "not finished" in text
    assert "Not sealed" in text

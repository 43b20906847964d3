"""The notice: what it says is what the shop's file says."""

from __future__ import annotations

import itertools

import pytest

from assistant.errors import BadInput
from assistant.report.notice import Keeping, notice_lines, notice_of, notice_page
from tests.real_parts import require
from tests.report.test_page import seen

DAY = "2026-03-02"


def _text(keeping: Keeping, shop: str = "") -> str:
    return "\n".join(notice_lines(notice_of(keeping, DAY), shop))


@pytest.mark.parametrize(
    ("clips", "days", "store"), list(itertools.product((True, False), (None, 90), (True, False)))
)
def test_it_is_true_of_what_is_kept(*, clips: bool, days: int | None, store: bool) -> None:
    """Sound, days and store are each told as they are, and nothing is left open in a sentence."""
    text = _text(Keeping(clips, days, store=store))
    assert ("a short sound clip" in text) is clips
    assert ("No sound is kept" in text) is not clips
    assert ("90 days after" in text) is (clips and days is not None)
    assert ("the shop's store" in text) is store
    assert ("then\n  from" in text or "and then from the shop's store" in text) is store
    assert "{" not in text
    assert DAY in text


def test_every_part_says_something() -> None:
    """What, what for, how long, where, how to have it removed."""
    notice = notice_of(Keeping(), DAY)
    assert len(notice.parts) == 6
    assert all(len(part.text) > 20 for part in notice.parts)


def test_whom_to_ask() -> None:
    """The shop's own words, or the notice's."""
    assert "Ask Mara at the counter." in _text(Keeping(contact="Mara at the counter"))
    assert "Ask whoever runs this shop." in _text(Keeping())


def test_the_page_holds_the_text_and_no_trick() -> None:
    """All parts stand on the page; what the shop wrote is text, braces included."""
    trick = "<script>alert(1)</script> {0.__class__} {days}"
    notice = notice_of(Keeping(contact=trick), DAY)
    found = seen(notice_page(notice, trick))
    assert "script" not in found.tags
    assert found.text.count(trick) == 2
    for part in notice.parts:
        assert part.text in found.text


@pytest.mark.parametrize("language", ["xx", "../en", "", "en/.."])
def test_a_language_without_a_notice(language: str) -> None:
    """It is refused, and nothing outside the texts is looked for."""
    with pytest.raises(BadInput, match="no notice"):
        notice_of(Keeping(), DAY, language)


@pytest.mark.filterwarnings("ignore:HarfBuzz-Subset:DeprecationWarning")  # an older Debian
@pytest.mark.parametrize("store", [True, False])
def test_it_is_one_page_to_hang_up(*, store: bool) -> None:
    """With the longest texts, and as long a contact as the shop's file may have."""
    try:
        from weasyprint import HTML  # noqa: PLC0415 - needs the system's Pango
    except (ImportError, OSError) as problem:
        require(None, str(problem))
        return
    notice = notice_of(Keeping(clips=True, days=36_525, store=store, contact="Mara " * 40), DAY)
    made = HTML(string=notice_page(notice, "Wren Lane Cycle Works " * 3)).render()
    assert len(made.pages) == 1

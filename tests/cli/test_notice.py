"""`gloveson notice`."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.people import SHOP_FILE

SHOP = 'shop: Wren Lane Cycle Works\nclip_days: 90\nnotice: "Mara\\e[2J, at the counter"\n'


def test_the_notice_goes_by_the_shop_s_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Printed for people to read, and written as a page to print."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    (tmp_path / SHOP_FILE).write_text(SHOP, encoding="utf-8")
    assert main(["notice"]) == 0
    text = capsys.readouterr().out
    assert "Wren Lane Cycle Works" in text
    assert "90 days" in text
    assert "Mara?[2J, at the counter" in text
    page = tmp_path / "notice.html"
    assert main(["notice", "--html", str(page)]) == 0
    assert "90 days" in page.read_text(encoding="utf-8")
    assert main(["notice", "--language", "xx"]) == 2
    assert main(["notice", "--html", str(tmp_path)]) == 2


@pytest.mark.parametrize(
    "line", ["clip_days: -1", "clip_days: often", "clips: 7", "clip_days: 1e9"]
)
def test_a_wrong_rule_is_told(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No notice and no removal by a rule that is none; the file and line are named."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    (tmp_path / SHOP_FILE).write_text(f"{line}\n", encoding="utf-8")
    assert main(["notice"]) == 2
    assert main(["retain"]) == 2
    assert f"{SHOP_FILE}:1" in capsys.readouterr().err

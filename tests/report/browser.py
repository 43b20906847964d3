"""A real browser without a window: Debian's Chromium, driven by Selenium, offline."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING

from tests.real_parts import require

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

_ARGUMENTS = (
    "--headless=new",
    "--no-sandbox",  # tests run as root in a container, where Chromium's own sandbox can't
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--mute-audio",
    "--autoplay-policy=no-user-gesture-required",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--window-size=1100,900",
)


@contextmanager
def browser() -> Iterator[Chrome]:
    """A fresh browser; the test is skipped where there is none, and fails so in CI."""
    program, driver = shutil.which("chromium"), shutil.which("chromedriver")
    require(
        program and driver and find_spec("selenium"),
        "no browser to drive (apt install chromium chromium-driver; pip install selenium)",
    )
    from selenium.webdriver import Chrome, ChromeOptions  # noqa: PLC0415 - may be missing
    from selenium.webdriver.chrome.service import Service  # noqa: PLC0415 - as above

    options = ChromeOptions()
    options.binary_location = str(program)
    for argument in _ARGUMENTS:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    # With the driver's path given, Selenium looks for none and asks no network.
    driven = Chrome(options=options, service=Service(str(driver)))
    try:
        yield driven
    finally:
        driven.quit()

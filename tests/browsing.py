"""A real headless Chromium for the tests of pages."""

import os
import shutil
from contextlib import contextmanager

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


def find_chromium():
    """Return the browser's path; without one the test is skipped, but never in CI."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None and os.environ.get("CI"):
        pytest.fail("CI must install chromium (apt-get install chromium)")
    if found is None:
        pytest.skip("no chromium is installed")
    return found


@contextmanager
def running_browser():
    """Start a browser; a fixture keeps it for the tests of a module."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=find_chromium(), args=["--no-sandbox", "--disable-gpu"]
        )
        yield browser
        browser.close()


@contextmanager
def open_page(browser, address, **context):
    """Open an address; what it asks for, says in dialogs and gets wrong is kept with the page."""
    page = browser.new_page(**context)
    page.set_default_timeout(60_000)
    page.asked, page.said, page.faults = [], [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("dialog", lambda dialog: (page.said.append(dialog.message), dialog.dismiss()))
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on(
        "console",
        lambda message: page.faults.append(message.text) if message.type == "error" else None,
    )
    page.goto(address)
    yield page
    page.close()

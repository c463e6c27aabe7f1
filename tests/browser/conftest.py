"""One browser for all tests of a module of this folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import browser, complaints, requested
from listening_seat import make_page_of_two_parts, opened
from selenium.webdriver import Chrome


@pytest.fixture(scope="module")
def one_browser() -> Iterator[Chrome]:
    """Give a browser, whatever an earlier test left in it; it is led over a socket others would find."""
    driver = browser()
    yield driver
    driver.quit()


@pytest.fixture
def chromium(one_browser: Chrome) -> Chrome:
    """Give the browser with an empty page and empty logs. Its tests are marked `needs.needs_browser`."""
    one_browser.get("about:blank")
    requested(one_browser)
    complaints(one_browser)
    return one_browser


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a listening page of two parts."""
    return make_page_of_two_parts(tmp_path_factory.mktemp("page"))


@pytest.fixture
def page(chromium: Chrome, folder: Path) -> Iterator[Chrome]:
    """Give that page, opened from disk on a large screen."""
    yield opened(chromium, folder)
    chromium.execute_script("localStorage.clear()")

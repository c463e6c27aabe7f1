"""Somebody at a listening page: what is made for it, what is pressed and what is seen there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from accidents import wait_for
from browsing import DESK, sized
from listening_pages import made, noise, session_of
from selenium.webdriver import Chrome
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By

PART, OTHER = "riff", "hook & 'left'"
SECONDS = 5.0


def make_page_of_two_parts(where: Path) -> Path:
    """Make a page; its first part has three variants, an original and a backing track; 2 s a bar."""
    mics = [{"close": noise(seed, seconds=SECONDS)} for seed in (1, 2, 3)]
    session = session_of(
        where,
        {PART: mics, OTHER: mics[:2]},
        originals={"close": noise(4, seconds=SECONDS)},
        backing=np.stack([noise(8, seconds=4.0), noise(9, seconds=4.0)], axis=1),
    )
    made(session, [(PART, 1), (PART, 2), (PART, 3), (OTHER, 1), (OTHER, 2)], where / "listen")
    return where / "listen"


def opened(chromium: Chrome, folder: Path) -> Chrome:
    """Open the page from disk on a large screen."""
    sized(chromium, DESK)
    chromium.get(f"file://{folder}/index.html")
    return chromium


def press(page: Chrome, *keys: str) -> None:
    ActionChains(page).send_keys(*keys).perform()


def seen(page: Chrome, script: str) -> Any:
    return page.execute_script(f"const page = secondpass.page; return {script};")


def states(page: Chrome) -> list[str]:
    return [
        one.get_attribute("textContent") for one in page.find_elements(By.CSS_SELECTOR, ".state")
    ]


def until(page: Chrome, script: str) -> None:
    wait_for(lambda: bool(seen(page, script)), f"never: {script}", limit_s=10.0)

"""The recall sheet in a browser and on paper."""

from __future__ import annotations

import base64
import re
import subprocess
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from browsing import DESK, PHONE, complaints, requested, sized, violations
from msgspec.structs import replace
from needs import needs_browser, needs_program
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.common.print_page_options import PrintOptions
from unit.sheet_cases import everything, file_told, microphone

from audio.handover.pictures import Curve, draw_thirds, draw_wave
from audio.handover.sheet import sheet_page
from audio.vocab.sheet import BarMark, Sheet, SheetSound, SoundTold

pytestmark = [needs_browser(), needs_program("pdftotext", package="poppler-utils")]

LONG = "x" * 80
"""A name without a place to break it, as long as they can be."""

NAMES = ("close", "edge", "ribbon", "room", "floor", "hall", LONG, "\u05d7\u05d3\u05e8")
"""Eight microphones, the last one's name written from right to left."""

CM_PER_POINT = 2.54 / 72
MARGIN_CM = 1.3
PAPERS = {"A4": (21.0, 29.7), "US Letter": (21.59, 27.94)}


def wave() -> str:
    shape = (np.hanning(600) * 2.0**14).astype(np.int16)
    bars = tuple(BarMark(at_s=2.0 * one, bar=one + 1) for one in range(150))
    return draw_wave(
        -shape, shape, from_s=0.0, bin_s=0.5, to_s=300.0, phrase=(40.0, 55.0), bars=bars
    )


def drawn(told: SoundTold | None, names: tuple[str, ...]) -> SoundTold:
    """Return a sound of these microphones with real pictures."""
    assert told is not None
    files = tuple(file_told(name, -20.0 - at, wave=wave()) for at, name in enumerate(names))
    hz = tuple(one.hz for one in files[0].levels.thirds)
    curves = [Curve(str(at), hz, (at - 12.0,) * len(hz)) for at, _ in enumerate(files, 1)]
    thirds = draw_thirds(curves, [Curve("a", hz, (-30.0,) * len(hz))])
    return replace(told, files=files, thirds=thirds)


def crowded(sound: SheetSound, number: int) -> SheetSound:
    files = tuple(microphone(name, 2 + at) for at, name in enumerate(NAMES))
    return replace(
        sound,
        chain_name=f"chain {number}",
        variant=replace(sound.variant, number=number, files=files),
        told=drawn(sound.told, NAMES),
        photos=(),
    )


def sheet() -> Sheet:
    """Return three sounds, two of them with many microphones; some names are as long as they can be."""
    whole = everything(lambda name: f"{name} {LONG}" if name in ("drive", "knob", "song") else name)
    part = whole.parts[0]
    first = part.sounds[0]
    plain = replace(first, told=drawn(first.told, ("close", "room")), photos=first.photos[1:])
    sounds = (plain, *(crowded(first, number) for number in (4, 5)))
    return replace(whole, parts=(replace(part, sounds=sounds),))


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("handed over") / "recall.html"
    path.write_text(sheet_page(sheet()), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a page with one of everything, which axe-core reads through sooner."""
    path = tmp_path_factory.mktemp("small") / "recall.html"
    path.write_text(sheet_page(everything()), encoding="utf-8")
    return path


@pytest.fixture
def opened(chromium: Chrome, page: Path) -> Iterator[Chrome]:
    chromium.get(page.as_uri())
    yield chromium
    chromium.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_it_asks_for_nothing_but_itself_and_all_pictures_are_there(
    opened: Chrome, page: Path
) -> None:
    outside = [one for one in requested(opened) if not one.startswith("data:")]
    assert outside == [page.as_uri()]
    assert complaints(opened) == []
    widths = opened.execute_script("return [...document.images].map(one => one.naturalWidth)")
    assert len(widths) == 3 + 2 * (1 + len(NAMES))
    assert min(widths) > 0


@pytest.mark.parametrize(
    ("size", "light", "paper"),
    [
        (PHONE, "light", "rgb(255, 255, 255)"),
        (DESK, "light", "rgb(255, 255, 255)"),
        (PHONE, "dark", "rgb(22, 24, 27)"),
    ],
)
def test_axe_finds_nothing_serious(
    opened: Chrome, small: Path, size: tuple[int, int], light: str, paper: str
) -> None:
    features = [{"name": "prefers-color-scheme", "value": light}]
    opened.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    try:
        opened.get(small.as_uri())
        sized(opened, size)
        told = "return getComputedStyle(document.documentElement).backgroundColor"
        assert opened.execute_script(told) == paper
        assert violations(opened) == []
    finally:
        opened.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


@pytest.mark.parametrize("width", [320, 360, 1600])
def test_the_page_never_scrolls_sideways(opened: Chrome, width: int) -> None:
    sized(opened, (width, 740))
    assert opened.execute_script("return document.documentElement.scrollWidth") <= width


def test_a_wide_table_scrolls_in_its_own_box_by_keys(opened: Chrome) -> None:
    sized(opened, PHONE)
    box = opened.find_elements(By.CSS_SELECTOR, ".wide.bands")[-1]
    assert opened.execute_script("return arguments[0].scrollWidth > arguments[0].clientWidth", box)
    opened.execute_script("arguments[0].focus()", box)
    assert opened.switch_to.active_element == box
    box.send_keys(Keys.ARROW_RIGHT)
    moved = "const done = arguments[1], box = arguments[0]; box.addEventListener('scroll', () => done(1));"
    if not opened.execute_script("return arguments[0].scrollLeft", box):
        opened.execute_async_script(moved, box)
    assert opened.execute_script("return arguments[0].scrollLeft", box) > 0


def test_the_contents_lead_to_each_sound_and_are_large_enough_to_touch(opened: Chrome) -> None:
    sized(opened, PHONE)
    links = opened.find_elements(By.CSS_SELECTOR, "nav a")
    assert len(links) == 4
    assert min(one.rect["height"] for one in links) >= 44
    links[-1].click()
    top = "return document.querySelector('#sound-1-3').getBoundingClientRect().top"
    assert abs(opened.execute_script(top)) < PHONE[1]


# ------------------------------------------------------------------ on paper


@pytest.fixture(scope="module", params=PAPERS)
def printed(
    request: pytest.FixtureRequest,
    one_browser: Chrome,
    page: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Path, tuple[float, float]]:
    """Give the sheet as Chromium prints it, at its own size: nothing is shrunk to fit."""
    options, size = PrintOptions(), PAPERS[request.param]
    options.page_width, options.page_height = size
    options.margin_left = options.margin_right = MARGIN_CM
    options.margin_top = options.margin_bottom = 1.4
    options.shrink_to_fit = False
    one_browser.get(page.as_uri())
    path = tmp_path_factory.mktemp("printed") / "recall.pdf"
    path.write_bytes(base64.b64decode(one_browser.print_page(options)))
    return path, size


def told_by(*command: str) -> str:
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stdout


def closed_up(text: str) -> str:
    """Return text without blanks, which is how lines were broken, and with letters taken apart."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))


def test_every_setting_and_figure_is_on_paper(
    printed: tuple[Path, tuple[float, float]], one_browser: Chrome
) -> None:
    paper = closed_up(told_by("pdftotext", "-raw", str(printed[0]), "-"))
    held = ".chain .thing, .chain .settings > span, td, dd, .how li"
    read = f"return [...document.querySelectorAll({held!r})].map(one => one.textContent)"
    wanted = {closed_up(one) for one in one_browser.execute_script(read)}
    hebrew = closed_up(NAMES[-1])  # its letters come in the other order
    assert len(wanted) > 60
    assert [one for one in wanted if one not in paper and hebrew not in one] == []


def test_nothing_is_cut_off_at_the_edge_of_the_paper(
    printed: tuple[Path, tuple[float, float]],
) -> None:
    path, (width, height) = printed
    whole = ET.fromstring(told_by("pdftotext", "-bbox", str(path), "-"))  # noqa: S314 - poppler wrote it
    pages = [one for one in whole.iter() if one.tag.endswith("page")]
    assert len(pages) >= 6
    for one in pages:
        assert float(one.attrib["width"]) * CM_PER_POINT == pytest.approx(width, abs=0.05)
        assert float(one.attrib["height"]) * CM_PER_POINT == pytest.approx(height, abs=0.05)
        for word in one:
            right = float(word.attrib["xMax"]) * CM_PER_POINT
            left = float(word.attrib["xMin"]) * CM_PER_POINT
            assert MARGIN_CM - 0.05 <= left <= right <= width - MARGIN_CM + 0.05, word.text
            assert 0 <= float(word.attrib["yMin"]) <= float(word.attrib["yMax"])
            assert float(word.attrib["yMax"]) * CM_PER_POINT <= height


def test_each_sound_begins_on_a_page_of_its_own(printed: tuple[Path, tuple[float, float]]) -> None:
    pages = told_by("pdftotext", "-raw", str(printed[0]), "-").split("\f")
    begins = [at for at, text in enumerate(pages) if "The chain\n" in text]
    assert len(set(begins)) == 3
    for at, title in zip(begins[1:], ("004 chain 4", "005 chain 5"), strict=True):
        # in front of it stand only song and part
        assert pages[at].index(title) < 200


def test_pictures_and_tables_stay_in_one_piece(printed: tuple[Path, tuple[float, float]]) -> None:
    """The level in a waveform stands on the page of its caption; a table's rows on that of its head."""
    pages = told_by("pdftotext", "-raw", str(printed[0]), "-").split("\f")
    for text in pages:
        caption = closed_up("the whole recording; the phrase is shaded")
        assert closed_up(text).count(caption) == text.count("−6.0 dBFS")
    whole = [text for text in pages if "The microphones, whole recording" in text]
    assert len(whole) == 3
    for text in whole[1:]:
        assert min(text.count(f"{name} ") for name in NAMES[:-2]) >= 1

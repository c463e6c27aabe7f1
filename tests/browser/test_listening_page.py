"""The listening page in a browser: in step to the frame, from disk and from servers, by keyboard, blind."""

from __future__ import annotations

import re
import shutil
import unicodedata
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event

import pytest
from accidents import wait_for
from browsing import DESK, PHONE, complaints, requested, served, sized, violations
from listening_pages import NAME, RATE, TOKEN, made, noise, parsed, session_of
from listening_seat import OTHER, PART, opened, press, seen, states, until
from needs import needs_browser
from selenium.webdriver import Chrome
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

pytestmark = needs_browser()

# ------------------------------------------------------------------ opened, from anywhere


@contextmanager
def held(folder: Path, keep_back: str, let_go: Event) -> Iterator[str]:
    """Serve a folder, but what matches only once somebody lets it go."""

    def wait(path: str) -> None:
        if re.search(keep_back, path):
            let_go.wait(30)

    with served(folder, before=wait) as address:
        try:
            yield address
        finally:
            let_go.set()


EAR = """(() => {
  if (!page.playing) return false;
  page.ear ??= page.player.context.createAnalyser();
  page.player.door.connect(page.ear);
  const heard = new Float32Array(2048);
  page.ear.getFloatTimeDomainData(heard);
  return heard.some((one) => Math.abs(one) > 0.01);
})()"""


def plays_here(page: Chrome, address: str) -> None:
    page.get(f"{address}/index.html")
    press(page, Keys.SPACE)
    until(page, EAR)
    assert {one for one in requested(page) if not one.startswith((address, "data:,"))} == set()
    assert complaints(page) == []
    press(page, Keys.SPACE)
    until(page, "!page.playing")


def test_from_disk_it_plays_and_asks_for_nothing_but_its_own_files(
    chromium: Chrome, folder: Path
) -> None:
    plays_here(chromium, f"file://{folder}")


def test_from_a_plain_server_it_does_as_well(chromium: Chrome, folder: Path) -> None:
    with served(folder) as address:
        plays_here(chromium, address)


def test_nothing_sounds_before_somebody_presses_play(page: Chrome) -> None:
    assert seen(page, "[page.playing, page.contexts.size]") == [False, 0]
    page.find_elements(By.CSS_SELECTOR, ".sound")[1].click()
    assert seen(page, "[page.playing, page.contexts.size]") == [False, 0]


def test_it_plays_while_it_still_loads(chromium: Chrome, folder: Path) -> None:
    sounds = parsed(folder).data["parts"][0]["sounds"]
    late, let_go = sounds[1]["track"]["id"], Event()
    with held(folder, f"{late}|-1\\.js", let_go) as address:
        chromium.get(f"{address}/index.html")
        press(chromium, Keys.SPACE)
        until(chromium, "page.playing")
        until(chromium, "page.player.place(page.player.now()) > 4800")
        assert states(chromium)[:2] == ["playing", "loading…"]
        press(chromium, "2")
        assert states(chromium)[:2] == ["", "loading…"]
        let_go.set()
        wait_for(lambda: states(chromium)[1] == "playing", "it never joined", 10.0)
    assert complaints(chromium) == []


def test_playing_waits_for_what_is_heard_and_goes_on_where_it_was(
    chromium: Chrome, folder: Path
) -> None:
    heard, let_go = parsed(folder).data["parts"][0]["sounds"][0]["track"]["id"], Event()
    with held(folder, f"{heard}-1\\.js", let_go) as address:
        chromium.get(f"{address}/index.html")
        seen(chromium, f"page.current.position = {2 * RATE - 4800}")
        press(chromium, Keys.SPACE)
        until(chromium, "page.playing")
        until(chromium, "page.waiting")
        assert states(chromium)[0] == "loading…"
        assert abs(seen(chromium, "page.player.position") - 2 * RATE) < 0.3 * RATE
        let_go.set()
        until(chromium, f"page.playing && page.player.place(page.player.now()) > {2.2 * RATE}")


def test_a_missing_piece_is_named_with_the_way_out_and_the_rest_plays(
    chromium: Chrome, folder: Path, tmp_path: Path
) -> None:
    copied = shutil.copytree(folder, tmp_path / "copied")
    track = parsed(folder).data["parts"][0]["sounds"][1]["track"]["id"]
    (copied / f"sounds/{track}-0.js").unlink()
    opened(chromium, copied)
    press(chromium, Keys.SPACE)
    until(chromium, "page.playing")
    wait_for(lambda: states(chromium)[1] == "missing", "it was never told", 10.0)
    told = chromium.find_element(By.ID, "trouble").text
    assert told == f"sounds/{track}-0.js is missing: copy the whole folder, with everything in it."
    assert states(chromium)[0] == "playing"


def test_a_browser_that_cannot_is_told_so_in_one_sentence(chromium: Chrome, folder: Path) -> None:
    for spoil, words in (
        (
            "delete window.AudioContext",
            "This browser has no Web Audio: open this page in a newer one",
        ),
        (
            "OfflineAudioContext.prototype.decodeAudioData = () => Promise.reject(new Error('no'))",
            "It is FLAC: open this page in a newer browser",
        ),
    ):
        added = chromium.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": spoil})
        try:
            chromium.get(f"file://{folder}/index.html")
            wait_for(
                lambda said=words: said in chromium.find_element(By.ID, "trouble").text, words, 10.0
            )
        finally:
            chromium.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


def test_of_decoded_sound_what_was_not_heard_for_longest_is_let_go(page: Chrome) -> None:
    kept = page.execute_script("""
        const store = new secondpass.Store({ budget: 3 * 400 });
        const buffer = () => new AudioBuffer({ length: 100, sampleRate: 48000, numberOfChannels: 1 });
        const keep = (number) => store.keep(`a-${number}`, buffer());
        [0, 1, 2].forEach(keep);
        store.get("a", 0);
        keep(3);
        store.wanted = [{ id: "a", number: 2, rate: 48000 }]; // about to be played
        keep(4);
        return [[...store.kept.keys()], store.size];
    """)
    assert kept == [["a-2", "a-3", "a-4"], 1200]


def test_a_browser_that_remembers_nothing_lets_one_choose_all_the_same(
    chromium: Chrome, folder: Path
) -> None:
    spoil = (
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('denied'); } })"
    )
    added = chromium.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": spoil})
    try:
        opened(chromium, folder)
        chromium.find_element(By.CSS_SELECTOR, ".choose").click()
        chromium.find_element(By.ID, "by").send_keys("Ana")
        text = chromium.find_element(By.ID, "text").get_attribute("value")
        assert f"{PART}: 001" in checked(text)
        assert complaints(chromium) == []
    finally:
        chromium.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


# ------------------------------------------------------------------ hands and eyes


@pytest.mark.parametrize(
    ("size", "light"), [(PHONE, "dark"), (DESK, "light")], ids=["phone, dark", "desk, light"]
)
def test_axe_finds_nothing_serious_and_nothing_is_wider_than_the_screen(
    page: Chrome, size: tuple[int, int], light: str
) -> None:
    sized(page, size)
    scheme = {"features": [{"name": "prefers-color-scheme", "value": light}]}
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", scheme)
    page.execute_script("document.querySelector('#more').open = true")
    press(page, Keys.SPACE)
    until(page, "page.playing")
    page.find_element(By.ID, "hide-all").click()
    page.execute_script("document.querySelector('.choose').click()")
    assert violations(page) == []
    for width in (size[0], 320):
        sized(page, (width, size[1]))
        assert page.execute_script("return document.documentElement.scrollWidth <= innerWidth")
    small = page.execute_script(
        "return [...document.querySelectorAll('button, input:not([type=checkbox]), summary, label.check')]"
        ".map((one) => [one.id || one.className, one.getBoundingClientRect()])"
        ".filter(([_, box]) => box.height && (box.height < 44 || box.width < 44)).map(([name]) => name)"
    )
    assert small == []
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def checked(text: str) -> str:
    """Return what a choice says, its checksum found right by zlib."""
    lines = text.strip().split("\n")
    assert lines[0] == "secondpass choice"
    summed = unicodedata.normalize("NFC", "".join(lines[1:-1]))
    kept = "".join(c for c in summed if unicodedata.category(c)[0] in "LN")
    assert lines[-1] == f"end of choice {zlib.crc32(kept.encode()):08x}"
    return "\n".join(lines[1:-1])


def test_by_keyboard_alone_one_plays_flips_loops_chooses_and_copies(page: Chrome) -> None:
    press(page, Keys.SPACE)
    until(page, "page.playing")
    press(page, "3")
    assert seen(page, "[page.current.heard, page.player.heard]") == [2, 2]
    assert page.find_element(By.ID, "said").get_attribute("textContent") == f"{PART}, 3: echo"
    press(page, Keys.ARROW_LEFT)
    assert states(page)[:3] == ["", "playing", ""]
    pressed = [
        one.get_attribute("aria-pressed") for one in page.find_elements(By.CSS_SELECTOR, ".sound")
    ]
    assert pressed == ["false", "true", "false", "false", "false", "false"]
    press(page, "]")
    assert seen(page, "[page.current.loop.from, page.current.loop.to]") == [0, 2 * RATE]
    press(page, "b")
    assert seen(page, "[page.player.backing, page.backingOn]") == [0, False]
    press(page, "w", Keys.SPACE)
    until(page, "!page.playing")
    # from the top by Tab: hide all, hide, sound 1, choose 1, sound 2, choose 2, …
    press(page, *[Keys.TAB] * 6, Keys.ENTER)
    back = ActionChains(page).key_down(Keys.SHIFT).send_keys(Keys.TAB, Keys.TAB).key_up(Keys.SHIFT)
    back.send_keys(Keys.SPACE).perform()
    while not seen(page, "document.activeElement.matches('.words')"):
        press(page, Keys.TAB)
    press(page, "more bite,  and the 'tail' is right")
    while not seen(page, "document.activeElement.matches('#by')"):
        press(page, Keys.TAB)
    press(page, "Zoë 2 b", Keys.TAB, Keys.TAB)
    assert seen(page, "document.activeElement.id") == "copy"
    assert checked(page.find_element(By.ID, "text").get_attribute("value")) == "\n".join(
        [
            f"for: {NAME} {TOKEN}",
            "by: Zoë 2 b",
            "blind: no",
            f"{PART}: 002, 001",
            "words: more bite, and the 'tail' is right",
            f"{OTHER}: nothing",
        ]
    )
    press(page, Keys.ENTER)
    copied = page.find_element(By.ID, "copied")
    wait_for(lambda: copied.text != "", "nobody said whether it was copied", 10.0)
    assert copied.text in (
        "Copied. Paste it into a mail or a message.",
        "The browser did not let it be copied: the text is selected, copy it by hand.",
    )
    assert not seen(page, "page.playing")


def test_a_loop_can_be_typed_stepped_and_is_never_empty(page: Chrome) -> None:
    loop = "[page.current.loop.from, page.current.loop.to]"
    page.find_element(By.ID, "from-more").click()
    assert seen(page, loop) == [2 * RATE, 5 * RATE]
    assert page.find_element(By.ID, "loop-words").text == "bars 2 to 3"
    page.find_element(By.ID, "to-less").click()
    assert seen(page, loop) == [2 * RATE, 4 * RATE]
    page.find_element(By.ID, "to-less").click()
    assert seen(page, loop) == [0, 2 * RATE]
    field = page.find_element(By.ID, "from")
    field.clear()
    field.send_keys("99", Keys.TAB)
    assert seen(page, loop) == [4 * RATE, 5 * RATE]
    page.find_element(By.ID, "whole").click()
    assert seen(page, loop) == [0, 5 * RATE]


def test_without_a_tempo_a_loop_goes_by_seconds(chromium: Chrome, tmp_path: Path) -> None:
    session = session_of(tmp_path, {PART: [{"close": noise(1, seconds=3.3)}]}, bpm=None)
    made(session, [(PART, 1)], tmp_path / "listen")
    page = opened(chromium, tmp_path / "listen")
    assert page.find_element(By.ID, "loop-words").text == "the whole part"
    page.find_element(By.ID, "from-more").click()
    page.find_element(By.ID, "to-less").click()
    assert seen(page, "[page.current.loop.from, page.current.loop.to]") == [RATE, 2 * RATE]
    assert page.find_element(By.ID, "loop-words").text == "0:01 to 0:02"
    fields = [page.find_element(By.ID, name).get_attribute("value") for name in ("from", "to")]
    assert fields == ["1", "2"]
    assert "bar" not in page.find_element(By.ID, "place").text


def test_blind_shows_no_name_keeps_the_text_back_and_says_so_in_it(page: Chrome) -> None:
    titles = ("fuzz", "crunch", "echo", "original", "variant 0", "LUFS")
    page.find_element(By.CSS_SELECTOR, ".hide").click()
    part = page.find_element(By.CSS_SELECTOR, ".part")
    names = page.execute_script(
        "return [...arguments[0].querySelectorAll('[aria-label], [aria-labelledby]')].map((one) =>"
        " one.getAttribute('aria-label') ?? one.getAttribute('aria-labelledby').split(' ')"
        ".map((id) => document.getElementById(id).textContent).join(' ')).join('; ')",
        part,
    )
    everywhere = part.text + names + page.find_element(By.CSS_SELECTOR, ".player").text
    assert not [one for one in titles if one in everywhere]
    assert [one.text for one in part.find_elements(By.CSS_SELECTOR, ".name")] == [
        "A",
        "B",
        "C",
        "D",
    ]
    order = seen(page, "page.views[0].order()")
    assert sorted(order) == [0, 1, 2, 3]
    part.find_elements(By.CSS_SELECTOR, ".choose")[1].click()
    page.execute_script(
        "document.querySelector('#by').value = 'Ana'; page = secondpass.page; page.choiceChanged()"
    )
    text = page.find_element(By.ID, "text")
    assert text.get_attribute("value") == ""
    assert "Names are still hidden" in page.find_element(By.ID, "ask").text
    page.find_element(By.CSS_SELECTOR, ".hide").click()
    assert "fuzz" in part.text
    page.execute_script("secondpass.page.choiceChanged()")
    key = ["001", "002", "003", "original:close"][order[1]]
    said = checked(text.get_attribute("value")).split("\n")
    assert said[2:4] == ["blind: yes", f"{PART}: {key}"]
    # a choice in another part with the names in sight: not all of it was made blind
    page.find_elements(By.CSS_SELECTOR, ".part")[1].find_element(By.CSS_SELECTOR, ".choose").click()
    assert checked(text.get_attribute("value")).split("\n")[2] == "blind: no"


def test_hidden_orders_are_drawn_anew(page: Chrome) -> None:
    drawn = set()
    for _ in range(30):
        seen(page, "page.views[0].hide()")
        drawn.add(tuple(seen(page, "page.views[0].order()")))
        seen(page, "page.views[0].reveal()")
    # of 24 orders 30 draws show 17.3 on average; fewer than 9 would be one in ten million
    assert len(drawn) >= 9


def test_what_was_chosen_is_there_again_after_a_reload(page: Chrome, folder: Path) -> None:
    seen(page, "[page.views[0].choose(2), page.views[0].choose(3)]")
    page.execute_script(
        "document.querySelector('#by').value = 'Ana'; document.querySelector('.words').value = 'this one';"
        "secondpass.page.choiceChanged()"
    )
    page.get(f"file://{folder}/index.html")
    text = checked(page.find_element(By.ID, "text").get_attribute("value"))
    assert f"{PART}: 003, original:close\nwords: this one" in text

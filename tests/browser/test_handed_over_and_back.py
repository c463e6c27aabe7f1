"""A whole hand-over as it leaves the building: opened, listened to, chosen from, and the choice read back.

Everything in the session has a name that tries to break out of wherever it is written.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from accidents import wait_for
from browsing import DESK, complaints, requested, served, sized
from handed import RATE, evening, keep, left
from needs import needs_browser
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from audio.jobs.choices import choices
from audio.jobs.deck import StoppedError
from audio.jobs.handing.handing import hand_over
from audio.session.history import history
from audio.session.opened import Session
from audio.session.opinions import opinion_of, say
from audio.vocab.handover import HandedOver, HandoverAsked
from audio.work.client import Worker

pytestmark = [needs_browser(), pytest.mark.slow]

NAME = '</script><img src=x onerror="window.broken=1">[/] \u05e9\u05dc\u05d5\u05dd ";=1+1'
PARTS = ("rhythm-left", "אמא 'n' &amp;")
ASKED = HandoverAsked(flac=True, blends=True, also=("backing", "di", "originals"))


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    folder = tmp_path_factory.mktemp("handed")
    made = evening(folder, name=NAME, song=NAME[:60], parts=PARTS, frames=2 * RATE)
    for part in PARTS:
        for seed in (7, 20):
            number = left(made, part, chain=NAME, seed=seed, frames=2 * RATE + 500)
            keep(made, number, part, room_db=-6.0)
            say(made, part, number, words=NAME, called=NAME)
    return made


@pytest.fixture(scope="module")
def done(session: Session) -> HandedOver:
    """Hand over, stopped a few steps later each time: what lies there in the end is whole all the same."""
    with Worker() as worker:
        for steps in range(1, 400, 7):
            left_over = iter(range(steps))
            try:
                return hand_over(
                    session,
                    worker,
                    ASKED,
                    out=None,
                    shown=lambda _: None,
                    stop=lambda those=left_over: next(those, None) is None,
                )
            except StoppedError:
                continue
    raise AssertionError("it never came to its end")


def test_stopped_again_and_again_everything_is_there_once_and_whole(
    session: Session, done: HandedOver
) -> None:
    assert (done.resumed, done.sounds, done.left_out) == (True, 4, ())
    folder = Path(done.folder)
    subprocess.run(["sha256sum", "--check", "--quiet", "SHA256SUMS"], cwd=folder, check=True)
    for one in folder.rglob("*"):
        assert not one.name.endswith((".part", ".tmp"))
        assert one.name.isprintable()
    assert len(list((session.folder / "handover").iterdir())) == 1


def test_nothing_of_this_machine_leaves_the_building(session: Session, done: HandedOver) -> None:
    here = str(session.folder).encode()
    for one in Path(done.folder).rglob("*"):
        assert not (one.is_file() and here in one.read_bytes()), one


@pytest.mark.parametrize("name", ["recall.html", "listen/index.html"])
def test_hostile_names_are_shown_as_they_are_and_break_nothing(
    chromium: Chrome, done: HandedOver, name: str
) -> None:
    chromium.get(f"file://{done.folder}/{name}")
    assert chromium.execute_script("return window.broken") is None
    assert 'onerror="window.broken=1"' in chromium.find_element(By.TAG_NAME, "body").text
    assert not [one for one in requested(chromium) if not one.startswith(("file://", "data:"))]
    assert complaints(chromium) == []


def test_what_somebody_chooses_on_the_page_comes_back_into_the_journal(
    chromium: Chrome, session: Session, done: HandedOver, tmp_path: Path
) -> None:
    sized(chromium, DESK)
    with served(Path(done.folder, "listen")) as address:
        chromium.get(f"{address}/index.html")
        chromium.find_element(By.ID, "play").click()
        wait_for(
            lambda: chromium.execute_script("return secondpass.page.playing"), "no sound", 20.0
        )
        chosen = chromium.find_elements(By.CSS_SELECTOR, ".choose")
        chosen[1].click()  # variant 2, then variant 1 of the first part
        chosen[0].click()
        chosen[-1].click()  # the original of the last one
        chromium.find_element(By.CSS_SELECTOR, ".words").send_keys('"bite" — more, & <b>')
        chromium.find_element(By.ID, "by").send_keys("Zoë")
        text = chromium.find_element(By.ID, "text").get_attribute("value")
    mail = tmp_path / "mail.eml"
    quoted = "\n".join(f"> {line}" for line in text.splitlines())
    mail.write_text(
        f"From: zoe@example.org\nSubject: sounds\n\nHere you go:\n\n{quoted}\n\n-- \nZoë\n"
    )
    told = choices(mail, folder=session.folder)
    assert (len(told.noted), told.refused) == (1, ())
    assert told.noted[0].chosen == {PARTS[0]: ("002", "001"), PARTS[1]: ("original:close",)}
    (said,) = opinion_of(session, PARTS[0], 2).choices
    assert (said.listener, said.place, said.blind, said.words) == (
        "Zoë", 1, False, '"bite" — more, & <b>',
    )  # fmt: skip
    texts = [one.text for one in history(session, PARTS[0], 2)]
    assert f"handed over: {done.name}" in texts
    assert texts[-1] == 'chosen first by Zoë: “"bite" — more, & <b>”'
    assert choices(mail, folder=session.folder).already == told.noted

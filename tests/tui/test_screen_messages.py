"""What went wrong stays until it was read; several wait their turn; no message is markup."""

from __future__ import annotations

from pathlib import Path

import pytest
from needs import needs_samples
from rooms import make_session, wired
from screens import assert_fits, play, seated

from audio.jobs import disk_watch, news

pytestmark = needs_samples()

TEXTS = (
    "the device went away; what was recorded is kept: connect it and press o",
    "[/]x.wav [link=http://x]y[/link] [b]bold[/b] [@click=app.quit]z[/]",
    "the disk refuses: \x1b[2J\x1b]0;title\x07 \N{RIGHT-TO-LEFT OVERRIDE}gnorw",
    "部屋のマイク " * 40,
)


def test_messages_wait_their_turn_until_each_was_read(tmp_path: Path) -> None:
    folder = make_session(tmp_path, wiring=None).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.told(*(news.Trouble(text=text) for text in TEXTS))
            await seat.sees("the device went away", "esc puts this away, 3 more")
            await seat.press("left", "right", "down")  # working on does not put it away
            await seat.sees("the device went away")
            await seat.fits_everywhere()
            await seat.press("escape")
            await seat.sees(TEXTS[1], "2 more")
            await seat.fits_everywhere()
            await seat.press("escape")
            shown = await seat.sees("\\x1b[2J", "\\x07", "\\x202egnorw", "1 more")
            assert "\x1b" not in shown
            await seat.fits_everywhere()
            await seat.press("escape")
            shown = await seat.sees("部屋のマイク", "esc puts this away")
            assert "more" not in shown.partition("puts this away")[2]
            await seat.fits_everywhere()
            await seat.press("w")  # it stands in every view, and can be put away there
            await seat.sees("部屋のマイク", "esc puts this away")
            assert_fits(seat.desk)
            await seat.press("escape")
            await seat.until(lambda: "部屋" not in seat.words, "it stayed")
            assert not seat.desk.model.troubles

    play(flow())


def test_a_lost_stream_and_a_disk_nearly_full_are_told_and_nothing_starts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The disk itself says so: it is looked at every two seconds, and what it says next would stand there.
    monkeypatch.setattr(disk_watch, "free_bytes", lambda _: 2 * 3 * 44_100 * 65)
    folder = make_session(tmp_path, wiring=wired()).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            lost = "the interface was unplugged; what was recorded is kept: plug it in and press o"
            await seat.told(news.StreamClosed(reason=lost))
            await seat.sees(lost, "nothing sounds", "× wrong", "stream lost")
            assert seat.states["send"] == "wrong"
            await seat.sees("▲ disk nearly full: 1:05 of recording left")
            await seat.fits_everywhere()
            await seat.press("escape", "down", "space")  # nothing starts; space goes where it hangs
            await seat.sees("▸send", "not yet", "was unplugged")
            assert seat.desk.model.countdown_s is None

    play(flow())

"""The user's own keys, the list of keys, and the palette."""

from __future__ import annotations

from pathlib import Path

from needs import needs_samples
from rooms import make_session, wired
from screens import Seat, play, seated

from tui.settings_file import parse_settings

pytestmark = needs_samples()

OWN = """
countdown_s: 7
keys:
  go: f5
  quit: [ctrl+x, f10]
  walk_right: [f7, right]
  back: f4
"""


async def own_keys_are_named_and_work(seat: Seat) -> None:
    """See the new keys wherever keys are named; the old ones do nothing."""
    shown = await seat.sees("▸chain", "f5 pass")
    assert "space" not in shown
    await seat.fits_everywhere()
    await seat.press("question_mark")
    shown = await seat.sees("at this stage", "f5", "f4 back")
    assert "space" not in shown
    await seat.fits_everywhere()
    await seat.press(*["down"] * 40)  # whatever does not fit is further down
    await seat.sees("ctrl+x")
    await seat.press("f4")
    await seat.press("f7")
    await seat.sees("▸amp")
    await seat.press("left", "down", "space")
    assert seat.desk.model.countdown_s is None
    await seat.press("f5")
    await seat.sees("COUNTDOWN", "f5")
    assert seat.desk.model.countdown_s == 7
    await seat.press("f4")
    await seat.sees("called off; nothing sounded")


def test_the_users_own_keys_replace_the_old_ones_wherever_keys_are_named(tmp_path: Path) -> None:
    folder = make_session(tmp_path, wiring=wired()).folder
    settings = parse_settings(OWN, where="settings.yaml")

    async def flow() -> None:
        async with seated(folder, settings=settings) as seat:
            await own_keys_are_named_and_work(seat)
            await seat.press("q")
            assert not seat.gone
            await seat.press("f10")
            await seat.until(lambda: seat.gone, "it did not leave")

    play(flow())


def test_the_palette_finds_an_action_by_its_words_and_does_it(tmp_path: Path) -> None:
    folder = make_session(tmp_path, wiring=None).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.press("ctrl+p")
            await seat.sees("choose the line above", "key: ↑")
            await seat.type("choose device")
            await seat.sees("choose device, send and returns, and save them", "key: w")
            await seat.press("down", "enter")
            await seat.sees("wiring", "what is plugged where")
            await seat.press("question_mark")
            await seat.sees("at this stage")
            await seat.press("question_mark")  # the key that brought it
            await seat.sees("what is plugged where")
            await seat.press("escape")
            await seat.sees("▸send")
            await seat.press("q")
            await seat.until(lambda: seat.gone, "it did not leave")

    play(flow())

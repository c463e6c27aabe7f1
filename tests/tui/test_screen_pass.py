"""From the first picture to a verdict and a second one, with no key that the footer does not name."""

from __future__ import annotations

import json
from pathlib import Path

from needs import needs_samples
from rooms import make_session, room, wired
from screens import Seat, play, seated

from tui.settings import Settings

pytestmark = needs_samples()

CHAINS = {"crunch": ({"kind": "drive", "drive_db": 12.0},)}


async def countdown_is_called_off(seat: Seat) -> None:
    """Start, look at the countdown, and press again: nothing has sounded, no number is used."""
    await seat.press_named("space")
    shown = await seat.sees("COUNTDOWN", "riff", "Ears away from the speaker", "nothing sounds")
    assert seat.desk.model.countdown_s == 5
    await seat.fits_everywhere()
    await seat.wait(1.0)
    assert seat.desk.model.countdown_s == 4
    await seat.press_named("space")
    shown = await seat.sees("called off; nothing sounded", "▸chain")
    await seat.wait(6.0)
    assert not seat.desk.model.busy
    assert seat.desk.model.roll is None
    assert "nothing sounds" in shown


async def evidence_is_shown(seat: Seat) -> None:
    """One key shows it, the same key goes back."""
    await seat.press_named("e")
    shown = await seat.sees("placement", "round trip", "clicks", "opening", "closing")
    assert "aligned to the DI" in shown
    assert "close" in shown
    assert "room" in shown
    assert "no frame lost, none in doubt" in shown
    await seat.fits_everywhere()
    await seat.press("e")


def test_from_the_first_picture_to_two_verdicts_with_the_keys_that_the_footer_names(
    tmp_path: Path,
) -> None:
    session = make_session(tmp_path, wiring=wired(room(chains=CHAINS)))

    async def flow() -> None:
        async with seated(session.folder, settings=Settings(countdown_s=5)) as seat:
            await seat.press_named("down")
            await seat.sees("▸ bare path", "next: riff through bare path")
            await countdown_is_called_off(seat)
            assert not list((session.folder / "passes").iterdir())
            first = await seat.pass_to_its_end()
            shown = await seat.sees("VERDICT", "001 bare path", "nothing sounds")
            assert (first.number, first.chain.name, first.verdict) == (1, "bare path", "good")
            assert "nothing to say against it" in shown
            await seat.fits_everywhere()
            await evidence_is_shown(seat)
            await seat.sees("VERDICT")
            await seat.press_named("n")
            await seat.sees("▸chain", "001 GOOD")
            await seat.press_named("n")
            await seat.sees("What is plugged in?")
            await seat.fits_everywhere()
            await seat.press("enter")  # no name at all is refused, with a word of help
            await seat.sees("the chain has no name; write what is plugged in")
            await seat.type("fuzz into delay")
            await seat.press("enter")
            await seat.sees("▸ fuzz into delay", "next: riff through fuzz into delay")
            second = await seat.pass_to_its_end()
            assert (second.number, second.chain.name) == (2, "fuzz into delay")
            await seat.sees("VERDICT", "002 fuzz into delay")
            await seat.press_named("escape")
            shown = await seat.sees("▸variants", "▸ 002 fuzz into delay", "001 bare path")
            await seat.fits_everywhere()
            await seat.press_named("down")
            await seat.sees("▸ 001 bare path")
            await seat.press_named("e")
            await seat.sees("riff 001 through bare path", "placement")

    play(flow())
    kept = session.folder / "passes" / "riff"
    stored = [json.loads((kept / n / "variant.json").read_text()) for n in ("001", "002")]
    assert [one["chain"]["name"] for one in stored] == ["bare path", "fuzz into delay"]
    assert [one["state"] for one in stored] == ["kept", "kept"]

"""The DI stage: choosing a part, looking at it down to single samples, a DI that cannot be played."""

from __future__ import annotations

from pathlib import Path

import pytest
from needs import needs_samples
from playing import write_phrase
from rooms import RATE, make_session, wired
from screens import Seat, play, seated

from audio.files.inspect import inspect
from audio.vocab.results import Outlines
from tui.present.wave_view import CLOSEST
from tui.widgets.waveform import Waveform

pytestmark = needs_samples()


def wave(seat: Seat) -> Waveform:
    """Return the waveform."""
    return seat.desk.path_screen.query_one("#wave", Waveform)


def drawn_now(seat: Seat) -> Outlines | None:
    """Return what the waveform shows; None while it waits for it."""
    lane = wave(seat)._lane
    return lane.outlines if lane is not None else None


def came_close(seat: Seat) -> bool:
    """Return whether single samples have come."""
    lane = wave(seat)._lane
    return lane is not None and lane._closeup is not None


async def zoomed_to_samples_and_back(seat: Seat) -> None:
    """Look closer until a sample has columns of its own, move on, and see the whole again."""
    whole = wave(seat).look
    assert whole is not None
    assert whole.is_whole
    for _ in range(20):
        await seat.press_named("plus")
    look = wave(seat).look
    assert look is not None
    assert look.scale == CLOSEST
    await seat.until(lambda: came_close(seat), "no single samples came")
    shown = await seat.sees("8 columns a frame", f"frame {look.middle}")
    assert "reading" not in shown
    await seat.fits_everywhere()
    first = wave(seat).look
    assert first is not None
    await seat.press("full_stop")
    later = wave(seat).look
    assert later is not None
    assert later.first > first.first
    await seat.press("comma")
    assert wave(seat).look == first
    await seat.press_named("minus")
    assert wave(seat).look.scale == 2 * CLOSEST  # type: ignore[union-attr]
    await seat.press("0")
    assert wave(seat).look == whole


@pytest.mark.slow
def test_parts_are_chosen_and_looked_at_down_to_single_samples(tmp_path: Path) -> None:
    folder = make_session(tmp_path, wiring=wired(), parts=("riff", "hook")).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.walk_to("DI")
            shown = await seat.sees("▸ riff", "0:01", "peak −12.0 dBFS", "whole part")
            assert "96 bpm 4/4" in shown
            drawn = drawn_now(seat)
            await zoomed_to_samples_and_back(seat)
            await seat.press_named("down")
            await seat.sees("▸ hook", "harbour lights ▸ low water ▸ hook")
            await seat.until(lambda: drawn_now(seat) not in (None, drawn), "it stayed")
            await seat.press("down")  # the list ends here
            await seat.sees("▸ hook")
            await seat.press_named("up")
            await seat.sees("harbour lights ▸ low water ▸ riff")
            await seat.until(lambda: drawn_now(seat) == drawn, "the first did not come back")
            await seat.press("p", "p")  # the next part, and round again
            await seat.sees("▸ riff")
            await seat.fits_everywhere()

    play(flow())


def test_a_di_of_another_rate_is_wrong_and_space_walks_there_instead_of_starting(
    tmp_path: Path,
) -> None:
    session = make_session(tmp_path, wiring=wired())
    other = write_phrase(tmp_path / "other.wav", rate=48_000, seconds=1.0, seed=8)
    session.add_part(source=other, facts=inspect(other), name="hook")

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.press("down")
            await seat.press("p")
            await seat.walk_to("returns")
            shown = await seat.sees("× wrong", "hook")
            assert seat.states["DI"] == "wrong"
            await seat.press_named("space")
            shown = await seat.sees("▸DI", "not yet: hook is recorded at 48000 Hz")
            assert f"the wiring runs at {RATE} Hz" in shown
            assert "set sample_rate in the wiring, or export the DI at that rate" in shown
            assert seat.desk.model.countdown_s is None
            assert not seat.desk.model.busy
            await seat.fits_everywhere()
            await seat.press("up")
            await seat.sees("▸ riff", "■ set")
            assert seat.states["DI"] == "set"

    play(flow())

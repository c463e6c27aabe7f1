"""A terminal too small, resized in the middle of a pass, and one without colour."""

from __future__ import annotations

from pathlib import Path

import pytest
from needs import needs_samples
from rich.color_triplet import ColorTriplet
from rooms import RATE, make_session, room, wired
from screens import Seat, assert_fits, play, seated

from audio.session.folder import open_session
from audio.session.records import variants
from tui.widgets.lanes import Lanes

pytestmark = needs_samples()


def filled(seat: Seat, name: str) -> str:
    """Return the bottom row of a lane up to the playhead."""
    rows = seat.words.split("\n")
    at = next(i for i, row in enumerate(rows) if row.strip().startswith(name))
    lanes = seat.desk.screen.query_one(Lanes).region
    return "".join(rows[y] for y in range(at, min(at + 3, lanes.bottom)))


async def too_small(seat: Seat) -> None:
    """See what stands there when nothing else has room."""
    shown = await seat.sees("SENDING", "rolling", "too small; make it 60×16 or more", "s stops")
    assert_fits(seat.desk)
    assert "riff" not in shown


@pytest.mark.slow
def test_a_pass_is_resized_while_it_rolls_and_stopped_on_a_terminal_too_small(
    tmp_path: Path,
) -> None:
    folder = make_session(tmp_path, wiring=wired(room(pace="clock")), seconds=8.0).folder

    async def flow() -> None:
        async with seated(folder, size=(200, 60)) as seat:
            await seat.press("down", "space")
            await seat.resize(40, 10)
            await seat.sees("countdown", "too small", "s stops")
            await seat.resize(200, 60)
            await seat.wait(3.0)
            await seat.sees("ROLLING", "SENDING", "nothing lost")
            for size in ((80, 24), (120, 40), (200, 60)):
                await seat.resize(*size)
                assert_fits(seat.desk)
                await seat.sees("ROLLING", "SENDING", "nothing lost", "space stop and keep")
            await seat.until(lambda: "█" in filled(seat, "close"), "nothing came back")
            await seat.resize(40, 10)
            await too_small(seat)
            await seat.resize(120, 40)
            assert_fits(seat.desk)
            assert "█" in filled(seat, "close")  # what came before is still there
            await seat.resize(20, 4)
            assert_fits(seat.desk)
            await seat.resize(40, 10)
            await seat.press("s")
            await seat.done()
            await seat.sees("nothing sounds")
            await seat.resize(80, 24)
            await seat.sees("VERDICT", "001 bare path stopped")
            assert_fits(seat.desk)

    play(flow())
    (one,) = variants(open_session(folder)).found
    assert one.state == "stopped"
    assert not one.dropouts
    assert all(0 < file.frames < 8.0 * RATE for file in one.files)


def colours(seat: Seat) -> list[ColorTriplet]:
    """Return the colours of what is written, but black, white and the grey between them."""
    strips = seat.desk.screen._compositor.render_strips()
    written = [one.style for strip in strips for one in strip if one.style and one.text.strip()]
    found = [c.get_truecolor() for style in written for c in (style.color, style.bgcolor) if c]
    return [one for one in found if not one.red == one.green == one.blue]


@pytest.mark.slow
def test_without_colour_the_whole_way_to_the_verdict_is_told_by_shapes_and_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    folder = make_session(tmp_path, wiring=wired()).folder

    async def flow() -> None:
        async with seated(folder) as seat:
            await seat.sees("▸chain", "■ set", "□ not set")
            assert not colours(seat)
            await seat.walk_to("DI")
            await seat.sees("whole part")
            await seat.fits_everywhere()
            assert not colours(seat)
            await seat.walk_to("chain")
            await seat.press("down")
            done = await seat.pass_to_its_end()
            assert done.verdict == "good"
            await seat.sees("VERDICT", "nothing to say against it")
            await seat.fits_everywhere()
            assert not colours(seat)
            await seat.press("e")
            await seat.sees("GOOD", "placement")
            assert not colours(seat)
            await seat.press("e", "escape")
            await seat.sees("▸variants", "▸ 001 bare path GOOD")
            assert not colours(seat)

    play(flow())

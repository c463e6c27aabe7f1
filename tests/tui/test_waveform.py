"""The waveform on a screen: real playing, zoomed, scrolled, resized, with and without colour."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Awaitable, Callable
from functools import lru_cache
from pathlib import Path

import msgspec
import pytest
import soundfile
from needs import GUITARS, needs_samples
from shown import HOSTILE, SIZES, Alone, assert_fills, strips
from textual import events
from textual.pilot import Pilot

from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.requests import Closeup as AskCloseup
from audio.vocab.requests import Outline as AskOutline
from audio.vocab.results import OutlineLevel, Outlines
from audio.vocab.session_file import Song
from audio.work.client import Worker
from audio.work.outlines import closeup, outline
from tui.widgets.waveform import MIDDLE, Waveform

PATH = str(GUITARS[3])
BLOCKS = set("▁▂▃▄▅▆▇█▀")


@lru_cache(1)
def guitar() -> Outlines:
    return outline(AskOutline(path=PATH, channel=0))


def bars() -> BarGrid:
    found = bar_grid(
        Song(name="low water", bpm=96.0, metre="4/4"),
        time_reference=0,
        rate=guitar().sample_rate,
    )
    assert found is not None
    return found


class Room(Alone):
    """Keeps what the waveform wants, and fetches it where it shall."""

    def __init__(self, widget: Waveform, *, fetches: bool = True) -> None:
        super().__init__(widget)
        self.wave = widget
        self.fetches = fetches
        self.wanted: list[tuple[int, int]] = []

    def on_waveform_wanted(self, message: Waveform.Wanted) -> None:
        self.wanted.append((message.at_frame, message.frames))
        if self.fetches:
            self.fetch()

    def fetch(self) -> None:
        at, frames = self.wanted[-1]
        asked = AskCloseup(path=PATH, channel=0, at_frame=at, frames=frames)
        self.wave.closeup(at, closeup(asked))


Steps = Callable[[Room, Pilot[None]], Awaitable[None]]


def run(steps: Steps, *, size: tuple[int, int] = (80, 24), fetches: bool = True) -> None:
    async def shown() -> None:
        room = Room(Waveform(), fetches=fetches)
        async with room.run_test(size=size) as pilot:
            await steps(room, pilot)

    asyncio.run(shown())


async def at_scale(wave: Waveform, pilot: Pilot[None], scale: float) -> None:
    while wave.look is None or wave.look.scale > scale:
        wave.zoom(1)
        await pilot.pause()


def rows(wave: Waveform) -> list[str]:
    return wave.words.split("\n")


# ------------------------------------------------------------------ what stands there


@pytest.mark.slow
@needs_samples()
@pytest.mark.parametrize("colour", [True, False])
@pytest.mark.parametrize("size", [*SIZES, (60, 3), (20, 4), (3, 5)])
def test_the_whole_part_and_every_closer_look_fill_their_rows(
    size: tuple[int, int], colour: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not colour:
        monkeypatch.setenv("NO_COLOR", "1")

    async def steps(room: Room, pilot: Pilot[None]) -> None:
        room.wave.show(guitar(), bars())
        await pilot.pause()
        assert_fills(room.wave)
        for _ in range(22):
            room.wave.zoom(1)
            await pilot.pause()
            assert_fills(room.wave)
            assert BLOCKS & set(room.wave.words) or size not in SIZES
        assert room.wave.look is not None
        assert room.wave.look.scale == 1 / 8

    run(steps, size=size)


@needs_samples()
def test_ruler_and_words_tell_where_one_is() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar(), bars())
        await pilot.pause()
        first, *_, last = rows(wave)
        assert first.startswith("╷1")
        assert "╷2" in first
        assert last.startswith("whole part · bars 1 to ")
        assert MIDDLE not in first
        await at_scale(wave, pilot, 64)
        assert wave.look is not None
        frame = wave.look.middle
        told = rows(wave)[-1]
        assert f" · frame {frame} · 64 frames a column" in told
        assert told.startswith("bar ")
        assert rows(wave)[0][40] == MIDDLE

    run(steps, size=(80, 24))


@needs_samples()
def test_the_height_is_the_files_own_peak_and_the_words_tell_it() -> None:
    quiet = msgspec.structs.replace(
        guitar(), levels=tuple(_quieter(level) for level in guitar().levels)
    )

    async def steps(room: Room, pilot: Pilot[None]) -> None:
        room.wave.show(guitar())
        await pilot.pause()
        loud = rows(room.wave)
        room.wave.show(quiet)
        await pilot.pause()
        now = rows(room.wave)
        assert loud[-1].split("top")[1] != now[-1].split("top")[1]
        changed = sum(a != b for one, other in zip(loud[1:-1], now[1:-1], strict=True)
                      for a, b in zip(one, other, strict=False))  # fmt: skip
        assert changed < 0.02 * 80 * 22  # an eighth here and there

    run(steps)


def _quieter(level: OutlineLevel) -> OutlineLevel:
    def eighth(data: bytes) -> bytes:
        codes = memoryview(data).cast("h")
        return b"".join((round(code / 8)).to_bytes(2, sys.byteorder, signed=True) for code in codes)

    return OutlineLevel(
        bin_frames=level.bin_frames, lows=eighth(level.lows), highs=eighth(level.highs)
    )


@pytest.mark.parametrize(
    ("value", "highest"),
    [(0.0, 0), (1e-5, 0), (1e-4, 1), (0.25, 21)],
    ids=["silent", "hiss", "hum", "loud"],
)
def test_silence_is_a_line_and_noise_does_not_look_like_playing(
    value: float, highest: int, tmp_path: Path
) -> None:
    soundfile.write(tmp_path / "a.wav", [value, -value] * 24_000, 48_000, "PCM_24")
    found = outline(AskOutline(path=str(tmp_path / "a.wav"), channel=0))

    async def steps(room: Room, pilot: Pilot[None]) -> None:
        room.wave.show(found)
        await pilot.pause()
        assert sum(row == "█" * 80 for row in rows(room.wave)) == highest
        assert (rows(room.wave)[11] == "─" * 80) == (highest == 0)

    run(steps)


@needs_samples()
def test_without_colour_the_lower_half_is_still_told_by_reversed_blocks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")

    async def steps(room: Room, pilot: Pilot[None]) -> None:
        room.wave.show(guitar())
        await pilot.pause()
        lower = strips(room.wave)[13:22]
        reversed_ = [segment.text for strip in lower for segment in strip if segment.style.reverse]
        assert reversed_
        assert set("".join(reversed_)) <= set("▁▂▃▄▅▆▇")
        upper = strips(room.wave)[1:11]
        assert not any(segment.style.reverse for strip in upper for segment in strip)

    run(steps)


# ------------------------------------------------------------------ words instead


@pytest.mark.parametrize("words", [*HOSTILE, "reading the DI …", "two words " * 60])
def test_words_stand_alone_and_cannot_steer_the_terminal(words: str) -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        room.wave.wait(words)
        await pilot.pause()
        assert_fills(room.wave)
        room.wave.zoom(1)  # nothing to look at, nothing happens
        room.wave.scroll(1)
        room.wave.whole()
        await pilot.pause()
        assert_fills(room.wave)
        assert not BLOCKS & set(room.wave.words)

    run(steps, size=(40, 6))


@needs_samples()
def test_what_cannot_be_read_takes_the_place_of_what_was_shown() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        room.wave.show(guitar())
        await pilot.pause()
        room.wave.wait("di/hook.r1.wav is empty; export or copy it again")
        await pilot.pause()
        assert room.wave.words.strip() == "di/hook.r1.wav is empty; export or copy it again"

    run(steps)


# ------------------------------------------------------------------ closer than the outline


@needs_samples()
def test_the_coarse_picture_stands_until_single_samples_come() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        await at_scale(wave, pilot, 256)
        assert room.wanted == []
        await at_scale(wave, pilot, 16)
        assert len(room.wanted) == 1  # the first covers what is closer
        coarse = rows(wave)
        assert BLOCKS & set("".join(coarse))
        room.fetch()
        await pilot.pause()
        assert rows(wave) != coarse
        assert rows(wave)[-1] == coarse[-1]

    run(steps, fetches=False)


@needs_samples()
def test_single_samples_are_stems_as_high_as_the_samples_of_the_file() -> None:
    samples, _ = soundfile.read(PATH, always_2d=True)

    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        await at_scale(wave, pilot, 1 / 8)
        look = wave.look
        assert look is not None
        lane = [row.ljust(80) for row in rows(wave)[1:22]]
        top = abs(samples[:, 0]).max()
        for x in range(80):
            column = "".join(row[x] for row in lane)
            frame, between = divmod(look.column + x, 8)
            if between:
                assert column.strip() == "─"
                continue
            value = samples[frame, 0] / top
            right, wrong = (column[:10], column[11:]) if value > 0 else (column[11:], column[:10])
            assert not wrong.strip()
            # 10.5 rows on either side of the middle; the middle row itself is half filled
            assert abs(len(right.strip()) - (abs(value) * 10.5 - 0.5)) <= 1

    run(steps)


@needs_samples()
def test_scrolling_out_of_what_was_fetched_asks_again_and_once_only() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        await at_scale(wave, pilot, 64)
        assert len(room.wanted) == 1
        for _ in range(2):
            wave.scroll(1)
            await pilot.pause()
        assert len(room.wanted) == 1
        wave.scroll(6)
        await pilot.pause()
        wave.point(None)
        await pilot.pause()
        assert len(room.wanted) == 2
        at, frames = room.wanted[1]
        assert wave.look is not None
        assert at <= wave.look.first
        assert wave.look.end <= at + frames

    run(steps)


@needs_samples()
def test_samples_that_come_late_for_another_place_are_not_drawn_here() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        await at_scale(wave, pilot, 16)
        coarse = rows(wave)
        wave.closeup(0, bytes(2 * 4096))
        await pilot.pause()
        assert rows(wave) == coarse
        assert len(room.wanted) == 1  # what was asked for is still on its way
        room.fetch()
        await pilot.pause()
        assert rows(wave) != coarse

    run(steps, fetches=False)


@needs_samples()
def test_a_worker_gives_what_the_waveform_wants_down_to_single_samples() -> None:
    """The whole way: worker process, pipe, message, closeup."""

    async def steps(room: Room, pilot: Pilot[None]) -> None:
        with Worker() as worker:
            room.wave.show(worker.outline(Path(PATH), channel=0), bars())
            await pilot.pause()
            await at_scale(room.wave, pilot, 1 / 8)
            coarse = rows(room.wave)
            at, frames = room.wanted[-1]
            found = worker.closeup(Path(PATH), channel=0, at_frame=at, frames=frames)
            room.wave.closeup(at, found)
            await pilot.pause()
            assert rows(room.wave) != coarse
            assert rows(room.wave)[-1] == coarse[-1]
            assert "8 columns a frame" in coarse[-1]

    run(steps, size=(120, 40), fetches=False)


# ------------------------------------------------------------------ moving


@needs_samples()
def test_whole_leads_back_from_anywhere_and_another_file_begins_whole() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        before = rows(wave)
        await at_scale(wave, pilot, 4)
        wave.scroll(3)
        wave.whole()
        await pilot.pause()
        assert rows(wave) == before
        await at_scale(wave, pilot, 1024)
        wave.show(guitar(), bars())  # the same file keeps the view
        await pilot.pause()
        assert wave.look is not None
        assert wave.look.scale == 1024
        wave.show(outline(AskOutline(path=str(GUITARS[1]), channel=0)))
        await pilot.pause()
        assert wave.look.is_whole

    run(steps)


@needs_samples()
def test_the_cursor_stays_in_its_column_through_every_zoom() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar(), bars())
        await pilot.pause()
        await pilot.click(Waveform, offset=(61, 9))
        column = "".join(row[61] for row in rows(wave)[1:22])
        assert column[0] == column[-1] == "┃"
        assert set(column) <= BLOCKS | {"┃"}
        for _ in range(16):
            wave.zoom(1)
            await pilot.pause()
            assert rows(wave)[0][61] == MIDDLE
        wave.scroll(2)
        await pilot.pause()
        assert "┃" not in wave.words  # left behind: the words are about the middle again
        assert wave.look is not None
        assert f"frame {wave.look.middle} " in rows(wave)[-1]

    run(steps)


@needs_samples()
def test_a_playhead_out_of_view_takes_the_view_along() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        await at_scale(wave, pilot, 128)
        wave.point(guitar().frames - 1)
        await pilot.pause()
        assert "┃" in wave.words
        assert f"frame {guitar().frames - 1} " in rows(wave)[-1]
        wave.point(None)
        await pilot.pause()
        assert "┃" not in wave.words

    run(steps)


@needs_samples()
def test_the_wheel_zooms_where_the_pointer_is() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar())
        await pilot.pause()
        await pilot.pause()
        for event, closer in ((events.MouseScrollUp, True), (events.MouseScrollDown, False)):
            before = wave.look
            assert before is not None
            frame = before.frame_at(20)
            await pilot._post_mouse_events([event], Waveform, offset=(20, 5))
            await pilot.pause()
            assert wave.look is not None
            assert (wave.look.scale < before.scale) == closer
            assert abs((wave.look.place(frame) or 0) - 20) <= 1

    run(steps)


@needs_samples()
def test_a_terminal_resized_while_one_looks_keeps_the_place() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.show(guitar(), bars())
        await pilot.pause()
        await at_scale(wave, pilot, 512)
        assert wave.look is not None
        middle = wave.look.middle
        for size in ((120, 40), (40, 10), (200, 60), (7, 3), (80, 24)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            assert_fills(wave)
            assert wave.look.width == size[0]
            assert wave.look.scale == 512
            assert wave.look.middle == middle
        wave.whole()
        await pilot.resize_terminal(200, 60)
        await pilot.pause()
        assert wave.look.is_whole

    run(steps)


@needs_samples()
def test_a_waveform_shown_while_it_is_hidden_is_there_when_it_is_not() -> None:
    async def steps(room: Room, pilot: Pilot[None]) -> None:
        wave = room.wave
        wave.display = False
        await pilot.pause()
        wave.show(guitar(), bars())
        wave.zoom(1)
        await pilot.pause()
        wave.display = True
        await pilot.pause()
        assert_fills(wave)
        assert BLOCKS & set(wave.words)

    run(steps)

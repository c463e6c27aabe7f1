"""A waveform from file to screen: the worker's outline, what the face keeps of it, and each view's columns.

The DI is five minutes of 48 kHz in 24 bits. A view has 160 columns; every zoom from the whole part to eight
columns a frame is drawn again and again in several places, and the slowest zoom counts. The last lines draw
the widget of 160×50 cells, from the call to the rows a terminal gets.
"""

from __future__ import annotations

import asyncio
import gc
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from statistics import median

import report
from material import RATE, write_long_di
from textual.app import App, ComposeResult
from textual.geometry import Region

from audio.vocab.results import Outlines
from audio.work.client import Worker
from tui.present.wave_view import CLOSEST, Look, whole
from tui.present.waves import Closeup, columns, needs_closeup, wanted
from tui.widgets.waveform import Waveform

COLUMNS, ROWS = 160, 50
OUTLINE_S = 0.5
VIEW_MS = 0.5
PLACES = 20
"""Where each zoom is drawn, spread over the part."""


class _Screen(App[None]):
    """The widget alone."""

    def __init__(self) -> None:
        super().__init__()
        self.wave = Waveform()

    def compose(self) -> ComposeResult:
        yield self.wave


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    minutes = 0.5 if said.short else 5.0
    report.conditions(f"{minutes:g} minutes at {RATE} Hz, {COLUMNS} columns")
    with tempfile.TemporaryDirectory() as folder, Worker() as worker:
        path = write_long_di(Path(folder, "di.wav"), seconds=60.0 * minutes)
        outlines = _outline(worker, path)
        closest = _views(worker, path, outlines)
        asyncio.run(_widget(outlines, closest))


def _outline(worker: Worker, path: Path) -> Outlines:
    worker.outline(path, channel=0)  # the worker starts, the file is in the cache
    runs = [_timed(lambda: worker.outline(path, channel=0)) for _ in range(5)]
    best = min(runs)
    report.figure("outline, asked to answered", f"{best:.3f} s", "under 0.5 s", best < OUTLINE_S)
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    outlines = worker.outline(path, channel=0)
    kept, most = (figure - before for figure in tracemalloc.get_traced_memory())
    tracemalloc.stop()
    report.figure("the face keeps of it", f"{kept / 1024:.0f} KiB")
    report.figure("the face takes while it comes, at most", f"{most / 1024:.0f} KiB")
    return outlines


def _views(worker: Worker, path: Path, outlines: Outlines) -> Closeup:
    """Draw every zoom; return the closeup of the closest."""
    worst_ms, worst_scale, closeup = 0.0, 0.0, None
    asked_s, made_s = [], []
    look = whole(outlines.frames, COLUMNS)
    while True:
        found = None
        if needs_closeup(outlines, look):
            at, frames = wanted(look) or (0, 0)
            began = time.perf_counter()
            samples = worker.closeup(path, channel=0, at_frame=at, frames=frames)
            asked_s.append(time.perf_counter() - began)
            made_s.append(_timed(lambda at=at, samples=samples: Closeup(at, samples)))  # type: ignore[misc]
            found = closeup = Closeup(at, samples)
        ms = 1000 * median(_drawn(outlines, found, look))
        if ms > worst_ms:
            worst_ms, worst_scale = ms, look.scale
        if look.scale <= CLOSEST:
            break
        look = look.zoomed(1, keep=look.middle)
    name = f"columns of a view, slowest zoom ({worst_scale:g} frames a column)"
    report.figure(name, f"{worst_ms:.3f} ms", "under 0.5 ms", worst_ms < VIEW_MS)
    report.figure("single samples, asked to answered, at most", f"{1000 * max(asked_s):.1f} ms")
    report.figure("single samples, made ready once, at most", f"{1000 * max(made_s):.1f} ms")
    assert closeup is not None
    return closeup


def _drawn(outlines: Outlines, closeup: Closeup | None, look: Look) -> list[float]:
    if closeup is None:
        places = [look.around(outlines.frames * k // PLACES) for k in range(PLACES)]
    else:
        places = [look] * PLACES
    return [_timed(lambda one=one: columns(outlines, closeup, one)) for one in places]  # type: ignore[misc]


async def _widget(outlines: Outlines, closeup: Closeup) -> None:
    screen = _Screen()
    wave = screen.wave
    async with screen.run_test(size=(COLUMNS, ROWS)) as pilot:
        wave.show(outlines)
        await pilot.pause()
        gc.collect()
        gc.freeze()  # as the program does once it is mounted
        taken: dict[float, float] = {}
        while wave.look is not None and wave.look.scale > CLOSEST:
            began = time.perf_counter()
            wave.zoom(1)
            wave.render_lines(Region(0, 0, COLUMNS, ROWS))
            taken[wave.look.scale] = time.perf_counter() - began
            if wave.look.scale < 256:
                wave.closeup(closeup.at_frame, bytes(closeup.samples))
            await pilot.pause()
    scale = max(taken, key=lambda one: taken[one])
    name = f"all rows of {COLUMNS}x{ROWS} after a zoom, slowest ({scale:g})"
    report.figure(name, f"{1000 * taken[scale]:.1f} ms")


def _timed(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()

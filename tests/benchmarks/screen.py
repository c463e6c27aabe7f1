"""A screen in a pseudo terminal of its own, and what it costs: processor, stalls, pictures.

The app under test is named ``module:function``; the function takes no arguments and returns a Textual app
that does its work by itself; where it has an ``asyncio.Event`` named ``begins``, what came before that is
not measured. It runs in a process of its own, which measures itself and leaves the figures
in a file; here the terminal's other end is only drained, as a quick terminal would.
"""

from __future__ import annotations

import asyncio
import fcntl
import gc
import importlib
import json
import os
import pty
import struct
import subprocess
import sys
import tempfile
import termios
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from processes import pss_bytes, rss_bytes
from textual.app import App

SETTLE_S = 1.5
"""Before this the app mounts, styles and draws its first pictures; none of that is measured."""

TICK_S = 0.05
"""How often the event loop is asked whether it is late; its cost is part of the figures."""

_HERE = Path(__file__).parent


@dataclass(frozen=True)
class Cost:
    """What a screen took over a stretch of time."""

    share: float
    """Of one core, user and system time over wall time."""
    worst_stall_ms: float
    """The event loop's: the longest callback, or how late a timer came, whichever is more."""
    pictures_per_s: float
    bytes_per_s: float
    """Written to the terminal."""
    waited: float
    """Share of the time in which it could have run and no core was free: the machine's doing."""
    rss_bytes: int
    pss_bytes: int


def cost(app: str, *, columns: int, rows: int, seconds: float) -> Cost:
    """Run an app on a terminal of so many cells and return what it took after it had settled."""
    with tempfile.TemporaryDirectory() as folder:
        figures = Path(folder, "figures.json")
        command = [sys.executable, __file__, app, str(figures), str(seconds)]
        terminal, end = pty.openpty()
        fcntl.ioctl(end, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        child = subprocess.Popen(
            command, stdin=end, stdout=end, stderr=end, env=_environment(), start_new_session=True
        )
        os.close(end)
        said = _drain(terminal)
        if child.wait() or not figures.exists():
            raise RuntimeError(f"{app} ended early: {said[-2000:].decode(errors='replace')}")
        return Cost(**json.loads(figures.read_text()))


def _environment() -> dict[str, str]:
    kept = {key: value for key, value in os.environ.items() if key != "NO_COLOR"}
    found = os.pathsep.join(filter(None, (str(_HERE), kept.get("PYTHONPATH"))))
    return kept | {"TERM": "xterm-256color", "COLORTERM": "truecolor", "PYTHONPATH": found}


def _drain(terminal: int) -> bytes:
    """Read until the other end is closed; return the last of it."""
    last = b""
    while True:
        try:
            block = os.read(terminal, 1 << 16)
        except OSError:  # Linux says EIO where the other end is closed
            block = b""
        if not block:
            os.close(terminal)
            return last
        last = (last + block)[-4096:]


# ---------------------------------------------------------------- in the process of the app


class _Watch:
    """Counts pictures, bytes and lateness of one app from inside its event loop."""

    def __init__(self, app: App[Any]) -> None:
        self.pictures = 0
        self.bytes = 0
        self.latest_s = 0.0
        self._display, app._display = app._display, self._counted  # type: ignore[method-assign]
        driver = app._driver
        assert driver is not None
        self._write, driver.write = driver.write, self._weighed  # type: ignore[method-assign]
        _time_callbacks(self)

    def _counted(self, screen: Any, renderable: Any) -> None:
        self.pictures += renderable is not None
        self._display(screen, renderable)

    def _weighed(self, data: str) -> None:
        self.bytes += len(data.encode())
        self._write(data)

    def start_over(self) -> None:
        self.pictures = self.bytes = 0
        self.latest_s = 0.0

    async def tick(self) -> None:
        """Sleep again and again, and keep by how much a sleep was too long."""
        while True:
            due = time.perf_counter() + TICK_S
            await asyncio.sleep(TICK_S)
            self.latest_s = max(self.latest_s, time.perf_counter() - due)


def _time_callbacks(watch: _Watch) -> None:
    """Keep the longest time that any callback holds the event loop, from now on."""
    run = asyncio.Handle._run

    def timed(handle: asyncio.Handle) -> None:
        began = time.perf_counter()
        run(handle)
        watch.latest_s = max(watch.latest_s, time.perf_counter() - began)

    asyncio.Handle._run = timed  # type: ignore[method-assign]


async def _measured(app: App[Any], figures: Path, seconds: float) -> None:
    await asyncio.sleep(SETTLE_S)
    if (begins := getattr(app, "begins", None)) is not None:
        await begins.wait()
        await asyncio.sleep(SETTLE_S)
    watch = _Watch(app)
    ticking = asyncio.create_task(watch.tick())
    gc.collect()
    gc.freeze()
    await asyncio.sleep(2 * TICK_S)
    watch.start_over()
    before, waited_s, wall = os.times(), _waited_s(), time.perf_counter()
    await asyncio.sleep(seconds)
    after, wall_s = os.times(), time.perf_counter() - wall
    ticking.cancel()
    used_s = after.user + after.system - before.user - before.system
    took = Cost(
        share=used_s / wall_s,
        worst_stall_ms=1e3 * watch.latest_s,
        pictures_per_s=watch.pictures / wall_s,
        bytes_per_s=watch.bytes / wall_s,
        waited=(_waited_s() - waited_s) / wall_s,
        rss_bytes=rss_bytes(os.getpid()),
        pss_bytes=pss_bytes(os.getpid()),
    )
    figures.write_text(json.dumps(asdict(took)))
    app.exit()


def _waited_s() -> float:
    """Return how long this process's main thread has waited for a core (Linux)."""
    return int(Path("/proc/self/schedstat").read_text().split()[1]) / 1e9


async def _run(named: str, figures: Path, seconds: float) -> None:
    module, function = named.split(":")
    app: App[Any] = getattr(importlib.import_module(module), function)()
    measuring = asyncio.create_task(_measured(app, figures, seconds))
    await app.run_async()
    await measuring


if __name__ == "__main__":
    asyncio.run(_run(sys.argv[1], Path(sys.argv[2]), float(sys.argv[3])))

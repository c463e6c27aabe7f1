"""A listening page of six keepers of three minutes: how large, how long to make, how soon it sounds.

The keepers are real playing (CC0 recordings) driven through a curve, two microphones each, over noise as an
amp makes it; 24 bits at 48 kHz.
Weight is the folder's, held against the same mixes as 24-bit WAV and as plain 16-bit FLAC, one file each. A
browser is asked to play as soon as the page is open; the time runs from the press of play until the context
has come to the first frame of a sound that is scheduled. With a slow phone's processor and line it is told
for comparison. Needs chromium and sonic-pi-samples.
"""

from __future__ import annotations

import io
import shutil
import statistics
import tempfile
import time
from contextlib import redirect_stderr
from pathlib import Path

import numpy as np
import report
import soundfile
from browsing import browser, served
from listening_pages import RATE, made, session_of
from playing import phrase
from selenium.webdriver import Chrome

from audio.session.opened import Session
from audio.work.client import Worker

KEEPERS, SECONDS = 6, 180.0
RATIO, FIRST_SOUND_S = 1.40, 1.0
TRIES = 5

PRESS = """
const done = arguments[arguments.length - 1];
const { page } = secondpass;
const began = performance.now();
document.querySelector("#play").click();
const look = () => {
  const player = page.player;
  const voice = player?.sounds[page.current.heard];
  const heard = voice && [...voice.laid.values()].some((one) => player.now() > one.at);
  if (heard) done((performance.now() - began) / 1000);
  else setTimeout(look, 1);
};
look();
"""

Mics = dict[str, np.ndarray]


def keeper(number: int, seconds: float) -> Mics:
    """Return two microphones before an amp that is driven harder for each number."""
    dry = phrase(rate=RATE, seconds=seconds, seed=40 + number)
    drive = 10 ** ((6.0 * number) / 20)
    amp = 0.4 * np.tanh(drive * dry)
    noise = np.random.default_rng(number).normal(0.0, 10 ** (-72 / 20), (2, amp.size))
    return {"close": amp + noise[0], "room": 0.5 * np.roll(amp, 300) + noise[1]}


def first_sound_s(driver: Chrome, address: str) -> float:
    """Return how long after the press it sounds, in a page that was just opened."""
    driver.get(f"{address}/index.html")
    return float(driver.execute_async_script(PRESS))


def asked(name: str, driver: Chrome, address: str, goal_s: float | None = FIRST_SOUND_S) -> None:
    times = [first_sound_s(driver, address) for _ in range(TRIES)]
    told = f"{statistics.median(times):.2f} s, at most {max(times):.2f}"
    if goal_s is None:
        report.figure(name, told)
    else:
        report.figure(name, told, f"< {goal_s:.1f} s", max(times) < goal_s)


def weights(folder: Path, mixes: list[np.ndarray]) -> None:
    page = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    words = sum((folder / name).stat().st_size for name in ("index.html", "page.js"))
    flac = sum(_size(mix, "FLAC", "PCM_16") for mix in mixes)
    wav = sum(_size(mix, "WAV", "PCM_24") for mix in mixes)
    report.figure("page, all of it", f"{page / 1e6:.1f} MB")
    report.figure(
        "against plain 16-bit FLAC", f"{page / flac:.3f}", f"<= {RATIO:.2f}", page <= RATIO * flac
    )
    report.figure("against 24-bit WAV", f"{page / wav:.3f}")
    report.figure("words, script and style", f"{words / 1000:.1f} kB", "< 60 kB", words < 60_000)


def _size(mix: np.ndarray, container: str, depth: str) -> int:
    out = io.BytesIO()
    soundfile.write(out, mix, RATE, depth, format=container)
    return len(out.getvalue())


def made_in(worker: Worker, name: str, session: Session, to: Path) -> None:
    began = time.perf_counter()
    made(session, [("riff", number) for number in range(1, KEEPERS + 1)], to, worker=worker)
    report.figure(name, f"{time.perf_counter() - began:.1f} s")


def main() -> None:
    seconds = 20.0 if report.options(__doc__).parse_args().short else SECONDS
    report.conditions(f"{KEEPERS} keepers of {seconds:.0f} s")
    with tempfile.TemporaryDirectory() as made_here, Worker() as worker:
        folder = Path(made_here)
        keepers = [keeper(number, seconds) for number in range(KEEPERS)]
        session = session_of(
            folder, {"riff": keepers}, chains=[f"chain {k}" for k in range(KEEPERS)]
        )
        listen = folder / "listen"
        made_in(worker, "made", session, listen)
        weights(listen, [one["close"] + one["room"] for one in keepers])
        (listen / "index.html").unlink()
        for path in sorted(listen.glob("sounds/*.js"))[::10]:
            path.unlink()
        made_in(worker, "made again, a tenth of its pieces missing", session, listen)
        in_browsers(listen)
        shutil.rmtree(listen)


def in_browsers(listen: Path) -> None:
    driver = browser()
    try:
        driver.set_script_timeout(60)
        asked("first sound, opened from disk", driver, f"file://{listen}")
        # a page that is left breaks off what it was loading, and the server would print it
        with redirect_stderr(io.StringIO()), served(listen) as address:
            asked("first sound, from a static server", driver, address)
            driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": 6})
            slow = {"offline": False, "latency": 60, "downloadThroughput": 1_000_000,
                    "uploadThroughput": 250_000}  # fmt: skip
            driver.execute_cdp_cmd("Network.emulateNetworkConditions", slow)
            asked("the same, a sixth of the processor, 8 Mbit/s", driver, address, None)
    finally:
        driver.quit()


if __name__ == "__main__":
    main()

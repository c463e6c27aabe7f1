"""A real browser without a window: Debian's Chromium, which reaches nothing but this machine."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from pathlib import Path
from threading import Thread
from typing import Any

from selenium.webdriver import Chrome, ChromeOptions, ChromeService

CHROMIUM, DRIVER = "/usr/bin/chromium", "/usr/bin/chromedriver"
AXE = files("axe_core_python") / "axe.min.js"
SERIOUS = ("serious", "critical")

PHONE, DESK = (360, 740), (1600, 1000)


def browser(*, downloads: Path | None = None) -> Chrome:
    """Return a new Chromium; its log of requests is kept."""
    options = ChromeOptions()
    options.binary_location = shutil.which("chromium") or CHROMIUM
    for one in (
        "--headless=new",
        "--no-sandbox",
        "--disable-dev-shm-usage",
        "--disable-gpu",
        "--mute-audio",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--autoplay-policy=user-gesture-required",
        "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    ):
        options.add_argument(one)
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    if downloads is not None:
        options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
    return Chrome(options=options, service=ChromeService(shutil.which("chromedriver") or DRIVER))


def requested(driver: Chrome) -> list[str]:
    """Return the addresses that were asked for since the last call."""
    told = (json.loads(one["message"])["message"] for one in driver.get_log("performance"))
    sent = (one["params"] for one in told if one["method"] == "Network.requestWillBeSent")
    return [one["request"]["url"] for one in sent]


def complaints(driver: Chrome) -> list[str]:
    """Return what the browser's console has had to say since the last call."""
    return [one["message"] for one in driver.get_log("browser")]


def violations(driver: Chrome) -> list[dict[str, Any]]:
    """Return what axe-core (Deque Systems, the version that axe_core_python ships) finds serious."""
    driver.execute_script(AXE.read_text(encoding="utf-8"))
    found = driver.execute_async_script(
        "const done = arguments[arguments.length - 1]; axe.run(document).then(done);"
    )
    return [
        {"rule": one["id"], "at": [node["html"] for node in one["nodes"]]}
        for one in found["violations"]
        if one["impact"] in SERIOUS
    ]


def sized(driver: Chrome, size: tuple[int, int]) -> None:
    """Give the page so many CSS pixels, as a phone or a large screen has."""
    width, height = size
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)


@contextmanager
def served(folder: Path, *, before: Callable[[str], object] = lambda _: None) -> Iterator[str]:
    """Serve a folder as any plain web server does, once `before` lets a path go; yields its address."""

    class Quiet(SimpleHTTPRequestHandler):
        def do_GET(self) -> None:
            before(self.path)
            super().do_GET()

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(folder)))
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()

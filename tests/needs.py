"""What a test needs of the machine besides this project.

Each function returns a mark: ``@needs_program("sox", package="sox")`` or ``pytestmark = needs_jack()``.
At the desk the test is skipped and the reason names the Debian package; with ``CI=true`` a missing
part fails the run, because a proof nobody sees skipped is no proof.
"""

from __future__ import annotations

import ctypes.util
import os
import shutil
from pathlib import Path

import pytest

SAMPLES = Path("/usr/share/sonic-pi/samples")
"""Where Debian's sonic-pi-samples puts its CC0 recordings."""

GUITARS = tuple(
    SAMPLES / f"{name}.flac"
    for name in ("guit_e_fifths", "guit_e_slide", "guit_em9", "guit_harmonics")
)
"""The recordings of real playing among them."""

SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
"""Where Debian's fluid-soundfont-gm puts its General MIDI instruments."""


def needs_program(name: str, *, package: str) -> pytest.MarkDecorator:
    """Need an installed program; `package` is the Debian package it comes in."""
    return _needs(found=shutil.which(name) is not None, what=name, package=package)


def needs_samples() -> pytest.MarkDecorator:
    """Need the guitar recordings in `GUITARS`."""
    found = all(path.is_file() for path in GUITARS)
    return _needs(found=found, what="guitar recordings", package="sonic-pi-samples")


def needs_soundfont() -> pytest.MarkDecorator:
    """Need fluidsynth and the General MIDI sounds it plays."""
    if not SOUNDFONT.is_file():
        return _needs(found=False, what="a General MIDI soundfont", package="fluid-soundfont-gm")
    return needs_program("fluidsynth", package="fluidsynth")


def needs_jack() -> pytest.MarkDecorator:
    """Need a JACK server and PortAudio, to run over a real audio device."""
    if shutil.which("jackd") is None or ctypes.util.find_library("jack") is None:
        return _needs(found=False, what="jackd", package="jackd2")
    found = ctypes.util.find_library("portaudio") is not None
    return _needs(found=found, what="the PortAudio library", package="libportaudio2")


def needs_browser() -> pytest.MarkDecorator:
    """Need a browser that can be led by a program."""
    if shutil.which("chromium") is None:
        return _needs(found=False, what="chromium", package="chromium")
    return needs_program("chromedriver", package="chromium-driver")


def _needs(*, found: bool, what: str, package: str) -> pytest.MarkDecorator:
    reason = f"{what} is not installed: apt-get install {package}"
    if not found and os.environ.get("CI") == "true":
        pytest.fail(f"with CI=true nothing may be missing, but {reason}", pytrace=False)
    return pytest.mark.skipif(not found, reason=reason)

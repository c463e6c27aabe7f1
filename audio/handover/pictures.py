"""The sheet's pictures: SVG in black and grey, lines told apart by their dashes and marks.

Loaded by the worker alone. No text from outside stands in a picture: lines have numbers and letters, and
the page says below what they are. The same sound gives the same picture, byte for byte.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from audio.vocab.sheet import BarMark
from audio.vocab.units import SILENCE_DBFS, db_from_ratio, shortest, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    Codes = NDArray[np.int16]

logging.getLogger("matplotlib").setLevel(logging.ERROR)  # it tells a terminal of its fonts

WIDTH_IN, WAVE_IN, THIRDS_IN = 7.2, 1.35, 3.0

_WAVE_BOX = (0.13, 0.2, 0.815, 0.58)
_THIRDS_BOX = (0.085, 0.14, 0.9, 0.82)
"""Where the axes lie in a picture: left, bottom, width, height, shares of it. What stands beside them is
known beforehand, and to lay it out each time would take as long as to draw it."""

INK, SOFT, FAINT = "#1a1a1a", "#6b6b6b", "#d9d9d9"

RANGE_DB = 60.0
"""What is shown under the loudest band: below lies noise."""

MOST_BARS = 17
"""Numbers that stand beside each other over a waveform."""

_FULL_SCALE = 2.0**15

_Box = tuple[float, float, float, float]

_DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)))
_MARKS = "os^Dv"
_HZ = (63, 125, 250, 500, 1000, 2000, 4000, 8000, 16_000)

_LOOK: Any = {  # its type would name every setting of one release
    "svg.fonttype": "none",
    "svg.hashsalt": "secondpass",
    "font.family": "sans-serif",
    "font.size": 9.0,
    "text.parse_math": False,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "axes.unicode_minus": True,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "lines.linewidth": 1.2,
    "path.simplify": False,
}


@dataclass(frozen=True, slots=True)
class Curve:
    """One line of a spectrum."""

    key: str
    """What it is called in the picture: a number or a letter."""
    hz: tuple[float, ...]
    db: tuple[float, ...]


def draw_wave(
    lows: Codes,
    highs: Codes,
    *,
    from_s: float,
    bin_s: float,
    to_s: float,
    phrase: tuple[float, float],
    bars: Sequence[BarMark],
) -> str:
    """Draw the outline of a recording.

    Parameters
    ----------
    lows
        (bins,) · lowest sample of each stretch, full scale 2**15.
    highs
        (bins,) · highest.
    from_s
        Seconds on the DI's timeline at which the file begins.
    bin_s
        Length of a stretch, seconds.
    to_s
        Where the file ends; the last stretch may be shorter.
    phrase
        Begin and end of the reference phrase, which is shaded.
    bars
        Where bars begin; of many some are numbered.

    Returns
    -------
    str
        SVG, its height the recording's own peak.
    """
    at = np.minimum(from_s + bin_s * (0.5 + np.arange(lows.size)), to_s)
    low, high = lows / _FULL_SCALE, highs / _FULL_SCALE
    peak = float(max(np.max(np.abs(low)), np.max(np.abs(high))))
    top = peak or 1.0

    def fill(axes: Axes) -> None:
        axes.axvspan(*phrase, color=FAINT, linewidth=0)
        axes.fill_between(at, low, high, color=INK, linewidth=0.3)
        axes.set_xlim(from_s, to_s)
        axes.set_ylim(-1.05 * top, 1.05 * top)
        axes.yaxis.set_major_locator(FixedLocator([-top, 0.0, top]))
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: _dbfs(value)))
        axes.set_xlabel("s")
        axes.xaxis.set_label_coords(1.02, -0.02)
        _number_bars(axes, [one for one in bars if from_s <= one.at_s < to_s])

    return _drawn(fill, (WIDTH_IN, WAVE_IN), _WAVE_BOX)


def draw_thirds(files: Sequence[Curve], originals: Sequence[Curve]) -> str:
    """Draw third-octave levels over frequency.

    Parameters
    ----------
    files
        The microphones'.
    originals
        Drawn thinner, in grey.

    Returns
    -------
    str
        SVG; `RANGE_DB` under the loudest band.
    """
    every = [db for one in (*files, *originals) for db in one.db if db > SILENCE_DBFS / 2.0]
    top = 6.0 * np.ceil((max(every, default=0.0) + 1.0) / 6.0)

    def fill(axes: Axes) -> None:
        for number, one in enumerate(files):
            _line(axes, one, number, color=INK, width=1.4)
        for number, one in enumerate(originals):
            _line(axes, one, number, color=SOFT, width=0.9, mark="x+*")
        axes.set_xscale("log")
        axes.set_xlim(44.0, 18_000.0)
        axes.set_ylim(top - RANGE_DB, top)
        axes.xaxis.set_major_locator(FixedLocator(_HZ))
        axes.xaxis.set_minor_locator(NullLocator())
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: _hz(value)))
        axes.yaxis.set_major_locator(FixedLocator(list(np.arange(top - RANGE_DB, top + 1.0, 12.0))))
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: signed(value)))
        axes.grid(visible=True, color=FAINT, linewidth=0.5)
        axes.set_xlabel("Hz")
        axes.set_ylabel("dB over its own loudness")
        if not (files or originals):
            return
        axes.legend(
            loc="lower left",
            ncols=4,
            frameon=True,
            edgecolor="none",
            handlelength=4.0,
            fontsize=9.0,
        )

    return _drawn(fill, (WIDTH_IN, THIRDS_IN), _THIRDS_BOX)


def _line(
    axes: Axes, one: Curve, number: int, *, color: str, width: float, mark: str = _MARKS
) -> None:
    axes.plot(
        one.hz,
        one.db,
        label=one.key,
        color=color,
        linewidth=width,
        linestyle=_DASHES[number % len(_DASHES)],
        marker=mark[number % len(mark)],
        markersize=4.0,
        markerfacecolor="white" if number % 2 else color,
    )


def _number_bars(axes: Axes, bars: Sequence[BarMark]) -> None:
    """Write numbers of bars over a picture: every one, or as there is room every second or fourth."""
    every = 1
    while len(bars) > MOST_BARS * every:
        every *= 2
    kept = [one for one in bars if (one.bar - 1) % every == 0]
    if not kept:
        return
    above = axes.secondary_xaxis("top")
    above.xaxis.set_major_locator(FixedLocator([one.at_s for one in kept]))
    names = {round(one.at_s, 6): str(one.bar) for one in kept}
    above.xaxis.set_major_formatter(FuncFormatter(lambda value, _: names.get(round(value, 6), "")))
    above.set_xlabel("bar")
    above.xaxis.set_label_coords(1.03, 1.13)
    for one in kept:
        axes.axvline(one.at_s, color=SOFT, linewidth=0.4, linestyle=(0, (1, 3)), zorder=0.5)


def _dbfs(value: float) -> str:
    """Return the level of a tick; the middle has none."""
    return f"{signed(db_from_ratio(abs(value)), digits=1)} dBFS" if value > 0 else ""


def _hz(value: float) -> str:
    return shortest(value) if value < 1000.0 else f"{shortest(value / 1000.0)}k"


def _drawn(fill: Callable[[Axes], None], size_in: tuple[float, float], box: _Box) -> str:
    with _own_look():
        figure = Figure(figsize=size_in, facecolor="white")
        axes = figure.add_axes(box)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        fill(axes)
        svg = io.StringIO()
        nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
        figure.savefig(svg, format="svg", metadata=nothing)
    return _shorter(svg.getvalue())


@contextmanager
def _own_look() -> Iterator[None]:
    """Draw with our own settings, whatever a file of the user's or of the folder says."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(_LOOK)
        yield


def _shorter(svg: str) -> str:
    """Return a picture without head, its paths to a hundredth of a point."""

    def path(found: re.Match[str]) -> str:
        plain = re.sub(r"-?[0-9]+\.[0-9]+", lambda one: f"{float(one[0]):.2f}", found[0])
        return " ".join(plain.split())

    return re.sub(r' d="[^"]*"', lambda one: " " + path(one).strip(), svg[svg.index("<svg") :])

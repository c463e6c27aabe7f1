"""Frames counted against a monotonic clock: the rate, and steps where frames were lost.

A callback can be late but never early, so the smallest lateness in a stretch of time is close to the
truth. Each stretch leaves one point; a point that lies higher than the ones before by more than jitter
can explain, and whose follower does too, is a step. The slope through all points, steps taken out, is
the rate's error; where most points are steps, the rate itself is wrong and they are left in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median

WINDOW_S = 0.25
"""Length of a stretch. Long enough to hold several on-time callbacks at 8192 frames and 48 kHz."""

BASELINE = 4
"""Stretches whose smallest lateness is the level a step rises from: one second, in which a rate error
of 500 ppm moves it by half a millisecond."""

SIGMA_OF_MAD = 1.4826
"""Standard deviation over median absolute deviation of a Gaussian (any handbook of robust statistics)."""

MOST_POINTS = 4096
"""More than this are thinned to every other one: a slope over hours does not miss them."""

MIN_STEP_S = 0.003
"""Smallest step that is told from jitter, whatever the block; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Step:
    """A place at which the counter fell behind the clock."""

    at_frame: int
    """First frame of the stretch in which it was seen; the loss lies at most one stretch before."""
    frames: int
    """How many frames the clock says are missing."""


@dataclass(frozen=True, slots=True)
class RateError:
    """The device's rate against the system's clock, parts per million; positive is fast."""

    ppm: float
    plus_minus_ppm: float


class ClockWatch:
    """Takes one (frame, time) pair for each callback, in order.

    Parameters
    ----------
    rate
        Nominal frames a second.
    block_frames
        Frames of a callback; a step must exceed one and a half of them.
    """

    def __init__(self, *, rate: int, block_frames: int) -> None:
        self._rate = rate
        self._min_step = max(MIN_STEP_S, 1.5 * block_frames / rate)
        self._first: tuple[int, float] | None = None
        self._stretch = -1
        self._least = math.inf
        self._least_at = 0.0
        self._opens_at = 0
        self._stepped = 0.0
        self._held: tuple[int, float] | None = None
        self._steps = 0
        self._points: list[tuple[float, float, float]] = []
        """(elapsed, lateness without the steps, lateness as it is), seconds."""

    def note(self, frame: int, when: float) -> Step | None:
        """Take the next callback; return a step when the stretch it ends shows one."""
        if self._first is None:
            self._first = (frame, when)
        elapsed = when - self._first[1]
        late = elapsed - (frame - self._first[0]) / self._rate
        stretch = int(elapsed / WINDOW_S)
        step = None
        if stretch != self._stretch:
            step = self._close_stretch()
            self._stretch, self._least, self._opens_at = stretch, math.inf, frame
        if late < self._least:
            self._least, self._least_at = late, elapsed
        return step

    def _close_stretch(self) -> Step | None:
        if self._least is math.inf:
            return None
        rise = self._least - self._stepped - self._baseline()
        held, self._held = self._held, None
        if rise <= self._min_step:
            # A held stretch in which every callback was late lost nothing, for this one is on time.
            self._keep_point()
            return None
        if held is None:
            self._held = (self._opens_at, rise)
            return None
        rise = min(rise, held[1])
        self._stepped += rise
        self._steps += 1
        self._keep_point()
        return Step(at_frame=held[0], frames=round(rise * self._rate))

    def _baseline(self) -> float:
        return min((y for _, y, _ in self._points[-BASELINE:]), default=self._least)

    def _keep_point(self) -> None:
        self._points.append((self._least_at, self._least - self._stepped, self._least))
        if len(self._points) > MOST_POINTS:
            self._points = self._points[::2]

    def unconfirmed(self) -> Step | None:
        """Return a step the last whole stretch shows, when no further one could confirm it."""
        if self._held is None:
            return None
        return Step(at_frame=self._held[0], frames=round(self._held[1] * self._rate))

    def rate_error(self) -> RateError | None:
        """Return the rate's error, or None before there are four stretches to fit a line through."""
        kept = self._points[1:]
        if len(kept) < 4:
            return None
        wrong_rate = self._steps > len(kept) / 4
        points = [(t, raw if wrong_rate else y) for t, y, raw in kept]
        # Slopes over a quarter of the time each: a step too small to be told lies in few of them, and
        # their median does not see it (Theil 1950; Sen 1968).
        apart = max(1, len(points) // 4)
        slopes = [
            (later[1] - sooner[1]) / (later[0] - sooner[0])
            for sooner, later in zip(points, points[apart:], strict=False)
        ]
        slope = median(slopes)
        scatter = SIGMA_OF_MAD * median(abs(one - slope) for one in slopes)
        # Slopes that overlap hang together: only so many of them are independent. Three standard
        # errors, and a floor of 50 µs over a quarter of the time.
        error = 3.0 * scatter / math.sqrt(len(points) / apart)
        error += 50e-6 / (points[apart][0] - points[0][0])
        return RateError(ppm=-slope * 1e6, plus_minus_ppm=error * 1e6)

"""How near the click's reading comes to the first arrival, and how honest its plus-minus is.

Judged on the simulated room's random cabinets from seed 15,000 on, behind its saturating amp: no constant
in `audio.measure` was found on them, but on invented loudspeakers of other construction and on seeds below
4000. The first arrival
is the pure delay before the first tap of the path. Per kind of cabinet at 40 dB (click peak over noise
RMS): the share within half a frame (minimum phase) or one frame (reflections, mixed phase), goal 95 %;
polarity never wrong; the same path read again within 0.05 frame. Over 10 to 60 dB: the share of truths
within the stated 95 % interval, goal 93 to 97 %, and the interval's half width over the error's spread.
The plain peer on the same recordings is `scipy.signal.correlate` with `correlation_lags` against the
click as sent: what a script would do.

2,000 trials take about ten minutes; ``--trials`` sets another number.
"""

from __future__ import annotations

import time
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import report
from numpy.typing import NDArray
from scipy import signal

from audio.device.simulated.amp import LATENCY, Saturation
from audio.device.simulated.cabinet import Kind, random_cabinet
from audio.measure.clicks import read_clicks
from audio.signals.click import click_train
from audio.vocab.results import ClickReading

RATE = 48_000
FIRST_SEED = 15_000
KINDS: tuple[Kind, ...] = ("minimum", "reflections", "mixed")
WITHIN = {"minimum": 0.5, "reflections": 1.0, "mixed": 1.0}
COLOURS = {"white": 0.0, "pink": -0.5, "brown": -1.0, "blue": 0.5}
"""Exponent of frequency in the noise's magnitude."""
TRIALS, SHORT_TRIALS = 2000, 60

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One path and what was read of it."""

    kind: Kind
    snr_db: float
    error: float | None
    half_width: float
    turned: bool
    """Whether the polarity named is the wrong one."""
    unsure: bool
    apart: float | None
    """Difference to a second reading of the same path."""
    peer: float
    """Error of the peer."""
    peer_turned: bool


def main() -> None:
    """Print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--trials", type=int, default=TRIALS)
    said = parser.parse_args()
    count = SHORT_TRIALS if said.short else said.trials
    report.conditions(f"eight clicks, {RATE} Hz, {count} paths from seed {FIRST_SEED}")
    began = time.perf_counter()
    trials = [trial(FIRST_SEED + number) for number in range(count)]
    for kind in KINDS:
        at_forty([t for t in trials if t.kind == kind and t.snr_db == 40.0], kind)
    by_noise(trials)
    honesty([t for t in trials if t.error is not None])
    report.figure(
        "seconds a path, made and read twice", f"{(time.perf_counter() - began) / count:.2f} s"
    )


# ------------------------------------------------------------------ one path


def trial(seed: int) -> Trial:
    """Return what is read of a path that follows from its seed: half of all have 40 dB."""
    draw = np.random.default_rng([seed, 1])
    kind = KINDS[seed % len(KINDS)]
    snr_db = 40.0 if draw.uniform() < 0.5 else float(draw.uniform(10.0, 60.0))
    sent, train = click_train(rate=RATE, level_dbfs=draw.uniform(-40.0, -12.0), clicks=8)
    delay, sign = 300.0 + draw.uniform(0.0, 500.0), float(draw.choice([-1.0, 1.0]))
    clean = sign * through(sent, draw, random_cabinet(seed, kind, rate=RATE), delay)
    rms = np.max(np.abs(clean)) * 10.0 ** (-snr_db / 20.0)
    colour = str(draw.choice(list(COLOURS)))
    heard = [clean + noise(clean.size, colour, draw) * rms for _ in range(2)]
    first, second = (read_clicks(one / np.max(np.abs(one)) * 0.5, train) for one in heard)
    peer, peer_sign = correlated(heard[0], sent)
    named = {"normal": 1.0, "inverted": -1.0, "unsure": 0.0}[first.polarity]
    return Trial(
        kind=kind,
        snr_db=snr_db,
        error=error(first, delay),
        half_width=first.plus_minus_frames or 0.0,
        turned=named == -sign,
        unsure=named == 0.0,
        apart=apart(first, second),
        peer=peer - delay,
        peer_turned=peer_sign != sign,
    )


def through(sent: Floats, draw: np.random.Generator, response: Floats, delay: float) -> Floats:
    """Return a click train after the amp and a response, `delay` frames later."""
    amp = Saturation(
        rate=RATE,
        drive_db=draw.uniform(0.0, 40.0),
        asymmetry=draw.uniform(0.0, 0.5),
        latency=LATENCY,
    )
    played = amp.process(sent)
    size = 1 << (2 * sent.size).bit_length()
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * (delay - LATENCY))
    back = np.fft.irfft(np.fft.rfft(played, size) * np.fft.rfft(response, size) * turn, size)
    return np.asarray(back[: sent.size])


def noise(frames: int, colour: str, draw: np.random.Generator) -> Floats:
    """Return noise of RMS 1."""
    spectrum = np.fft.rfft(draw.standard_normal(frames))
    hz = np.maximum(np.fft.rfftfreq(frames, 1.0 / RATE), 20.0)
    made = np.fft.irfft(spectrum * hz ** COLOURS[colour], frames)
    return np.asarray(made / np.sqrt(np.mean(made**2)))


def correlated(heard: Floats, sent: Floats) -> tuple[float, float]:
    """Return where plain cross-correlation peaks, and the sign of its peak."""
    curve = signal.correlate(heard, sent, method="fft")
    lags = signal.correlation_lags(heard.size, sent.size)
    near = (lags >= 0) & (lags < RATE // 4)
    best = int(np.argmax(np.abs(curve[near])))
    return float(lags[near][best]), float(np.sign(curve[near][best]))


def error(reading: ClickReading, delay: float) -> float | None:
    """Return how much later than the truth a reading is."""
    return None if reading.delay_frames is None else reading.delay_frames - delay


def apart(first: ClickReading, second: ClickReading) -> float | None:
    """Return how far two readings of one path are apart."""
    if first.delay_frames is None or second.delay_frames is None:
        return None
    return abs(first.delay_frames - second.delay_frames)


# ------------------------------------------------------------------ figures


def at_forty(trials: list[Trial], kind: Kind) -> None:
    """Print what 40 dB gives through one kind of cabinet."""
    errors = np.asarray([abs(t.error) if t.error is not None else np.inf for t in trials])
    share = float(np.mean(errors <= WITHIN[kind]))
    told = f"{kind}, 40 dB, {len(trials)} paths"
    goal = f"within {WITHIN[kind]:g} in 95 %"
    report.figure(told, f"{100 * share:.1f} %", goal, share >= 0.95)
    known = errors[np.isfinite(errors)]
    usual, worst = np.median(known), np.quantile(known, 0.95)
    report.figure("    median, 95 % of errors, frames", f"{usual:.2f}, {worst:.2f}")
    peers = np.asarray([abs(t.peer) for t in trials])
    report.figure(
        "    plain correlation: the same", f"{np.median(peers):.2f}, {np.quantile(peers, 0.95):.2f}"
    )
    again = np.asarray([t.apart for t in trials if t.apart is not None])
    close = float(np.mean(again <= 0.05))
    report.figure("    read again: within 0.05", f"{100 * close:.1f} %", "in 95 %", close >= 0.95)
    report.figure("    read again: difference, 95 %", f"{np.quantile(again, 0.95):.3f} frames")


def by_noise(trials: list[Trial]) -> None:
    """Print polarity and refusals, and how the error grows with the noise."""
    wrong = sum(t.turned for t in trials)
    report.figure("wrong polarity", f"{wrong} of {len(trials)}", "none", wrong == 0)
    report.figure("    polarity unsure", f"{sum(t.unsure for t in trials)}")
    report.figure("    plain correlation: wrong", f"{sum(t.peer_turned for t in trials)}")
    report.figure("no delay given", f"{sum(t.error is None for t in trials)}")
    for low, high in ((10, 15), (15, 20), (20, 30), (30, 45), (45, 60)):
        here = [t for t in trials if low <= t.snr_db < high and t.error is not None]
        errors = np.asarray([abs(t.error or 0.0) for t in here])
        if errors.size:
            inside = np.mean([abs(t.error or 0.0) <= t.half_width for t in here])
            figures = (
                f"{np.median(errors):.2f}, {np.quantile(errors, 0.95):.2f}, {100 * inside:.0f} %"
            )
            report.figure(f"{low} to {high} dB: median, 95 %, inside ±", figures)


def honesty(trials: list[Trial]) -> None:
    """Print how often the truth lies in the stated interval, and how wide that is."""
    inside = np.asarray([abs(t.error or 0.0) <= t.half_width for t in trials])
    share = float(np.mean(inside))
    report.figure("truth inside ±", f"{100 * share:.1f} %", "93 to 97 %", 0.93 <= share <= 0.97)
    groups = defaultdict(list)
    for one in trials:
        groups[one.kind].append(one)
    for kind, some in groups.items():
        errors = np.asarray([abs(t.error or 0.0) for t in some])
        widths = np.asarray([t.half_width for t in some])
        told = f"{100 * np.mean(errors <= widths):.1f} %, {np.median(widths):.2f}"
        report.figure(f"    {kind}: inside ±, median ±", told)
        ratio = float(np.median(widths) / np.quantile(errors, 0.95))
        report.figure("    median ± over 95 % of errors", f"{ratio:.2f}")


if __name__ == "__main__":
    main()

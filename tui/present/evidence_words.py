"""What a verdict rests on, in trade words: the proofs, the placement, the clicks, the microphones.

Words only: the screen and the command line say the same.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import NamedTuple, get_args

from audio.plan.path import StageState
from audio.vocab.alignment import Alignment, Proof, Slip
from audio.vocab.results import ClickReading
from audio.vocab.units import clock_time, ms_from_frames, signed
from audio.vocab.variant import Variant, VariantFile

STRENGTH: tuple[Proof, ...] = get_args(Proof)
"""Strongest first."""

TOGETHER_FRAMES = 0.5
"""Clicks and places less than this apart lie on the same frame; what more means is for the findings."""

DRIFT_PPM = 0.1
"""Drift under this is not worth a word: 1.4 frames in five minutes."""

_ALIGNED = {"di": "the DI", "live": "the moment it was played", "original": "the original"}
_ONE_FRAME = 0.005


class Told(NamedTuple):
    """What one proof tells."""

    proof: Proof
    state: StageState
    """``set``: all in place; ``stale``: moved, but by no whole frames that are known to be lost; ``wrong``:
    frames are missing; ``not set``: it tells nothing."""
    words: str


def with_sign(number: float, *, digits: int = 2) -> str:
    """Return a number with its sign, true minus, and no minus before zero."""
    return f"{round(number, digits) + 0.0:+.{digits}f}".replace("-", "\N{MINUS SIGN}")


def moment(seconds: float) -> str:
    """Return a time to the hundredth: ``0:41.25``; what lies before zero reads 0:00.00."""
    hundredths = max(round(seconds * 100), 0)
    return f"{clock_time(hundredths // 100)}.{hundredths % 100:02d}"


def reference_at(variant: Variant) -> int:
    """Return which of a variant's files is the reference return's; the first where nothing tells."""
    wiring = variant.setup.get("wiring")
    name = wiring.get("reference") if isinstance(wiring, dict) else None
    names = [one.return_name for one in variant.files]
    return names.index(name) if name in names else 0


def both_clicks(
    variant: Variant,
) -> list[tuple[VariantFile, ClickReading | None, ClickReading | None]]:
    """Return each file with what its return heard of the opening and of the closing click."""
    opening, closing, many = variant.opening_click, variant.closing_click, len(variant.files)
    rows = zip_longest(variant.files, opening[:many], closing[:many])
    return [(file, first, last) for file, first, last in rows if file is not None]


def moved(first: ClickReading | None, last: ClickReading | None) -> float | None:
    """Return how many frames later the closing click came, by its peak; None where one is missing."""
    if first is None or last is None:
        return None
    before, after = first.peak_delay_frames, last.peak_delay_frames
    return None if before is None or after is None else after - before


# ---------------------------------------------------------------- the proofs


def proofs(variant: Variant) -> list[Told]:
    """Return what each proof tells: the one that was used, then the others, strongest first.

    Parameters
    ----------
    variant
        Any; what was not wired or not measured is left out.

    Returns
    -------
    list of Told
        Never empty: the counters always ran.
    """
    found = [
        *_of_cable("loop", variant.loop, variant.sample_rate),
        *_of_cable("witness", variant.witness, variant.sample_rate),
        *_of_clicks(variant),
        *_of_music(variant.music, variant.sample_rate),
        _of_counters(variant),
    ]
    return sorted(found, key=lambda one: one.proof != variant.proof)


def _of_cable(proof: Proof, found: Alignment | None, rate: int) -> list[Told]:
    if found is None:
        return []
    if found.reason is not None:
        return [Told(proof, "not set", f"tells nothing: {found.reason}")]
    if found.slips:
        return [Told(proof, "wrong", slipped(found.slips, rate))]
    return [Told(proof, "set", f"every frame in place{_steadiness(found)}{_drift(found)}")]


def _of_music(found: Alignment | None, rate: int) -> list[Told]:
    if found is None:
        return []
    if found.reason is not None:
        return [Told("music", "not set", f"tells nothing: {found.reason}")]
    if found.slips:
        return [Told("music", "wrong", slipped(found.slips, rate))]
    off, sure = strays(found), found.plus_minus_frames
    far = sure if off is None else off
    words = "in place" if far is None else f"in place to {far:.1f} frames"
    return [Told("music", "set", f"{words}{_drift(found)}")]


def strays(found: Alignment) -> float | None:
    """Return how far the farthest place lies from the line through the beginning, frames; None without."""
    if not found.places or found.delay_frames is None:
        return None
    slope, start = (found.drift_ppm or 0.0) * 1e-6, found.delay_frames
    return max(abs(one.delay_frames - start - slope * one.at_frame) for one in found.places)


def _steadiness(found: Alignment) -> str:
    off = strays(found)
    if off is None:
        return ""
    return f", to {max(off, 2 * _ONE_FRAME):.2f} frames"


def _drift(found: Alignment) -> str:
    ppm, sure = found.drift_ppm, found.drift_plus_minus_ppm or 0.0
    if ppm is None or abs(ppm) <= max(sure, DRIFT_PPM):
        return ""
    return f"; its clock runs {abs(ppm):.1f} ppm {'slower' if ppm > 0 else 'faster'}"


def slipped(slips: tuple[Slip, ...], rate: int) -> str:
    """Return where frames were lost or inserted: ``64 frames lost at 0:41.25``, the first three of them."""
    words = [_slip(one, rate) for one in slips[:3]]
    more = len(slips) - len(words)
    return ", ".join(words) + (f" and {more} more" if more else "")


def _slip(one: Slip, rate: int) -> str:
    word, many = ("inserted" if one.frames > 0 else "lost"), abs(one.frames)
    within = one.within_frames / rate
    about = f" ± {within:.2f} s" if within >= _ONE_FRAME else ""
    return f"{many} {'frame' if many == 1 else 'frames'} {word} at {moment(one.at_frame / rate)}{about}"


def _of_clicks(variant: Variant) -> list[Told]:
    if not variant.opening_click:
        return []
    _, first, last = (
        both_clicks(variant)[reference_at(variant)] if variant.files else ((), None, None)
    )
    by = moved(first, last)
    if by is None:
        return [Told("clicks", "not set", _missing(first, last))]
    if abs(by) < TOGETHER_FRAMES:
        return [Told("clicks", "set", f"{abs(by):.2f} frames apart, before and after")]
    later = "later" if by > 0 else "earlier"
    return [Told("clicks", "stale", f"the closing one came {abs(by):.2f} frames {later}")]


def _missing(first: ClickReading | None, last: ClickReading | None) -> str:
    if first is None or first.peak_delay_frames is None:
        why = first.reason if first is not None else None
        return "no opening click was heard" + (f": {why}" if why else "")
    if last is None:
        return "only the opening one was played"
    return "no closing click was heard" + (f": {last.reason}" if last.reason else "")


def _of_counters(variant: Variant) -> Told:
    many = len(variant.dropouts)
    clock = (
        "" if variant.clock_ppm is None else f"; clock {with_sign(variant.clock_ppm, digits=0)} ppm"
    )
    if not many:
        return Told("counters", "set", f"no frame lost, none in doubt{clock}")
    places = "place" if many == 1 else "places"
    return Told(
        "counters", "wrong", f"{many} {places} where frames were lost or may have been{clock}"
    )


# ---------------------------------------------------------------- placement and clicks


def round_trip(variant: Variant) -> str:
    """Return the round trip with what is not known of it."""
    if variant.delay_frames is None:
        return "not placed"
    sure, rate = variant.plus_minus_frames, variant.sample_rate
    around = "" if sure is None else f" ± {sure:.2f}"
    ms = ms_from_frames(variant.delay_frames, rate=rate)
    return f"round trip {variant.delay_frames:.2f}{around} frames ({ms:.2f} ms)"


def placement(variant: Variant) -> str:
    """Return by what the pass was placed, what was removed and what is left."""
    if variant.delay_frames is None:
        return "not placed: no click was heard"
    left = variant.residual_frames or 0.0
    kept = ", as in the pass before" if abs(left) > 0.5 else ""
    words = (
        f"by {variant.delay_source}: {variant.shift_frames} frames removed,"
        f" {with_sign(left)} left{kept}"
    )
    if variant.chain_adds_frames is not None:
        adds_ms = ms_from_frames(variant.chain_adds_frames, rate=variant.sample_rate)
        words += f"; the chain adds {signed(adds_ms, digits=2)} ms"
    return f"{words}; aligned to {_ALIGNED.get(variant.align_to, variant.align_to)}"


def steadiness(reading: ClickReading | None) -> str:
    """Return how well the single clicks of a train agree; empty where nothing tells."""
    if reading is None or reading.delay_frames is None:
        return ""
    heard, sent = sum(one is not None for one in reading.arrivals), len(reading.arrivals)
    over = "" if not sent else f" over {heard} clicks"
    over += f" of {sent}" if heard < sent else ""
    if reading.spread_frames is None:
        return f"heard {over.strip()}" if over else ""
    return f"steady to {reading.spread_frames:.2f} frames{over}"


def last_time(variant: Variant, earlier: Variant | None) -> str:
    """Return the round trip of the chain's pass before and how far this one's lies from it."""
    if earlier is None or earlier.delay_frames is None or variant.delay_frames is None:
        return ""
    before, by = earlier.delay_frames, variant.delay_frames - earlier.delay_frames
    return f"{with_sign(by)} since pass {earlier.number:03d} ({before:.2f})"


# ---------------------------------------------------------------- microphones


def distance(file: VariantFile, rate: int) -> str:
    """Return how much later a microphone hears than the reference: ``+6.29 ms, about +216 cm``."""
    if file.extra_delay_frames is None:
        return ""
    ms = file.extra_delay_ms
    if ms is None:
        ms = ms_from_frames(file.extra_delay_frames, rate=rate)
    air = (
        "" if file.extra_air_cm is None else f", about {with_sign(file.extra_air_cm, digits=0)} cm"
    )
    return f"{with_sign(ms)} ms{air}"


def polarity(file: VariantFile, click: ClickReading | None, *, is_reference: bool) -> str:
    """Return which way round a microphone is and how that was judged, or why it is not sure."""
    by_click = click.polarity if click is not None else "unsure"
    if file.polarity != "unsure":
        if by_click != "unsure":
            return f"{file.polarity}, by the clicks"
        return f"{file.polarity}, by sum and difference"
    if by_click != "unsure" and not is_reference:
        return f"unsure: clicks say {by_click}, the sum does not"
    return (
        "unsure: no clear click"
        if click is None or click.reason
        else "unsure: the click is smeared"
    )

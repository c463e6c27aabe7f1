"""What each proof tells that no frame of a pass is missing, in trade words, strongest first."""

from __future__ import annotations

from typing import NamedTuple

from audio.plan.evidence_words import moment, moved, reference_clicks
from audio.plan.path import StageState
from audio.vocab.alignment import Alignment, Disturbance, Proof, Slip
from audio.vocab.messages import Dropout
from audio.vocab.results import ClickReading
from audio.vocab.units import with_sign
from audio.vocab.variant import Variant

TOGETHER_FRAMES = 0.5
"""Clicks and places less than this apart lie on the same frame; what more means is for the findings."""

DRIFT_PPM = 0.1
"""Drift under this is not worth a word: 1.4 frames in five minutes."""

MOST_TOLD = 3
"""Slips and dropouts in words; where there are more, the picture shows them."""

SLIPPED = "frames-slipped"
"""The finding's code where frames were lost or inserted."""

_SEEN = 0.005
"""Half of the last digit that is written."""


class Told(NamedTuple):
    """What one proof tells."""

    proof: Proof
    state: StageState
    """``set``: all in place; ``stale``: moved or disturbed, but by no frames that are known to be lost;
    ``wrong``: frames are missing; ``not set``: it tells nothing."""
    words: str


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
        *_of_cable("loop", variant.loop, variant),
        *_of_cable("witness", variant.witness, variant),
        *_of_clicks(variant),
        *_of_music(variant.music, variant.sample_rate),
        _of_counters(variant),
    ]
    return sorted(found, key=lambda one: one.proof != variant.proof)


def _of_cable(proof: Proof, found: Alignment | None, variant: Variant) -> list[Told]:
    if found is None or found.reason is not None:
        return _by_its_clicks(proof, variant) if proof == variant.proof else _refused(proof, found)
    rate = variant.sample_rate
    if found.slips:
        words = slipped(found.slips, rate)
        return [Told(proof, "wrong", "; ".join([words, *_disturbed(found.disturbances, rate)]))]
    if found.disturbances:
        is_lost = any(one.kind != "strange" for one in found.disturbances)
        words = "; ".join(_disturbed(found.disturbances, rate))
        return [Told(proof, "wrong" if is_lost else "stale", f"{words}; in place around")]
    return [Told(proof, "set", f"every frame in place{_steadiness(found)}{_drift(found)}")]


_KINDS = {"moved": "slipped and put back", "silent": "of silence", "strange": "of something else"}


def _disturbed(there: tuple[Disturbance, ...], rate: int) -> list[str]:
    """Return what cannot be told in frames, as words; the first few."""
    words = [
        f"{1000 * one.frames / rate:.0f} ms {_KINDS[one.kind]} at {moment(one.at_frame / rate)}"
        for one in there[:MOST_TOLD]
    ]
    return [_listed(words, len(there))] if words else []


def _by_its_clicks(proof: Proof, variant: Variant) -> list[Told]:
    """Return what a cable's own clicks told where they were used: the findings have the figures."""
    if any(one.code == SLIPPED for one in variant.findings):
        return [Told(proof, "wrong", "its clicks before and after do not agree")]
    return [Told(proof, "set", "its clicks before and after agree")]


def _refused(proof: Proof, found: Alignment | None) -> list[Told]:
    if found is None or found.reason is None:
        return []
    return [Told(proof, "not set", f"tells nothing: {found.reason}")]


def _of_music(found: Alignment | None, rate: int) -> list[Told]:
    if found is None or found.reason is not None:
        return _refused("music", found)
    if found.slips:
        return [Told("music", "wrong", slipped(found.slips, rate))]
    off, sure = strays(found), found.plus_minus_frames
    far = sure if off is None else off
    words = "in place" if far is None else f"in place to {max(far, 0.1):.1f} frames"
    return [Told("music", "set", f"{words}{_wandering(found)}")]


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
    return f", to {max(off, 2 * _SEEN):.2f} frames"


def _drift(found: Alignment) -> str:
    ppm, sure = found.drift_ppm, found.drift_plus_minus_ppm or 0.0
    if ppm is None or abs(ppm) <= max(sure, DRIFT_PPM):
        return ""
    return f"; its clock runs {abs(ppm):.1f} ppm {'slower' if ppm > 0 else 'faster'}"


def _wandering(found: Alignment) -> str:
    """Return how far the music moved from start to end: through one device no clock can part them."""
    if not found.places:
        return ""
    span = found.places[-1].at_frame - found.places[0].at_frame
    by = abs(span * (found.drift_ppm or 0.0) * 1e-6)
    return f", wandering by {by:.1f} frames" if by >= TOGETHER_FRAMES else ""


def slipped(slips: tuple[Slip, ...], rate: int) -> str:
    """Return where frames were lost or inserted: ``64 frames lost at 0:41.25``, the first of them."""
    return _listed([_slip(one, rate) for one in slips[:MOST_TOLD]], len(slips))


def _slip(one: Slip, rate: int) -> str:
    word, many = ("inserted" if one.frames > 0 else "lost"), abs(one.frames)
    within = one.within_frames / rate
    about = f" ± {within:.2f} s" if within >= _SEEN else ""
    return f"{many} {'frame' if many == 1 else 'frames'} {word} at {moment(one.at_frame / rate)}{about}"


def _of_clicks(variant: Variant) -> list[Told]:
    if not variant.opening_click:
        return []
    first, last = reference_clicks(variant)
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
    ppm = variant.clock_ppm
    clock = "" if ppm is None else f"; clock {with_sign(ppm)} ppm"
    if not variant.dropouts:
        return Told("counters", "set", f"no frame lost, none in doubt{clock}")
    words = [_dropout(one, variant.sample_rate) for one in variant.dropouts[:MOST_TOLD]]
    return Told("counters", "wrong", _listed(words, len(variant.dropouts)) + clock)


def _dropout(one: Dropout, rate: int) -> str:
    many = "" if one.frames is None else f", {one.frames} frames"
    return f"{one.kind} at {moment(one.at_frame / rate)}{many}"


def _listed(words: list[str], many: int) -> str:
    more = many - len(words)
    return "; ".join(words) + (f"; and {more} more" if more else "")

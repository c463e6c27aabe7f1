"""The test click: when it was heard well enough, where it places a pass, and why it was not heard."""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.verdict.absent import findings_of_absence
from audio.verdict.heard import (
    Heard,
    answered,
    combined,
    is_fed_back,
    is_placed,
    moves,
    repeats_early,
)
from audio.verdict.thresholds import (
    CHAIN_REMOVED_MS,
    CLICK_HEADROOM_DB,
    CLICK_MARGIN_FRAMES,
    LEAST_GAIN_DB,
    REFERENCE_LATE_MS,
    SNR_GOAL_DB,
)
from audio.verdict.words import HUM_ADVICE, listing
from audio.vocab.findings import Finding
from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames
from audio.vocab.wiring import Return, Wiring

__all__ = ["Heard", "Placement", "explain", "heard_enough", "placement", "reference_late"]


class Placement(msgspec.Struct, frozen=True, kw_only=True):
    """The round trip *d* by which a pass is placed."""

    delay_frames: float | None
    """None when nothing is known."""
    plus_minus_frames: float | None
    """Half width of its 95 % interval."""
    source: Literal["opening click", "bare path", "earlier pass", "patched cable", "none"]
    chain_adds_frames: float | None = None
    """Constant delay of the chain over the bare path; None when the bare path is not known or the
    chain moves."""
    peak_frames: float | None = None
    """Where the click's peak was, which a filter blurs but never makes earlier; None where unknown."""


NOWHERE = Placement(delay_frames=None, plus_minus_frames=None, source="none")
"""No click was heard and no earlier placement is known."""


def heard_enough(heard: Heard, *, before: Heard | None = None) -> bool:
    """Return whether the click need not be raised further.

    Parameters
    ----------
    heard
        The newest click train.
    before
        The quieter train before it, where there was one.

    Returns
    -------
    bool
        True when the goal is reached, the ceiling is reached, or more level would gain nothing or do
        harm: a return near clipping, fed back, digitally silent, or the click on an unwired input.
    """
    reference = heard.reference
    good = reference.snr_db is not None and reference.snr_db >= SNR_GOAL_DB and answered(reference)
    at_top = heard.level_dbfs >= heard.ceiling_dbfs
    astray = not answered(reference) and any(_is_clear(heard.readings[i]) for i in heard.strays)
    lost = astray or reference.reason == "digital silence" or is_fed_back(heard)
    return good or at_top or lost or _near_clipping(heard) or _gained_nothing(heard, before)


def placement(
    heard: Heard, *, bare: Placement | None = None, earlier: Placement | None = None
) -> Placement:
    """Return the reference return's round trip, its uncertainty and where it comes from.

    Parameters
    ----------
    heard
        The opening click.
    bare
        The bare path's placement, measured in the same stream, where it was.
    earlier
        The newest placement of the same wiring in the same stream, where there is one.

    Returns
    -------
    Placement
        The opening click's, unless it was not heard, moves, or is later than the bare path by more
        than `CHAIN_REMOVED_MS`: then the bare path's stands, or the earlier one. A click that is no later
        than the bare path's, as far as both can tell, says that the bare path's place holds.
    """
    reading = heard.reference
    fallback = _of_source(bare, "bare path") or _of_source(earlier, "earlier pass") or NOWHERE
    if reading.delay_frames is None:
        return fallback
    here = Placement(
        delay_frames=reading.delay_frames,
        plus_minus_frames=reading.plus_minus_frames,
        source="opening click",
        peak_frames=reading.peak_delay_frames,
    )
    if bare is None or bare.delay_frames is None:
        return here
    return _against_bare(here, bare, moving=moves(reading), rate=heard.wiring.sample_rate)


def explain(heard: Heard) -> tuple[Finding, ...]:
    """Return what is worth saying of a click: why it was not heard, and what is odd where it was.

    The reference return not heard weighs ``redo``, any other return ``look``. A polarity that is
    unsure is never a finding.
    """
    found = _fed_back(heard)
    found += findings_of_absence(heard)
    found += _scattered(heard) + _faint(heard)
    found += reference_late(heard.wiring, tuple(heard.of(r) for r in heard.wiring.returns))
    return tuple(found + _polarity_differs(heard))


def reference_late(wiring: Wiring, readings: tuple[ClickReading, ...]) -> list[Finding]:
    """Return a finding when another return hears the click earlier than the reference.

    Parameters
    ----------
    wiring
        The wiring the click was heard under.
    readings
        One for each return, in the wiring's order.

    Returns
    -------
    list of Finding
        Empty when the reference is first or the arrival of either is not known.
    """
    reference = wiring.reference_return
    known = {
        r.name: (x.delay_frames, x.plus_minus_frames)
        for r, x in zip(wiring.returns, readings, strict=True)
        if x.delay_frames is not None
    }
    if reference.name not in known:
        return []
    first = min(known, key=lambda name: known[name][0])
    (mine, my_width), (its, its_width) = known[reference.name], known[first]
    early = ms_from_frames(mine - its, rate=wiring.sample_rate)
    unsure = ms_from_frames(combined(my_width, its_width), rate=wiring.sample_rate)
    if early - unsure <= REFERENCE_LATE_MS:
        return []
    text = f"{first} hears the click {early:.1f} ms before the reference return {reference.name}."
    advice = "Are the two cables swapped? Otherwise make the closest microphone the reference."
    return [Finding(code="reference-not-first", weight="look", text=text, advice=advice)]


def _is_clear(reading: ClickReading) -> bool:
    return reading.snr_db is not None and reading.snr_db >= SNR_GOAL_DB


def _near_clipping(heard: Heard) -> bool:
    readings = [heard.of(r) for r in heard.wiring.returns]
    return any(r.reason == "clipped" or r.peak_dbfs > -CLICK_HEADROOM_DB for r in readings)


def _gained_nothing(heard: Heard, before: Heard | None) -> bool:
    if before is None or not (is_placed(heard.reference) and is_placed(before.reference)):
        return False
    now, then = heard.reference.snr_db, before.reference.snr_db
    return now is not None and then is not None and now - then < LEAST_GAIN_DB


def _against_bare(here: Placement, bare: Placement, *, moving: bool, rate: int) -> Placement:
    adds = (here.delay_frames or 0.0) - (bare.delay_frames or 0.0)
    tolerance = combined(here.plus_minus_frames, bare.plus_minus_frames) + CLICK_MARGIN_FRAMES
    stands = msgspec.structs.replace(bare, source="bare path")
    if moving:
        return msgspec.structs.replace(stands, chain_adds_frames=None)
    if adds < -tolerance:  # nothing arrives before the bare path
        blurred = here.peak_frames is not None and bare.peak_frames is not None
        if blurred and _later(here.peak_frames, bare.peak_frames) > adds / 2.0:
            return msgspec.structs.replace(stands, chain_adds_frames=None)
        return here  # all of the click came earlier: that figure is of another wiring
    if ms_from_frames(adds, rate=rate) > CHAIN_REMOVED_MS:
        return msgspec.structs.replace(stands, chain_adds_frames=adds)
    if adds > tolerance:
        return msgspec.structs.replace(here, chain_adds_frames=adds)
    # A pedal that blurs the click moves its arrival, not the sound's: what adds nothing lies where the
    # bare path does, or variants of a part would lie apart by what a filter does to clicks.
    return msgspec.structs.replace(
        here,
        delay_frames=bare.delay_frames,
        plus_minus_frames=_wider(here.plus_minus_frames, bare.plus_minus_frames),
        chain_adds_frames=0.0,
    )


def _later(one: float | None, other: float | None) -> float:
    return (one or 0.0) - (other or 0.0)


def _wider(one: float | None, other: float | None) -> float | None:
    return max((x for x in (one, other) if x is not None), default=None)


def _of_source(
    known: Placement | None, source: Literal["bare path", "earlier pass"]
) -> Placement | None:
    """Return a placement that another click measured, said to be so."""
    return msgspec.structs.replace(known, source=source) if known else None


def _fed_back(heard: Heard) -> list[Finding]:
    output, early = heard.wiring.send_output, repeats_early(heard)
    if is_fed_back(heard):
        text = f"A return is fed back to the send on output {output}: the click comes round again."
        advice = (
            "Turn off direct monitoring or loopback to that output in the interface's mixer, "
            "and turn the amp down until it is gone."
        )
        return [Finding(code="fed-back", weight="redo", text=text, advice=advice)]
    if early is None:
        return []
    text = (
        f"The click comes again after {early:.1f} ms: a short echo, a reverb, or direct monitoring."
    )
    advice = f"Turn off direct monitoring to output {output}; what still repeats is the chain's."
    return [Finding(code="repeats-early", weight="look", text=text, advice=advice)]


def _scattered(heard: Heard) -> list[Finding]:
    spread, name = heard.reference.spread_frames, heard.wiring.reference
    if not is_placed(heard.reference) or not moves(heard.reference) or spread is None:
        return []
    text = f"The clicks scatter by {spread:.1f} frames on {name}: the chain moves."
    advice = "Bypass the modulation for the click; else the music must be the evidence."
    return [Finding(code="chain-moves", weight="look", text=text, advice=advice)]


def _faint(heard: Heard) -> list[Finding]:
    snr = heard.reference.snr_db
    if not is_placed(heard.reference) or snr is None or snr >= SNR_GOAL_DB:
        return []
    name, width = heard.wiring.reference, heard.reference.plus_minus_frames
    sure = "" if width is None else f", placed to ± {width:.2f} frames"
    hum = heard.reference.hum_hz
    what = "the noise" if hum is None else f"noise and {hum} Hz hum"
    text = f"The click is {snr:.0f} dB over {what} on {name}{sure}."
    advice = "Raise its preamp." if hum is None else HUM_ADVICE
    return [Finding(code="click-faint", weight="good", text=text, advice=advice)]


def _polarity_differs(heard: Heard) -> list[Finding]:
    return [
        finding
        for amp in heard.wiring.amps
        for finding in _differs([r for r in heard.wiring.returns if r.amp == amp], heard)
    ]


def _differs(of_one_amp: list[Return], heard: Heard) -> list[Finding]:
    sure = {"normal", "inverted"}
    known: list[tuple[Return, ClickReading]] = [
        (r, heard.of(r)) for r in of_one_amp if heard.of(r).polarity in sure
    ]
    upside_down = [r.name for r, x in known if x.polarity == "inverted"]
    if not upside_down or len(upside_down) == len(known):
        return []
    upright = listing([r.name for r, x in known if x.polarity == "normal"])
    text = f"{listing(upside_down)} comes back upside down against {upright}."
    advice = "Right for a microphone behind the cabinet; else flip the polarity of one of them."
    return [Finding(code="polarity-differs", weight="good", text=text, advice=advice)]

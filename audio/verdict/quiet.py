"""What stands in a return while nothing is sent: hum, whine, hiss, or less than there should be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from audio.verdict.hums import NO_EARTH_LIFT, findings_of_hum, hums_of
from audio.verdict.thresholds import NOISE_TOLD_DBFS
from audio.verdict.words import listing
from audio.vocab.findings import Finding
from audio.vocab.levels import NoiseFloor
from audio.vocab.setup import PatchState, SilenceResult
from audio.vocab.units import signed

WHINE_UNDER_HISS_DB: Final = 20.0
"""A tone near 1 kHz is heard from about the level of the hiss in one critical band of the ear, 160 Hz wide
there (Zwicker 1961, from memory): 22 dB under the hiss of 24 kHz."""

SHUT_DB: Final = 15.0
"""Noise that fell by so much since the last time through the same cables is a gate that shut, or a knob at
zero: an idle amp wanders by 1 to 3 dB, a preamp that was turned down by a few steps of 3 dB by less (common
practice, no source)."""

BYPASS: Final = "Bypass every gate and noise suppressor in the chain, and measure again."


def whine_matters(floor: NoiseFloor) -> bool:
    """Return whether the whine is heard through the hiss, loud enough to be heard at all."""
    if floor.whine is None or floor.hiss_dbfs is None:
        return False
    least = max(floor.hiss_dbfs - WHINE_UNDER_HISS_DB, NOISE_TOLD_DBFS)
    return floor.whine.dbfs >= least


def findings_of_silence(
    result: SilenceResult,
    *,
    others: Mapping[PatchState, SilenceResult],
    before: SilenceResult | None,
) -> tuple[Finding, ...]:
    """Return what is to be done about the noise.

    Parameters
    ----------
    result
        What was just measured.
    others
        The newest measurement of each other state of the cable, of the same wiring and sitting.
    before
        The one before this through the same cables in the same state, whenever that was.

    Returns
    -------
    tuple of Finding
        Redo for a return that is no input at all; look for hum and whine that matter and for a gate that
        seems shut; the loop test informs once its cure is in place.
    """
    found = _dead(result) + _shut(result, before)
    return (*found, *findings_of_hum(result, others=others), *_whine(result))


def headline_of_silence(result: SilenceResult, found: Sequence[Finding]) -> str:
    """Return the noise in one sentence: what is wrong with it, or the loudest of it."""
    for weight in ("redo", "look"):
        for one in found:
            if one.weight == weight:
                return one.text
    loudest = max(result.returns, key=lambda one: one.floor.rms_dbfs)
    floor = loudest.floor
    return (
        f"Quiet: {signed(floor.rms_dbfs)} dBFS on {loudest.name} at most, "
        f"{signed(floor.a_dbfs)} A-weighted, and neither hum nor whine that matters."
    )


def summary_of_silence(result: SilenceResult, found: Sequence[Finding]) -> str:
    """Return the same in one to three words."""
    codes = {one.code for one in found if one.weight != "good"}
    if "input-dead" in codes:
        return "input dead"
    if codes & {"hum", "hum-by-cable", "hum-of-amp"}:
        return f"hum {hums_of(result)[0].hz} Hz" if hums_of(result) else "hum by cable"
    if "whine" in codes:
        return "whine"
    return "gate shut?" if "gate-shut" in codes else "quiet"


def word_of(floor: NoiseFloor) -> str:
    """Return what stands out of one return's noise, in a few words."""
    if floor.reason:
        return floor.reason
    said = []
    if floor.hum is not None:
        said.append(f"hum {floor.hum.hz} Hz {signed(floor.hum.dbfs)}")
    if floor.whine is not None:
        said.append(f"whine {floor.whine.hz // 1000} kHz {signed(floor.whine.dbfs)}")
    return ", ".join(said)


def _dead(result: SilenceResult) -> list[Finding]:
    dead = [one for one in result.returns if one.floor.reason == "digital silence"]
    if not dead:
        return []
    names = listing([f"{one.name} (input {one.input})" for one in dead])
    text = f"{names} is digitally silent: no converter behind it, muted, or a gate in software."
    advice = f"Check the input's number, its mute, and the interface's routing. {BYPASS}"
    return [Finding(code="input-dead", weight="redo", text=text, advice=advice)]


def _shut(result: SilenceResult, before: SilenceResult | None) -> list[Finding]:
    then = {one.input: one.floor.hiss_dbfs for one in before.returns} if before else {}
    fell = {
        one.name: was - one.floor.hiss_dbfs
        for one in result.returns
        if (was := then.get(one.input)) is not None and one.floor.hiss_dbfs is not None
    }
    name = max(fell, key=lambda one: fell[one], default="")
    by = fell.get(name, 0.0)
    if by < SHUT_DB:
        return []
    text = f"The noise on {name} is {by:.0f} dB under what it was: a gate seems to be shut."
    advice = f"{BYPASS} Is the amp on, and the preamp up?"
    return [Finding(code="gate-shut", weight="look", text=text, advice=advice)]


def _whine(result: SilenceResult) -> list[Finding]:
    whining = [one for one in result.returns if whine_matters(one.floor)]
    levels = {one.name: one.floor.whine for one in whining}
    loudest = max(levels, key=lambda name: w.dbfs if (w := levels[name]) else 0.0, default=None)
    whine = levels[loudest] if loudest is not None else None
    if whine is None:
        return []
    on = f" on {loudest}" if len(levels) > 1 else ""
    text = (
        f"USB whines on {listing(list(levels))}, {whine.hz // 1000} kHz and its multiples: "
        f"{signed(whine.dbfs)} dBFS{on}."
    )
    advice = (
        "Use another USB port or a hub with its own supply, run the computer from its battery for a "
        f"try, and press the reamp box's ground lift. {NO_EARTH_LIFT}"
    )
    return [Finding(code="whine", weight="look", text=text, advice=advice)]

"""Hum in a return while nothing is sent: when it matters, where it comes from, which cure helped."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import msgspec

from audio.verdict.thresholds import NOISE_TOLD_DBFS, NOISE_UP_DB
from audio.verdict.words import listing
from audio.vocab.findings import Finding, Verdict
from audio.vocab.levels import NoiseFloor
from audio.vocab.setup import Noise, PatchState, SilenceResult
from audio.vocab.units import signed

HUM_UNDER_HISS_DB: Final = 6.0
"""Hum further under the hiss than this adds less than a decibel to the noise (powers add): not worth a
cable."""

CURED_DB: Final = NOISE_UP_DB
"""A cure that takes this of the hum away helped: half of its amplitude."""

NO_EARTH_LIFT = "Never lift the mains safety earth."

_ELSE = (
    "Feed amp and interface from one outlet strip, use a reamp box with a transformer, and lead the "
    f"cable away from mains cables and transformers. {NO_EARTH_LIFT}"
)


class Hums(msgspec.Struct, frozen=True, kw_only=True):
    """The hum of one return in the three steps of the loop test, dBFS; None: not measured."""

    name: str
    hz: int
    plugged: float
    unplugged: float
    lifted: float | None


class Hum(msgspec.Struct, frozen=True, kw_only=True):
    """The hum that matters on one return."""

    name: str
    hz: int
    dbfs: float
    over_hiss_db: float


def hum_matters(floor: NoiseFloor) -> bool:
    """Return whether the hum adds to the noise, loud enough to be heard at all."""
    if floor.hum is None or floor.hiss_dbfs is None:
        return False
    return floor.hum.dbfs >= max(floor.hiss_dbfs - HUM_UNDER_HISS_DB, NOISE_TOLD_DBFS)


def hums_of(result: SilenceResult) -> tuple[Hum, ...]:
    """Return the hum that matters, the loudest first."""
    found = [_hum(one) for one in result.returns if hum_matters(one.floor)]
    return tuple(sorted(found, key=lambda one: -one.dbfs))


def findings_of_hum(
    result: SilenceResult, *, others: Mapping[PatchState, SilenceResult]
) -> list[Finding]:
    """Return what the loop test says where it was done, else the hum as it stands.

    Parameters
    ----------
    result
        What was just measured.
    others
        The newest measurement of each other state of the cable, of the same wiring and sitting.

    Returns
    -------
    list of Finding
        One at most: look while hum matters, good where nothing needs a cure or the cure is in place.
    """
    known = {**others, result.patch: result}
    plugged, unplugged = known.get("plugged"), known.get("unplugged")
    if result.patch == "as it is" or plugged is None or unplugged is None:
        return _as_it_stands(result)
    if not hums_of(plugged) and not hums_of(result):
        text = "Plugged in, no hum matters: nothing needs a cure."
        return [Finding(code="no-loop", weight="good", text=text)]
    worst = max(_tested(plugged, unplugged, known.get("lifted")), key=lambda one: one.plugged)
    by_cable = worst.plugged - worst.unplugged >= CURED_DB
    return [_by_cable(worst, result) if by_cable else _of_amp(worst, result)]


def _hum(one: Noise) -> Hum:
    hum, hiss = one.floor.hum, one.floor.hiss_dbfs
    dbfs = hum.dbfs if hum else 0.0
    return Hum(name=one.name, hz=hum.hz if hum else 0, dbfs=dbfs, over_hiss_db=dbfs - (hiss or 0.0))


def _as_it_stands(result: SilenceResult) -> list[Finding]:
    """Return the hum where nothing tells yet where it comes from."""
    hums = hums_of(result)
    if not hums:
        return []
    worst, names = hums[0], listing([one.name for one in hums])
    over = f"{abs(worst.over_hiss_db):.0f} dB {'over' if worst.over_hiss_db >= 0 else 'under'}"
    on = f" on {worst.name}" if len(hums) > 1 else ""
    text = f"{worst.hz} Hz hum on {names}: {signed(worst.dbfs)} dBFS{on}, {over} the hiss."
    advice = (
        "It is there without the cable: turn the microphones and their cables away from transformers; "
        f"then plug in and measure again as plugged. {NO_EARTH_LIFT}"
        if result.patch == "unplugged"
        else "Measure again with the cable out of the amp's input, then in, then with the reamp box's "
        f"ground lift pressed: that tells where it comes from. {NO_EARTH_LIFT}"
    )
    return [Finding(code="hum", weight="look", text=text, advice=advice)]


def _tested(
    plugged: SilenceResult, unplugged: SilenceResult, lifted: SilenceResult | None
) -> list[Hums]:
    """Return the hum of each return in the states of the cable.

    Where no hum was found the hiss stands for it: it cannot be louder.
    """
    return [
        Hums(
            name=one.name,
            hz=next((hz for state in (plugged, unplugged, lifted) if (hz := _hz(state, at))), 50),
            plugged=_level(plugged, at),
            unplugged=_level(unplugged, at),
            lifted=_level(lifted, at) if lifted else None,
        )
        for at, one in enumerate(plugged.returns)
    ]


def _hz(result: SilenceResult | None, at: int) -> int:
    hum = result.returns[at].floor.hum if result else None
    return hum.hz if hum else 0


def _level(result: SilenceResult, at: int) -> float:
    floor = result.returns[at].floor
    return floor.hum.dbfs if floor.hum else min(floor.rms_dbfs, floor.hiss_dbfs or floor.rms_dbfs)


def _by_cable(one: Hums, result: SilenceResult) -> Finding:
    text = (
        f"The {one.hz} Hz hum on {one.name} comes with the cable: {signed(one.plugged)} → "
        f"{signed(one.unplugged)} dBFS unplugged"
    )
    if one.lifted is None:
        advice = (
            "Plug it in again, press the reamp box's ground lift, and measure as lifted. "
            f"{NO_EARTH_LIFT}"
        )
        return Finding(code="hum-by-cable", weight="look", text=f"{text}.", advice=advice)
    taken = one.plugged - one.lifted
    if taken < CURED_DB:
        text = f"{text}; the ground lift does not help."
        return Finding(code="hum-by-cable", weight="look", text=text, advice=_ELSE)
    text = f"{text}; the lift takes {taken:.0f} dB of it away: leave it on."
    if result.patch != "lifted":
        advice = f"Press the reamp box's ground lift again. {NO_EARTH_LIFT}"
        return Finding(code="hum-by-cable", weight="look", text=text, advice=advice)
    if hums_of(result):
        advice = f"Against what is left: {_ELSE[0].lower()}{_ELSE[1:]}"
        return Finding(code="hum-by-cable", weight="look", text=text, advice=advice)
    return Finding(code="hum-cured", weight="good", text=text, advice=NO_EARTH_LIFT)


def _of_amp(one: Hums, result: SilenceResult) -> Finding:
    steps = [one.unplugged, one.plugged] + ([] if one.lifted is None else [one.lifted])
    levels = listing([signed(level) for level in steps])
    every = "all three states" if one.lifted is not None else "both states"
    text = (
        f"The {one.hz} Hz hum on {one.name} is the amp's own, or the microphone's: it is there in "
        f"{every} of the cable ({levels} dBFS), so it is not a loop."
    )
    advice = (
        "Turn the microphone and its cable away from the amp's transformer; hum that stays belongs to a "
        f"qualified technician. {NO_EARTH_LIFT}"
    )
    weight: Verdict = "look" if hums_of(result) else "good"
    return Finding(code="hum-of-amp", weight=weight, text=text, advice=advice)

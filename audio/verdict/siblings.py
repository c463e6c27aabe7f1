"""A pass against the earlier variants of its part and chain: polarity, noise, hum, level.

Polarity, noise and hum are told by clicks and by the silence before the pass, whatever was played; what
depends on the playing is compared only where the same stretch was played.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from audio.verdict.case import Case
from audio.verdict.microphones import polarities
from audio.verdict.thresholds import (
    LEVEL_OFF_DB,
    NOISE_TOLD_DBFS,
    NOISE_UP_DB,
)
from audio.verdict.words import listing
from audio.vocab.findings import Finding
from audio.vocab.section import Covers
from audio.vocab.variant import Variant, VariantFile
from audio.vocab.wiring import Return, SimulatedDevice, Wiring

Level = Callable[[VariantFile], float | None]
"""Reads one level off a variant's file."""


def findings_of_siblings(case: Case) -> list[Finding]:
    """Return what changed since earlier variants of the chain; every finding weighs look."""
    return _polarity(case) + _level(case)


def earlier(case: Case, one: Return) -> Iterator[tuple[Variant, VariantFile]]:
    """Yield earlier variants of the chain and this return's file in them, newest first.

    Only those made under the same wiring: device, rate, send and the return's input.
    """
    mine = wired(case.order.wiring, one.input)
    for variant in _of_chain(case):
        file = next((f for f in variant.files if f.return_name == one.name), None)
        if file is not None and was_wired(variant, file.input) == mine:
            yield variant, file


def since(
    case: Case,
    one: Return,
    level: Level,
    *,
    fit: Callable[[Case, Variant], bool] | None = None,
) -> tuple[Variant, float] | None:
    """Find the newest earlier variant that has a level.

    Parameters
    ----------
    case
        The pass.
    one
        Which return.
    level
        Reads the level off a file, None where it was not known.
    fit
        Which variants count; all of the chain under this wiring when left out.

    Returns
    -------
    tuple of Variant and float or None
        The variant and its level; None if there is none.
    """
    for variant, file in earlier(case, one):
        found = level(file)
        if found is not None and (fit is None or fit(case, variant)):
            return variant, found
    return None


def loudness(variant: Variant, one: Return) -> float | None:
    """Return how loud a variant's file of a return is, LUFS; None where it has none."""
    files = (f.loudness_lufs for f in variant.files if f.return_name == one.name)
    return next(files, None)


def same_di(case: Case, variant: Variant) -> bool:
    """Return whether a variant played the same stretch of the same DI at the same trim."""
    order = case.order
    mine = (order.di.file_sha256, order.di.channel, order.trim_db, _stretch(order.covers))
    di = variant.di
    return mine == (di.file_sha256, di.channel, variant.trim_db, _stretch(variant.covers))


def _stretch(covers: Covers | None) -> tuple[int, int] | None:
    """Return what of a DI was played, however it was asked for."""
    return (covers.from_frame, covers.frames) if covers else None


def came_up(now: float | None, then: float | None) -> float | None:
    """Return by how many dB a level rose, None where that is no more than `NOISE_UP_DB` or unheard."""
    if now is None or then is None or now < NOISE_TOLD_DBFS:
        return None
    return now - then if now - then >= NOISE_UP_DB else None


def _of_chain(case: Case) -> Iterator[Variant]:
    name = case.order.chain.name
    return (v for v in reversed(case.before) if v.chain.name == name)


def wired(wiring: Wiring, number: int) -> tuple[Any, ...]:
    """Return what must be alike for an input, from 1, to be compared: device, rate, send and that input."""
    device = wiring.device
    kind = "simulated" if isinstance(device, SimulatedDevice) else "portaudio"
    found_by = (kind, getattr(device, "host", None), getattr(device, "name", None))
    return (wiring.name, *found_by, wiring.sample_rate, wiring.send_output, number)


def was_wired(variant: Variant, number: int) -> tuple[Any, ...]:
    """Return the same of an earlier variant; of its device nothing but how it is found."""
    wiring = wiring_of(variant)
    device = _mapping(wiring.get("device"))
    found_by = (device.get("kind"), device.get("host"), device.get("name"))
    return (wiring.get("name"), *found_by, variant.sample_rate, wiring.get("send_output"), number)


def wiring_of(variant: Variant) -> Mapping[str, Any]:
    """Return the wiring of an earlier variant as its file holds it; empty where that is no mapping."""
    return _mapping(variant.setup.get("wiring"))


def _mapping(value: object) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


# ---------------------------------------------------------------- polarity


def _polarity(case: Case) -> list[Finding]:
    """Return what came back turned since the chain's last variant that knew its polarity."""
    turned = []
    pairs = zip(case.names, polarities(case.order, case.measures), strict=True)
    for name, now in pairs:
        then = _last_polarity(case, name)
        if then is not None and now != "unsure" and now != then[1]:
            turned.append((name, then[0].number))
    if not turned:
        return []
    names, number = listing([name for name, _ in turned]), max(n for _, n in turned)
    every = len(turned) == len(case.names)
    text = (
        f"{names} came back with the other polarity than pass {number:03d} "
        f"through {case.order.chain.name}."
    )
    what = "The send, a pedal or the speaker's wires were" if every else "A cable or a switch was"
    advice = f"{what} turned since: turn it back, or flip this variant against the others."
    return [Finding(code="polarity-changed", weight="look", text=text, advice=advice)]


def _last_polarity(case: Case, name: str) -> tuple[Variant, str] | None:
    files = ((v, f) for v in _of_chain(case) for f in v.files if f.return_name == name)
    return next(((v, f.polarity) for v, f in files if f.polarity != "unsure"), None)


# ---------------------------------------------------------------- level


def _level(case: Case) -> list[Finding]:
    """Return the returns whose loudness is far from every sibling's."""
    if not case.whole:
        return []
    off = []
    for one, recorded in zip(case.order.wiring.returns, case.measures.returns, strict=True):
        away = _away(recorded.loudness_lufs, list(_loudnesses(case, one)))
        if away is not None:
            off.append((one.name, away))
    if not off:
        return []
    louder, quieter = [o for o in off if o[1] > 0], [o for o in off if o[1] < 0]
    facts = listing([_said(o) for o in (louder, quieter) if o])
    text = f"{facts} than earlier passes through {case.order.chain.name} at this trim."
    advice = "Compare the chain's knobs, the preamp and the microphone's place with the last pass."
    return [Finding(code="level-off", weight="look", text=text, advice=advice)]


def _loudnesses(case: Case, one: Return) -> Iterator[float]:
    """Yield the loudness of whole variants of the same DI at the same trim that were not to be redone."""
    for variant, file in earlier(case, one):
        fit = variant.state == "kept" and variant.verdict != "redo"
        if fit and same_di(case, variant) and file.loudness_lufs is not None:
            yield file.loudness_lufs


def _away(now: float | None, others: list[float]) -> float | None:
    """Return the distance to the nearest sibling where that is `LEVEL_OFF_DB` or more.

    The nearest: a knob that was turned on purpose is told once, not at every pass after it.
    """
    if now is None or not others:
        return None
    away = min((now - x for x in others), key=abs)
    return away if abs(away) >= LEVEL_OFF_DB else None


def _said(off: list[tuple[str, float]]) -> str:
    """Return returns that are all louder, or all quieter, in words."""
    most = max((db for _, db in off), key=abs)
    names, way = listing([name for name, _ in off]), "louder" if most > 0 else "quieter"
    one = len(off) == 1
    return f"{names} {'is' if one else 'are up to'} {abs(most):.1f} dB {way}"

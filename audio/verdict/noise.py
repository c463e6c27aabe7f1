"""Noise and hum that came up: since the chain's last variant, while the pass rolled, or in the rests."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from audio.verdict.case import Case
from audio.verdict.siblings import Level, came_up, loudness, same_di, since
from audio.verdict.silence import rings_out
from audio.verdict.thresholds import (
    DI_RESTS_DBFS,
    GAIN_WITHIN_DB,
    LEVEL_OFF_DB,
    RESTS_WITHIN_DB,
)
from audio.verdict.words import HUM_ADVICE, listing
from audio.vocab.findings import Finding
from audio.vocab.results import ClickReading, ReturnMeasures
from audio.vocab.units import signed
from audio.vocab.variant import Variant
from audio.vocab.wiring import Return


class Kind(NamedTuple):
    """Noise or hum: where its level stands. Hum that did not stand out then was under the noise."""

    code: str
    word: str
    advice: str
    now: Callable[[ClickReading], float | None]
    then: Callable[[ClickReading], float | None]
    file: Level
    rests: Callable[[ReturnMeasures], float | None]
    file_rests: Level


class Risen(NamedTuple):
    """What came up on one return."""

    name: str
    db: float
    now_dbfs: float
    when: str


_NOISE = Kind(
    code="noise-up",
    word="Noise",
    advice=(
        "Look for a gain or a pedal turned up, a cable beside a power supply, "
        "or something that runs in the room."
    ),
    now=lambda click: click.noise_dbfs,
    then=lambda click: click.noise_dbfs,
    file=lambda file: file.noise_dbfs,
    rests=lambda recorded: recorded.rest_noise_dbfs,
    file_rests=lambda file: file.rest_noise_dbfs,
)

_HUM = Kind(
    code="hum-up",
    word="Hum",
    advice=HUM_ADVICE,
    now=lambda click: click.hum_dbfs,
    then=lambda click: _first(click.hum_dbfs, click.noise_dbfs),
    file=lambda file: _first(file.hum_dbfs, file.noise_dbfs),
    rests=lambda recorded: recorded.rest_hum_dbfs,
    file_rests=lambda file: _first(file.rest_hum_dbfs, file.rest_noise_dbfs),
)


def findings_of_noise(case: Case) -> list[Finding]:
    """Return ``hum-up`` and ``noise-up``, one finding each at most; both weigh look.

    A return whose hum came up is not told again for its noise.
    """
    hum, noise = [], []
    for index, one in enumerate(case.order.wiring.returns):
        hummed = _risen(case, index, one, _HUM)
        hissed = None if hummed else _risen(case, index, one, _NOISE)
        hum += [hummed] if hummed else []
        noise += [hissed] if hissed else []
    return _told(_HUM, hum) + _told(_NOISE, noise)


def noise_came_up(case: Case, index: int) -> bool:
    """Return whether noise or hum of a return came up while the pass rolled."""
    looks = (_while_it_played, _in_rests)
    return any(look(case, index, kind) for look in looks for kind in (_NOISE, _HUM))


def _told(kind: Kind, risen: Sequence[Risen]) -> list[Finding]:
    if not risen:
        return []
    most, names = max(risen, key=lambda r: r.db), listing([r.name for r in risen])
    by, on = (" by", "") if len(risen) == 1 else (", by up to", f" on {most.name}")
    text = (
        f"{kind.word} came up on {names}{by} {most.db:.0f} dB {most.when} "
        f"(now {signed(most.now_dbfs)} dBFS{on})."
    )
    return [Finding(code=kind.code, weight="look", text=text, advice=kind.advice)]


def _risen(case: Case, index: int, one: Return, kind: Kind) -> Risen | None:
    opening = case.order.opening_click[index] if case.order.opening_click else None
    before = kind.now(opening) if opening else None
    return (
        _since_last(case, one, before, kind.file)
        or _since_last(case, one, _rests(case, index, kind), kind.file_rests, of_rests=True)
        or _named(one, _while_it_played(case, index, kind))
        or _named(one, _in_rests(case, index, kind))
    )


def _since_last(
    case: Case, one: Return, now: float | None, level: Level, *, of_rests: bool = False
) -> Risen | None:
    """Compare with the chain's last variant; its rests only where it played the same DI as loud."""
    last = since(case, one, level, fit=same_di if of_rests else None)
    risen = came_up(now, last[1]) if last else None
    if last is None or risen is None or now is None or _is_gain(case, one, last[0], risen):
        return None
    where = "in the rests " if of_rests else ""
    return Risen(one.name, risen, now, f"{where}since pass {last[0].number:03d}")


def _is_gain(case: Case, one: Return, variant: Variant, risen: float) -> bool:
    """Return whether the playing came up by as much: a preamp turned up, which the level tells."""
    recorded = dict(zip(case.names, case.measures.returns, strict=True))[one.name]
    now, then = recorded.loudness_lufs, loudness(variant, one)
    if now is None or then is None or not same_di(case, variant):
        return False
    return abs(now - then - risen) <= GAIN_WITHIN_DB and now - then >= LEVEL_OFF_DB


def _while_it_played(case: Case, index: int, kind: Kind) -> tuple[float, float, str] | None:
    """Compare what stood before the closing click with what stood before the opening one."""
    if not case.closing or not case.order.opening_click or rings_out(case, index):
        return None
    now, then = kind.now(case.closing[index]), kind.then(case.order.opening_click[index])
    risen = came_up(now, then)
    return None if risen is None or now is None else (risen, now, "while it played")


def _in_rests(case: Case, index: int, kind: Kind) -> tuple[float, float, str] | None:
    """Compare the rests with the silence before, where no closing click tells."""
    rests = _di_rests_silent(case) or _goes_on(case, index)
    if case.closing or not case.order.opening_click or not rests:
        return None
    now = _rests(case, index, kind)
    risen = came_up(now, kind.then(case.order.opening_click[index]))
    return None if risen is None or now is None else (risen, now, "in the rests")


def _rests(case: Case, index: int, kind: Kind) -> float | None:
    """Return the level in the rests; None where what is left at the end is a long tail, not noise."""
    return None if rings_out(case, index) else kind.rests(case.measures.returns[index])


def _di_rests_silent(case: Case) -> bool:
    """Return whether the DI is digitally silent wherever it rests."""
    edge = case.order.di_loudest_dbfs - RESTS_WITHIN_DB
    rests = [level for level in case.measures.di_levels_dbfs if level < edge]
    return bool(rests) and sum(r >= DI_RESTS_DBFS for r in rests) * 2 < len(rests)


def _goes_on(case: Case, index: int) -> bool:
    """Return whether a second and more was recorded behind the DI's end, where nothing was sent."""
    return case.measures.returns[index].frames >= case.order.played_frames + case.rate


def _named(one: Return, found: tuple[float, float, str] | None) -> Risen | None:
    return Risen(one.name, *found) if found else None


def _first(level: float | None, other: float | None) -> float | None:
    return other if level is None else level

"""How loud each sound is while they are flipped between: pure, from what was asked and measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import sqrt

from msgspec.structs import replace

from audio.vocab.balance import heard_db
from audio.vocab.layers import Layer
from audio.vocab.listening import (
    LOWEST_UNDER_DB,
    Flip,
    GoRound,
    LeaveOut,
    ListeningNow,
    MatchThem,
    SetBalance,
    SetUnder,
    Sound,
    Steer,
    Under,
)
from audio.vocab.units import db_from_ratio, ratio_from_db

CEILING_DBTP = -1.0
"""What a listen output never exceeds (EBU R 128: −1 dBTP)."""

FLIP = sqrt(2.0)
"""An equal-power fade between two sounds is at most so much larger than the larger of them."""

Gains = tuple[float, ...]
"""Linear, 0 to 1, one for each layer: those of the sounds in order, then those of what is under them."""


def steered(now: ListeningNow, asked: Steer) -> ListeningNow:
    """Return how it stands once something is done; the same where that cannot be.

    Parameters
    ----------
    now
        As it stands.
    asked
        What is asked.

    Returns
    -------
    ListeningNow
        Not `measured` any more where loudness has to be looked up anew.
    """
    match asked:
        case Flip():
            return _flipped(now, asked.key)
        case MatchThem():
            return replace(now, matched=asked.on)
        case SetUnder():
            return _under(now, asked)
        case SetBalance():
            kept = tuple(one for one in now.balances if one[0] != asked.key)
            balances = (*kept, (asked.key, asked.balance))
            return replace(now, balances=balances, measured=False)
        case GoRound():
            return replace(now, span=asked.span, measured=False)
        case LeaveOut():
            return _left_out(now, asked)


def _flipped(now: ListeningNow, key: str) -> ListeningNow:
    if key == now.heard or now.sound(key) is None:
        return now
    return replace(now, heard=key, before=now.heard)


def _under(now: ListeningNow, asked: SetUnder) -> ListeningNow:
    db = asked.db if asked.db is not None and asked.db >= LOWEST_UNDER_DB else None
    under = tuple(
        replace(one, db=None if db is None else min(db, 0.0)) if one.name == asked.name else one
        for one in now.under
    )
    return replace(now, under=under, measured=False)


def _left_out(now: ListeningNow, asked: LeaveOut) -> ListeningNow:
    out = tuple(key for key in now.out if key != asked.key)
    if asked.out:
        out = (*out, asked.key)
    if not any(one.key not in out for one in now.sounds):
        return now  # one is always left
    return replace(now, out=out, measured=False)


def next_to(now: ListeningNow, step: int) -> str:
    """Return the key of the sound above or below the one that is heard, past those that are left out."""
    there = [one.key for one in now.sounds if one.key not in now.out or one.key == now.heard]
    if now.heard not in there:
        return now.heard
    return there[min(max(there.index(now.heard) + step, 0), len(there) - 1)]


# ---------------------------------------------------------------- how loud


def layers(now: ListeningNow) -> tuple[Layer, ...]:
    """Return every layer in the order of `gains`."""
    sounding = [layer for one in now.sounds for layer in one.layers]
    return (*sounding, *(layer for one in now.under for layer in one.layers))


def gains(now: ListeningNow) -> Gains:
    """Return how loud every layer is heard now, beside the gain that is its own (`Layer.gain_db`).

    Parameters
    ----------
    now
        As it stands.

    Returns
    -------
    Gains
        0 for every sound but the one that is heard.
    """
    out: list[float] = []
    for one in now.sounds:
        heard = one.key == now.heard
        out += [_of_layer(now, one, layer) if heard else 0.0 for layer in one.layers]
    for beneath in now.under:
        out += [_linear(_sum(beneath.db, now.cut_db))] * len(beneath.layers)
    return tuple(out)


def turned_db(now: ListeningNow, key: str) -> float:
    """Return by how much a sound is turned down in all, dB, 0 or less: matched, and cut with the others."""
    level = now.level(key)
    match = level.match_db if level is not None and now.matched else 0.0
    return match + now.cut_db


def _of_layer(now: ListeningNow, one: Sound, layer: Layer) -> float:
    fader = heard_db(now.balance(one.key), layer.name)
    return _linear(_sum(fader, turned_db(now, one.key)))


def _sum(db: float | None, more_db: float) -> float | None:
    return None if db is None else db + more_db


def _linear(db: float | None) -> float:
    return 0.0 if db is None else min(ratio_from_db(db), 1.0)


def mix(now: ListeningNow, one: Sound) -> tuple[Layer, ...]:
    """Return the layers of a sound as they are balanced: those that are heard, at their gains."""
    balance = now.balance(one.key)
    found = ((layer, heard_db(balance, layer.name)) for layer in one.layers)
    return tuple(
        replace(layer, gain_db=layer.gain_db + db) for layer, db in found if db is not None
    )


def beneath(under: Iterable[Under]) -> tuple[Layer, ...]:
    """Return the layers that play under the sounds, at their gains."""
    return tuple(
        replace(layer, gain_db=layer.gain_db + one.db)
        for one in under
        if one.db is not None
        for layer in one.layers
    )


def careful_cut_db(peaks_dbfs: Sequence[float], under_db: Sequence[float]) -> float:
    """Return by how much everything is turned down while nothing is measured yet.

    Parameters
    ----------
    peaks_dbfs
        Largest sum of peaks of any sound, as far as they are known.
    under_db
        Gains of what plays under them, whose peaks nobody knows: each may reach full scale.

    Returns
    -------
    float
        0 or less: with it nothing can exceed the ceiling, but for what lies between samples.
    """
    most = FLIP * max(map(ratio_from_db, peaks_dbfs), default=1.0)
    most += sum(map(ratio_from_db, under_db))
    return min(0.0, CEILING_DBTP - db_from_ratio(most))

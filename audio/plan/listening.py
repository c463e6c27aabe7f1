"""How loud each sound is while they are flipped between: pure, from what was asked and measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import sqrt

from msgspec.structs import replace

from audio.vocab.balance import Balance, heard_db
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
from audio.vocab.matching import CEILING_DBTP, FLIP, Matched, SoundLevel
from audio.vocab.units import SILENCE_DBFS, db_from_ratio, ratio_from_db
from audio.vocab.variant import VariantFile

UNKNOWN_DB = -9.0
"""How far under its file a sound is heard of which nothing is known yet: a DI that reaches full scale is
then no louder than an amp's usual recording."""

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
            done = _under(now, asked)
        case SetBalance():
            done = _balanced(now, asked)
        case GoRound():
            done = now if asked.span == now.span else careful(replace(now, span=asked.span))
        case LeaveOut():
            done = _left_out(now, asked)
    return now if done == now else replace(done, measured=False, problem="", read=0)


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
    return replace(now, under=under)


def _balanced(now: ListeningNow, asked: SetBalance) -> ListeningNow:
    if now.sound(asked.key) is None or now.balance(asked.key) == asked.balance:
        return now
    kept = tuple(one for one in now.balances if one[0] != asked.key)
    return replace(now, balances=(*kept, (asked.key, asked.balance)))


def _left_out(now: ListeningNow, asked: LeaveOut) -> ListeningNow:
    if now.sound(asked.key) is None:
        return now
    out = tuple(key for key in now.out if key != asked.key)
    if asked.out:
        out = tuple(sorted((*out, asked.key)))
    if not any(one.key not in out for one in now.sounds):
        return now  # one is always left
    return replace(now, out=out)


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
        out += [_linear(_sum(beneath.db, cut_db(now)))] * len(beneath.layers)
    return tuple(out)


def turned_db(now: ListeningNow, key: str) -> float:
    """Return by how much a sound is turned down in all, dB, 0 or less: matched, and cut with the others."""
    level = now.level(key)
    match = level.match_db if level is not None and now.matched else 0.0
    return match + cut_db(now)


def cut_db(now: ListeningNow) -> float:
    """Return what everything is turned down by in common now, dB, 0 or less.

    The peaks of a sound that is left out were not measured with the others'; while it is heard, everything
    is turned down enough for any.
    """
    if now.heard in now.out:
        now = careful(now)
    return now.cut_matched_db if now.matched else now.cut_plain_db


def _of_layer(now: ListeningNow, one: Sound, layer: Layer) -> float:
    fader = heard_db(now.balance(one.key), layer.name)
    return _linear(_sum(fader, turned_db(now, one.key)))


def _sum(db: float | None, more_db: float) -> float | None:
    return None if db is None else db + more_db


def _linear(db: float | None) -> float:
    return 0.0 if db is None else min(ratio_from_db(db), 1.0)


def mix(now: ListeningNow, one: Sound) -> tuple[Layer, ...]:
    """Return the layers of a sound at the gains of its balance; one that is shut is there, but silent."""
    balance = now.balance(one.key)
    return tuple(
        replace(layer, gain_db=SILENCE_DBFS if db is None else layer.gain_db + db)
        for layer in one.layers
        for db in (heard_db(balance, layer.name),)
    )


def beneath(under: Iterable[Under]) -> tuple[Layer, ...]:
    """Return the layers that play under the sounds, at their gains."""
    return tuple(
        replace(layer, gain_db=layer.gain_db + one.db)
        for one in under
        if one.db is not None
        for layer in one.layers
    )


# ---------------------------------------------------------------- what is known of loudness


def settled(now: ListeningNow, matched: Matched | None, *, problem: str = "") -> ListeningNow:
    """Return how it stands with the loudness that was measured of what is compared.

    Parameters
    ----------
    now
        As it stands.
    matched
        In the order of `ListeningNow.compared`; None where nothing could be measured.
    problem
        Why not.

    Returns
    -------
    ListeningNow
        Measured, or with the problem; what was known before stays then.
    """
    if matched is None:
        return replace(careful(now), measured=True, problem=problem, read=0)
    keys = [one.key for one in now.compared()]
    levels = dict(now.levels) | dict(zip(keys, matched.sounds, strict=True))
    return replace(
        now,
        levels=tuple(levels.items()),
        cut_matched_db=matched.cut_matched_db,
        cut_plain_db=matched.cut_plain_db,
        measured=True,
        problem="",
        read=0,
    )


def careful(now: ListeningNow) -> ListeningNow:
    """Return how it stands where nothing is known of the stretch: everything turned down enough for any.

    Every sound counts with its highest peak anywhere, what is under them with full scale.
    """
    peaks = dict(now.peaks_dbfs)
    plain = [peaks.get(one.key, 0.0) for one in now.sounds]
    matched = [
        peak + (level.match_db if (level := now.level(one.key)) is not None else 0.0)
        for one, peak in zip(now.sounds, plain, strict=True)
    ]
    under = [one.db for one in now.under if one.db is not None for _ in one.layers]
    return replace(
        now,
        cut_matched_db=min(now.cut_matched_db, _careful_db(matched, under)),
        cut_plain_db=min(now.cut_plain_db, _careful_db(plain, under)),
    )


def as_passes_tell(now: ListeningNow, files: Mapping[str, Sequence[VariantFile]]) -> ListeningNow:
    """Return how it stands with what the passes have measured, before anything is measured here.

    Microphones are added up as if they had nothing in common, peaks as if they met. A sound without a pass
    is turned down to `UNKNOWN_DB`.

    Parameters
    ----------
    now
        As it stands.
    files
        Of each variant, by key: what every microphone has left.

    Returns
    -------
    ListeningNow
        About matched, and safe: nothing can exceed full scale.
    """
    loud = {
        key: _added_up(now.balance(key), there) for key, there in files.items() if now.sound(key)
    }
    known = [level for level, _ in loud.values() if level is not None]
    levels = []
    for one in now.sounds:
        lufs, peak_dbfs = loud.get(one.key, (None, 0.0))
        match = min(known) - lufs if lufs is not None else UNKNOWN_DB
        levels.append(
            (one.key, SoundLevel(loudness_lufs=lufs, peak_dbtp=peak_dbfs, match_db=match))
        )
    peaks = ((key, _added_up(Balance(), there)[1]) for key, there in files.items())
    return careful(replace(now, levels=tuple(levels), peaks_dbfs=tuple(peaks)))


def _added_up(balance: Balance, files: Sequence[VariantFile]) -> tuple[float | None, float]:
    """Return about how loud a variant is, LUFS, and the most its microphones' peaks can come to, dBFS."""
    heard = [(one, db) for one in files if (db := heard_db(balance, one.return_name)) is not None]
    powers = [
        ratio_from_db(one.loudness_lufs + db) ** 2
        for one, db in heard
        if one.loudness_lufs is not None
    ]
    peak = sum(ratio_from_db(one.peak_dbfs + db) for one, db in heard)
    return (db_from_ratio(sqrt(sum(powers))) if powers else None), db_from_ratio(peak)


def _careful_db(peaks_dbfs: Sequence[float], under_db: Sequence[float]) -> float:
    """Return what everything is turned down by, so that a flip over what is under it cannot exceed it.

    What is under it may reach full scale, for all that is known.
    """
    most = FLIP * max(map(ratio_from_db, peaks_dbfs), default=1.0)
    most += sum(map(ratio_from_db, under_db))
    return min(0.0, CEILING_DBTP - db_from_ratio(most))

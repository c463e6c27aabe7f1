"""The balance of a variant's microphones: faders and solo, as somebody set them while listening."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import msgspec

from audio.vocab.characters import is_hidden
from audio.vocab.units import shortest

LOWEST_DB = -40.0
"""A fader that goes lower is shut."""

HIGHEST_DB = 0.0
"""Faders only turn down: what shall be louder than another one is reached by turning that one down, and
nothing can ever be driven over full scale."""


class Fader(msgspec.Struct, frozen=True, kw_only=True):
    """One microphone's share."""

    name: str
    """The return's."""
    db: float | None = 0.0
    """From `LOWEST_DB` to `HIGHEST_DB`; None where it is shut."""


class Balance(msgspec.Struct, frozen=True, kw_only=True):
    """All faders of a variant; a microphone that is not named stands at 0 dB."""

    faders: tuple[Fader, ...] = ()
    """At most one for each microphone."""
    solo: tuple[str, ...] = ()
    """Names of the microphones that are heard alone; every one is heard where this is empty."""


def heard_db(balance: Balance, name: str) -> float | None:
    """Return at which gain a microphone is heard, dB, 0 or less; None where it is not heard.

    Parameters
    ----------
    balance
        Of its variant.
    name
        The return's.

    Returns
    -------
    float or None
        Its fader's, unless another one is soloed.
    """
    if balance.solo and name not in balance.solo:
        return None
    return next((one.db for one in balance.faders if one.name == name), 0.0)


def balance_problem(balance: Balance) -> str | None:
    """Return why a balance cannot be, with the way out; None when it can."""
    names = [one.name for one in balance.faders]
    if len(set(names)) < len(names):
        return "a microphone has two faders; give each one"
    for one in balance.faders:
        if one.db is not None and not LOWEST_DB <= one.db <= HIGHEST_DB:
            return (
                f"a fader of {one.db:g} dB was asked for; they go from {LOWEST_DB:g} to"
                f" {HIGHEST_DB:g} dB, or off"
            )
    return None


def of_microphones(balance: Balance, names: Collection[str]) -> Balance:
    """Return what of a balance is about a variant's own microphones.

    Parameters
    ----------
    balance
        As somebody said it, perhaps of others.
    names
        Of the variant's returns.

    Returns
    -------
    Balance
        A solo of microphones that are not there would silence all that are.
    """
    return Balance(
        faders=tuple(one for one in balance.faders if one.name in names),
        solo=tuple(one for one in balance.solo if one in names),
    )


def balance_words(balance: Balance) -> str:
    """Return a balance in words, ``close 0 dB, room −6 dB, solo close``; empty where all stand at 0 dB."""
    faders = [f"{one.name} {_level(one.db)}" for one in balance.faders]
    solo = [f"solo {' and '.join(balance.solo)}"] if balance.solo else []
    return ", ".join(faders + solo)


def _level(db: float | None) -> str:
    return "off" if db is None else f"{shortest(round(db, 1) + 0.0)} dB"  # never −0


def read_balance(value: Any) -> Balance | None:
    """Return what of a line's value can be a balance; None where nothing of it can.

    Parameters
    ----------
    value
        Whatever stands there.

    Returns
    -------
    Balance or None
        Without faders and names that cannot be; of two faders of a microphone the last one.
    """
    if not isinstance(value, dict) or not {"faders", "solo"} & value.keys():
        return None
    faders, solo = value.get("faders", []), value.get("solo", [])
    if not isinstance(faders, list) or not isinstance(solo, list):
        return None
    found = [one for one in map(_fader, faders) if one is not None]
    names = dict.fromkeys(one for one in solo if _is_name(one))
    if (faders or solo) and not (found or names):
        return None
    return Balance(faders=tuple({one.name: one for one in found}.values()), solo=tuple(names))


def _fader(value: Any) -> Fader | None:
    if not isinstance(value, dict) or not _is_name(value.get("name")) or "db" not in value:
        return None
    db = value["db"]
    if db is None:
        return Fader(name=value["name"], db=None)
    if type(db) not in (int, float) or not LOWEST_DB <= db <= HIGHEST_DB:  # true is no number
        return None
    return Fader(name=value["name"], db=float(db))


def _is_name(value: Any) -> bool:
    return isinstance(value, str) and bool(value) and not any(map(is_hidden, value))

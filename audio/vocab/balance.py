"""The balance of a variant's microphones: faders and solo, as somebody set them while listening."""

from __future__ import annotations

import msgspec

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

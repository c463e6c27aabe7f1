"""Meters of single inputs, as a step of the set-up shows them."""

from __future__ import annotations

from audio.vocab.setup import Row
from audio.vocab.status import Status
from audio.vocab.units import db_from_ratio


def input_row(status: Status | None, number: int, *, name: str = "") -> Row:
    """Return the meter of an input, from 1; nothing is known while the engine shows nothing.

    Parameters
    ----------
    status
        Picture of the engine.
    number
        The input, from 1.
    name
        What it is called; by its number where it is left out.

    Returns
    -------
    Row
        Peak of the last 50 ms, latched once the input clipped in this roll.
    """
    known = status is not None and number <= len(status.inputs.peak)
    peak = status.inputs.peak[number - 1] if status is not None and known else None
    return Row(
        name=name or f"input {number}",
        value=None if peak is None else db_from_ratio(peak),
        unit="dBFS",
        latched=has_clipped(status, number),
    )


def has_clipped(status: Status | None, number: int) -> bool:
    """Return whether an input, from 1, reached full scale since the roll began."""
    if status is None or number > len(status.inputs.clips):
        return False
    return status.inputs.clips[number - 1] > 0

"""Volts at a socket as decibels: dBu and dBV, all of sines, RMS."""

from __future__ import annotations

import math

from audio.vocab.units import db_from_ratio, ratio_from_db

DBU_VOLTS = math.sqrt(0.6)
"""0 dBu: the voltage that gives 1 mW in 600 Ω, 0.7746 V."""


def dbu_from_volts(volts: float) -> float:
    """Return the level of a voltage, more than 0 V RMS, over 0.7746 V."""
    return db_from_ratio(volts / DBU_VOLTS)


def volts_from_dbu(dbu: float) -> float:
    """Return the volts RMS of a level over 0.7746 V."""
    return DBU_VOLTS * ratio_from_db(dbu)


def dbv_from_volts(volts: float) -> float:
    """Return the level of a voltage, more than 0 V RMS, over 1 V."""
    return db_from_ratio(volts)

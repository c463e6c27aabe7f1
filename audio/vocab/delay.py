"""What a test click told of the round trip."""

from __future__ import annotations

import msgspec

from audio.vocab.alignment import Polarity
from audio.vocab.findings import Finding


class ReturnDelay(msgspec.Struct, frozen=True, kw_only=True):
    """The round trip to one return; field names are relied on by scripts."""

    name: str
    input: int
    """From 1."""
    delay_frames: float | None
    delay_ms: float | None
    plus_minus_frames: float | None
    """Half width of the 95 % interval."""
    spread_frames: float | None
    """Standard deviation of the single clicks."""
    snr_db: float | None
    polarity: Polarity
    noise_dbfs: float
    reason: str | None
    """Why there is no delay."""


class Delay(msgspec.Struct, frozen=True, kw_only=True):
    """The round trip of a wiring: its reference return's, and every return's."""

    reference: str
    sample_rate: int
    click_dbfs: float
    delay_frames: float | None
    delay_ms: float | None
    plus_minus_frames: float | None
    spread_frames: float | None
    snr_db: float | None
    polarity: Polarity
    returns: tuple[ReturnDelay, ...]
    findings: tuple[Finding, ...]
    peak_frames: float | None = None
    """Where the reference return's click had its peak."""

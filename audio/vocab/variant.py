"""``variant.json``: what a pass left and all that was measured; written once, never changed."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from audio.vocab.findings import Finding, Verdict
from audio.vocab.messages import Dropout
from audio.vocab.results import ClickReading, Polarity

VariantState = Literal["kept", "stopped", "recovered"]


class ChainAsSet(msgspec.Struct, frozen=True, kw_only=True):
    """The chain of a variant: its name and its content as it was set."""

    name: str
    content: dict[str, Any] = {}


class DiUsed(msgspec.Struct, frozen=True, kw_only=True):
    """The DI a variant was made from."""

    path: str
    """Relative to the session's folder."""
    channel: int
    """From 1."""
    file_sha256: str
    frames: int
    peak_dbfs: float


class VariantFile(msgspec.Struct, frozen=True, kw_only=True, rename={"return_name": "return"}):
    """One return of a variant."""

    return_name: str
    input: int
    """From 1."""
    path: str
    """Relative to the session's folder."""
    frames: int
    audio_sha256: str
    peak_dbfs: float
    clipped_runs: int
    loudness_lufs: float | None
    polarity: Polarity
    extra_delay_frames: float | None
    """Arrival after the reference return's, by the opening click."""
    noise_dbfs: float | None
    """RMS before the pass, full band; None when no click was sent."""
    hum_hz: int | None
    hum_dbfs: float | None


class Variant(msgspec.Struct, frozen=True, kw_only=True):
    """All that is known of one pass."""

    format: int = 1
    number: int
    part: str
    revision: int
    song: str
    chain: ChainAsSet
    state: VariantState
    verdict: Verdict
    findings: tuple[Finding, ...]
    made_at: str
    """Local time with offset, ISO 8601."""
    sample_rate: int
    di: DiUsed
    trim_db: float
    time_reference: int
    align_to: str
    delay_frames: float | None
    """Round trip *d* by which the pass was placed."""
    plus_minus_frames: float | None
    shift_frames: int
    """Whole frames *D* that were removed."""
    residual_frames: float | None
    """*d* − *D*."""
    delay_source: str
    """Where *d* comes from: ``opening click``, ``earlier pass``, ``none``."""
    chain_adds_frames: float | None
    """Constant delay of the chain over the bare path; None when the bare path was not measured."""
    dropouts: tuple[Dropout, ...]
    """`at_frame` counted from the DI's first frame."""
    clock_ppm: float | None
    setup: dict[str, Any]
    """The settings the pass was made under: wiring, device, rate, click level."""
    opening_click: tuple[ClickReading, ...]
    """In the order of `files`."""
    closing_click: tuple[ClickReading, ...]
    """The same; empty when there was none."""
    files: tuple[VariantFile, ...]


class Broken(msgspec.Struct, frozen=True, kw_only=True):
    """A variant that is there and cannot be read."""

    folder: str
    """The pass folder, relative to the session's."""
    reason: str
    """One sentence."""

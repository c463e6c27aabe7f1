"""``variant.json``: what a pass left and all that was measured; written once, never changed."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from audio.vocab.alignment import Alignment, Polarity, Proof
from audio.vocab.findings import Finding, Verdict
from audio.vocab.messages import Dropout
from audio.vocab.results import ClickReading, Echo
from audio.vocab.section import Covers

VariantState = Literal["kept", "stopped", "recovered", "joined"]
"""``joined``: made of two variants, not played."""


class Joined(msgspec.Struct, frozen=True, kw_only=True):
    """What a drop-in was made of."""

    base: int
    """Number of the variant that was there."""
    section: int
    """Number of the variant of the section that replaces a stretch of it."""
    from_frame: int
    """DI frame in the middle of the fade into the section."""
    to_frame: int
    """DI frame in the middle of the fade out of it."""
    fade_frames: int
    """Length of both fades."""


class ChainNamed(msgspec.Struct, frozen=True, kw_only=True):
    """What a chain is called."""

    name: str


class ChainAsSet(ChainNamed, frozen=True, kw_only=True):
    """The chain of a variant: its name and its content as it was set."""

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


class FilePeak(msgspec.Struct, frozen=True, kw_only=True, rename={"return_name": "return"}):
    """How loud one return of a variant came in."""

    return_name: str
    peak_dbfs: float


class VariantFile(FilePeak, frozen=True, kw_only=True):
    """One return of a variant."""

    input: int
    """From 1."""
    amp: str = ""
    """The amp its microphone stands at, where there were several."""
    path: str
    """Relative to the session's folder."""
    frames: int
    audio_sha256: str
    clipped_runs: int
    loudness_lufs: float | None
    polarity: Polarity
    """By clicks, and by sum against difference with the reference; unsure where they disagree."""
    extra_delay_frames: float | None
    """Arrival after the reference return's, by the opening click."""
    extra_delay_ms: float | None = None
    extra_air_cm: float | None = None
    """The same as a way through air, at the wiring's temperature (ISO 9613-1)."""
    noise_dbfs: float | None
    """RMS before the pass, full band; None when no click was sent."""
    hum_hz: int | None
    hum_dbfs: float | None
    rest_noise_dbfs: float | None = None
    """RMS in the DI's rests; None where it never rests."""
    rest_hum_dbfs: float | None = None


class Summary(msgspec.Struct, frozen=True, kw_only=True):
    """What a list of variants tells of one; read out of ``variant.json`` without the rest."""

    format: int = 1
    number: int
    part: str
    chain: ChainNamed
    state: VariantState
    verdict: Verdict
    findings: tuple[Finding, ...]
    made_at: str
    """Local time with offset, ISO 8601."""
    covers: Covers | None = None
    """The section it is of; None where it is the whole part."""
    joined: Joined | None = None
    """What it was made of, where it was not played."""
    files: tuple[FilePeak, ...]


class Variant(Summary, frozen=True, kw_only=True):
    """All that is known of one pass."""

    chain: ChainAsSet
    files: tuple[VariantFile, ...]
    revision: int
    song: str
    sample_rate: int
    di: DiUsed
    trim_db: float
    time_reference: int
    """Of the files' first frame."""
    align_to: str
    delay_frames: float | None
    """Round trip *d* by which the pass was placed."""
    plus_minus_frames: float | None
    shift_frames: int
    """Whole frames *D* that were removed."""
    residual_frames: float | None
    """*d* − *D*."""
    delay_source: str
    """Where *d* comes from: ``opening click``, ``bare path``, ``earlier pass``,
    ``patched cable``, ``none``."""
    chain_adds_frames: float | None
    """Constant delay of the chain over the bare path; None when the bare path was not measured."""
    echo: Echo | None = None
    """How its echoes repeat, where they do."""
    proof: Proof = "counters"
    """The strongest evidence there was that no frame is missing."""
    loop: Alignment | None = None
    """The loop's recording against the DI; its delays are what is left after *D* was removed."""
    witness: Alignment | None = None
    """The witness's, likewise."""
    music: Alignment | None = None
    """The reference return's, by its attacks, likewise."""
    dropouts: tuple[Dropout, ...]
    """`at_frame` counted from the files' first frame, which is the DI's but for a section."""
    clock_ppm: float | None
    setup: dict[str, Any]
    """The settings the pass was made under: wiring, device, rate, click level."""
    opening_click: tuple[ClickReading, ...]
    """In the order of `files`."""
    closing_click: tuple[ClickReading, ...]
    """The same; empty when there was none."""


class Broken(msgspec.Struct, frozen=True, kw_only=True):
    """A variant that is there and cannot be read."""

    folder: str
    """The pass folder, relative to the session's."""
    reason: str
    """One sentence."""

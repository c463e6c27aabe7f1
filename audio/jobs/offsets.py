"""How far any recording lies from its DI, by the music alone."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.vocab.alignment import Alignment, Polarity
from audio.vocab.answers import Compared
from audio.vocab.units import ms_from_frames
from audio.work.client import Worker


class OffsetSlip(msgspec.Struct, frozen=True, kw_only=True):
    """Frames lost or inserted; field names are relied on by scripts."""

    at_s: float
    """Seconds from the DI's first frame."""
    within_s: float
    """How far from there it may have happened, either way."""
    frames: int
    """More than 0: inserted, the recording is later from here on; less: lost."""


class Offset(msgspec.Struct, frozen=True, kw_only=True):
    """How far a recording lies from its DI; field names are relied on by scripts."""

    di: str
    recording: str
    sample_rate: int
    delay_frames: float | None
    """First arrival at the DI's first frame; more than 0: the recording is late. None where `reason` is
    set."""
    delay_ms: float | None
    plus_minus_frames: float | None
    polarity: Polarity
    confidence: float
    """0 to 1."""
    drift_ppm: float | None
    """More than 0: the recording gets later and later."""
    drift_plus_minus_ppm: float | None
    slips: tuple[OffsetSlip, ...]
    reason: str | None
    """Why there is no delay."""


def offset_of(di: Path, recording: Path, *, di_channel: int, channel: int) -> Offset:
    """Compare two files.

    Parameters
    ----------
    di
        Sound file.
    recording
        Sound file of the same rate.
    di_channel
        Of the DI, from 1.
    channel
        Of the recording, from 1.

    Returns
    -------
    Offset
        With a `reason` where the delay cannot be told.

    Raises
    ------
    UseError
        If a file cannot be read, has no such channel, or the rates differ.
    """
    with Worker() as worker:
        compared = worker.compare(di, recording, di_channel=di_channel - 1, channel=channel - 1)
    return _told(str(di), str(recording), compared)


def _told(di: str, recording: str, compared: Compared) -> Offset:
    found, rate = compared.alignment, compared.sample_rate
    delay = found.delay_frames
    return Offset(
        di=di,
        recording=recording,
        sample_rate=rate,
        delay_frames=delay,
        delay_ms=None if delay is None else ms_from_frames(delay, rate=rate),
        plus_minus_frames=found.plus_minus_frames,
        polarity=found.polarity,
        confidence=found.confidence,
        drift_ppm=found.drift_ppm,
        drift_plus_minus_ppm=found.drift_plus_minus_ppm,
        slips=_slips(found, rate),
        reason=found.reason,
    )


def _slips(found: Alignment, rate: int) -> tuple[OffsetSlip, ...]:
    return tuple(
        OffsetSlip(at_s=one.at_frame / rate, within_s=one.within_frames / rate, frames=one.frames)
        for one in found.slips
    )

"""How far a recording lies from its DI, in words."""

from __future__ import annotations

import sys

from audio.jobs.offsets import Offset, OffsetSlip
from audio.vocab.units import clock_time, ms_from_frames, signed
from tui.present.terminal import tell, width, wrapped


def tell_offset(offset: Offset) -> None:
    """Print the delay, how sure it is, polarity, drift where there is one, and each slip."""
    for text in told(offset):
        for line in wrapped(text, columns=width(sys.stdout)):
            tell(line)


def told(offset: Offset) -> list[str]:
    """Return the sentences, one a line."""
    if offset.delay_frames is None:
        return [f"not placed: {offset.reason}"]
    return [
        _delay(offset, offset.delay_frames),
        f"polarity {offset.polarity}; {offset.confidence:.0%} sure of the place",
        *_drift(offset),
        *(_slip(one, offset.sample_rate) for one in offset.slips),
    ]


def _delay(offset: Offset, frames: float) -> str:
    rate = offset.sample_rate
    sure = offset.plus_minus_frames
    around = "" if sure is None else f" ± {sure:.2f}"
    ms = signed(ms_from_frames(abs(frames), rate=rate), digits=2)
    what = "late" if frames >= 0.0 else "early"
    return (
        f"the recording is {abs(frames):.2f}{around} frames ({ms} ms) {what} against the DI,"
        f" at {rate} Hz"
    )


def _drift(offset: Offset) -> list[str]:
    """Return nothing where the drift cannot be told from none."""
    drift, sure = offset.drift_ppm, offset.drift_plus_minus_ppm
    if drift is None or sure is None or abs(drift) <= sure:
        return []
    way = "later" if drift > 0.0 else "earlier"
    return [
        f"two clocks: the recording gets {way} by {abs(drift):.2f} ± {sure:.2f} millionths of the time"
    ]


def _slip(slip: OffsetSlip, rate: int) -> str:
    what = "inserted" if slip.frames > 0 else "lost"
    ms = ms_from_frames(abs(slip.frames), rate=rate)
    return (
        f"{clock_time(slip.at_s)} {abs(slip.frames)} frames {what} ({ms:.2f} ms),"
        f" within {slip.within_s:.1f} s of there"
    )

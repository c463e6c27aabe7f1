"""Whether the round trip is the same at every opening of the stream."""

from __future__ import annotations

from collections.abc import Sequence

from audio.verdict.heard import combined
from audio.vocab.findings import Finding
from audio.vocab.setup import DelayResult
from audio.vocab.units import ms_from_frames, signed

CONSTANT_FRAMES = 0.5
"""Converters whose delay is constant agree to the reading's own uncertainty; half a frame more is still the
same whole frame, which is what a file is moved by."""

OPENINGS = 2
"""Fewest openings that must agree before a delay counts as constant."""


def is_constant(found: Sequence[DelayResult]) -> bool:
    """Return whether the cable's delay was read at several openings, and always the same."""
    known = [one for one in found if one.cable_frames is not None]
    if len({one.opening for one in known}) < OPENINGS:
        return False
    return not any(_moved(known[-1], one) for one in known[:-1])


def findings_of_constancy(
    result: DelayResult, before: Sequence[DelayResult]
) -> tuple[Finding, ...]:
    """Return what is to be said of this opening against the newest one before it.

    Parameters
    ----------
    result
        What was just measured.
    before
        What other measurements of the same cables found, oldest first.

    Returns
    -------
    tuple of Finding
        ``converters-moved``, look, where the cable's delay is another one; ``converters-constant``,
        which informs, where it is the same; empty without a cable or an earlier opening.
    """
    others = [
        one for one in before if one.opening != result.opening and one.cable_frames is not None
    ]
    if result.cable_frames is None or not others:
        return ()
    last = others[-1]
    if not _moved(result, last):
        openings = len({one.opening for one in others}) + 1
        text = f"The converters' own delay is the same at {openings} openings of the stream."
        return (Finding(code="converters-constant", weight="good", text=text),)
    by = result.cable_frames - (last.cable_frames or 0.0)
    rate = result.delay.sample_rate
    text = (
        f"The converters' own delay moved by {signed(by, digits=1)} frames"
        f" ({signed(ms_from_frames(by, rate=rate), digits=2)} ms) since the last opening."
    )
    advice = (
        "Was the buffer size changed? Else this driver starts differently each time: keep a loop cable"
        " wired, it is measured in every pass."
    )
    return (Finding(code="converters-moved", weight="look", text=text, advice=advice),)


def _moved(one: DelayResult, other: DelayResult) -> bool:
    apart = abs((one.cable_frames or 0.0) - (other.cable_frames or 0.0))
    sure = combined(one.cable_plus_minus_frames, other.cable_plus_minus_frames)
    return apart > CONSTANT_FRAMES + sure

"""What loop or witness prove of a pass, frame by frame, and what their own clicks say beside it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from audio.verdict.case import Case, Change
from audio.verdict.heard import combined
from audio.verdict.proof import Cable
from audio.verdict.slipped import by, disturbed, slipped, slipped_by_click, undo_each_other
from audio.verdict.thresholds import (
    CLICK_MARGIN_FRAMES,
    COVERED_S,
    DRIFT_FRAMES,
    RESTS_WITHIN_DB,
)
from audio.vocab.alignment import Alignment, Slip
from audio.vocab.findings import Finding


def findings_of_cable(case: Case, cable: Cable) -> list[Finding]:
    """Return slips within the DI, else drift, else what happened around the DI."""
    slips = _slips_of(case, cable)
    if slips:
        return [slipped(case, f"the {cable.name}", slips)]
    return _drifts(case, cable) or _around(case, cable)


def disturbed_on_cable(case: Case, cable: Cable) -> list[Finding]:
    """Return what went wrong for a moment and cannot be counted; nothing if it was followed wrongly."""
    if cable.alignment is None or (cable.alignment.slips and not _slips_of(case, cable)):
        return []
    return disturbed(case, f"the {cable.name}", cable.alignment.disturbances)


def _slips_of(case: Case, cable: Cable) -> list[Slip]:
    """Return the slips of a cable's recording, as far as its own clicks bear them out.

    What slips stays slipped: all of it together is what the closing click shows against the opening
    one. Where it is not, the recording was followed wrongly, a period of a held chord aside; only what
    both directions lost at once comes and goes within a round trip.
    """
    early = _before_the_di(case, cable)
    slips = [s for s in cable.alignment.slips if s.frames] if cable.alignment else []
    change = cable.change
    if change is None or not change.sharp:
        return ([early] if early else []) + slips
    if change.is_none:
        return _both_ways(slips, rate=case.rate)
    slips = ([early] if early else []) + slips
    left = sum(s.frames for s in slips) - change.by
    return slips if abs(left) <= change.plus_minus + CLICK_MARGIN_FRAMES else []


def _both_ways(slips: Sequence[Slip], *, rate: int) -> list[Slip]:
    """Return the pairs of slips that undo each other within `BOTH_WAYS_S`."""
    found: list[Slip] = []
    for one, other in pairwise(slips):
        if undo_each_other(one, other, rate=rate) and one not in found:
            found += [one, other]
    return found


def _before_the_di(case: Case, cable: Cable) -> Slip | None:
    """Return frames that went missing between the opening click and the DI's first note."""
    alignment, opening = cable.alignment, cable.opening
    if alignment is None or alignment.delay_frames is None or opening is None:
        return None
    if opening.peak_delay_frames is None:
        return None
    by = alignment.delay_frames + case.order.shift_frames - opening.peak_delay_frames
    plus_minus = combined(alignment.plus_minus_frames, opening.peak_plus_minus_frames)
    seen = Change(by=by, plus_minus=plus_minus, sharp=True, moving=False)
    if not (seen.is_slip and seen.is_whole):
        return None
    return Slip(at_frame=0, within_frames=0, frames=round(by))


def _drifts(case: Case, cable: Cable) -> list[Finding]:
    alignment, change = cable.alignment, cable.change
    if alignment is None or alignment.drift_ppm is None:
        return []
    if change is not None and change.proves:  # two clocks would have drawn the clicks apart as well
        return []
    sure = abs(alignment.drift_ppm) - (alignment.drift_plus_minus_ppm or 0.0)
    frames = sure * 1e-6 * case.order.played_frames
    if frames < DRIFT_FRAMES:
        return []
    text = (
        f"The {cable.name} drifts by {abs(alignment.drift_ppm):.1f} ppm, {frames:.0f} frames by the end: "
        "output and input run on two clocks."
    )
    advice = (
        "Send and record with one device, or clock both from one source, and play the pass again."
    )
    return [Finding(code="clocks-drift", weight="redo", text=text, advice=advice)]


def _around(case: Case, cable: Cable) -> list[Finding]:
    """Return what the cable's clicks say where its recording of the DI is whole."""
    change = cable.change
    if change is None or not change.is_slip:
        return []
    followed = cable.alignment is not None and not cable.alignment.slips
    if cable.alignment is None or not (followed and _covers(case, cable.alignment)):
        return [slipped_by_click(case, f"the {cable.name}", change)]
    text = (
        f"The closing click came {by(change)} than the opening one on the {cable.name}, but the DI "
        "is whole there: frames were lost after its last note."
    )
    advice = "Listen to the tail; the notes before it are in place."
    return [Finding(code="frames-lost-outside", weight="look", text=text, advice=advice)]


def _covers(case: Case, alignment: Alignment) -> bool:
    """Return whether a recording was compared with the DI up to its last note."""
    levels, floor = case.measures.di_levels_dbfs, case.order.di_loudest_dbfs - RESTS_WITHIN_DB
    last = max((i for i, level in enumerate(levels) if level > floor), default=0)
    ends = (last + 1) * case.measures.window_frames
    reached = max((place.at_frame for place in alignment.places), default=0)
    return reached >= ends - COVERED_S * case.rate

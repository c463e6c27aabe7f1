"""Whether frames were lost or inserted: by loop or witness, by the clicks, by the music, in this order.

A weaker proof never overrules a stronger one. What the engine counted is told beside it
(`audio.verdict.losses`): a block that was late is damage even where nothing moved afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence

from audio.verdict.case import Case, Change
from audio.verdict.heard import combined, is_placed
from audio.verdict.proof import Cable, strongest_cable
from audio.verdict.thresholds import (
    CLICK_MARGIN_FRAMES,
    CLICK_MOVED_MS,
    COVERED_S,
    DRIFT_FRAMES,
    RESTS_WITHIN_DB,
    SLIP_FRAMES,
)
from audio.verdict.words import CLICK_REASONS, MORE_ROOM, counted, listing, place_time, times
from audio.vocab.alignment import Alignment, Proof, Slip
from audio.vocab.findings import Finding, Verdict
from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames


def findings_of_frames(case: Case) -> list[Finding]:
    """Return what the strongest evidence says of frames lost or inserted.

    ``frames-slipped`` and ``clocks-drift`` weigh redo; a missing closing click, clicks that differ
    without a lost frame, and losses around the recording weigh look or good.
    """
    cable = strongest_cable(case)
    if cable is not None:
        found = _by_cable(case, cable)
        proves = cable.alignment or (cable.change and cable.change.proves)
        return found or _by_clicks(case, proven=cable.name if proves else None)
    found = _by_clicks(case, proven=None)
    here = case.here
    settled = here is not None and here.proves
    if settled or any(f.code == "frames-slipped" for f in found):
        return found
    return _by_music(case) + found


# ---------------------------------------------------------------- loop and witness


def _by_cable(case: Case, cable: Cable) -> list[Finding]:
    """Return slips within the DI, else drift, else what happened around the DI."""
    slips = [s for s in cable.alignment.slips if s.frames] if cable.alignment else []
    early = _before_the_di(case, cable)
    slips = ([early] if early else []) + slips
    if slips:
        return [slipped(case, f"the {cable.name}", slips)]
    return _drifts(case, cable) or _around(case, cable)


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
    alignment = cable.alignment
    if alignment is None or alignment.drift_ppm is None:
        return []
    sure = abs(alignment.drift_ppm) - (alignment.drift_plus_minus_ppm or 0.0)
    frames = sure * 1e-6 * case.order.di.frames
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
    if cable.alignment is None or not _covers(case, cable.alignment):
        return [_slipped_by_click(case, f"the {cable.name}", change)]
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


# ---------------------------------------------------------------- clicks


def _by_clicks(case: Case, *, proven: Proof | None) -> list[Finding]:
    """Return what the closing click says against the opening one."""
    if not case.opening_is_placed:
        return []
    closing = case.closing[case.at] if case.closing else None
    if closing is None or not is_placed(closing):
        return [_no_closing(case, closing, proven=proven)]
    here = case.here
    if here is None or here.is_none or here.moving:
        return []  # that the chain moves is told with the placement
    return _differs(case, here, proven=proven)


def _differs(case: Case, here: Change, *, proven: Proof | None) -> list[Finding]:
    name = case.order.wiring.reference
    apart = f"The closing click came {by(here)} than the opening one on {name}"
    is_slip = here.is_slip and here.is_whole
    if proven or _moved_alone(case, here) or (case.music is not None and not is_slip):
        ms = ms_from_frames(abs(here.by), rate=case.rate)
        weight: Verdict = "look" if ms > CLICK_MOVED_MS else "good"
        text = f"{apart}, but no frame was lost: a knob, a pedal or the microphone moved."
        advice = "Check the microphone's place; listen to the end of the pass."
        return [Finding(code="click-moved", weight=weight, text=text, advice=advice)]
    if is_slip:
        return [_slipped_by_click(case, name, here)]
    text = f"{apart}: less sure than it should be."
    advice = "Listen to the end of the pass against the DI."
    return [Finding(code="clicks-differ", weight="look", text=text, advice=advice)]


def _moved_alone(case: Case, here: Change) -> bool:
    """Return whether another return did not move with the reference; lost frames move all alike."""
    others = [c for i, c in enumerate(case.changes) if i != case.at and c is not None and c.sharp]
    return any(
        abs(c.by - here.by) > c.plus_minus + here.plus_minus + CLICK_MARGIN_FRAMES for c in others
    )


def _no_closing(case: Case, closing: ClickReading | None, *, proven: Proof | None) -> Finding:
    code, name = "no-closing-click", case.order.wiring.reference
    reason = closing.reason if closing else None
    if reason is None and not case.whole:
        return Finding(code=code, weight="good", text="No closing click: the pass ended early.")
    text = f"No closing click on {name}: {CLICK_REASONS[reason]}"
    other = proven or ("music" if case.music is not None else None)
    if other is not None:
        text = f"{text}; the {other} is the evidence."
        return Finding(code=code, weight="good", text=text)
    advice = (
        "Listen to the end of the pass against the DI; check the chain with `secondpass delay`."
    )
    return Finding(code=code, weight="look", text=f"{text}.", advice=advice)


# ---------------------------------------------------------------- music


def _by_music(case: Case) -> list[Finding]:
    """Return the slips the attacks show; a drift of theirs is a chain that wanders, never the clock.

    Within one stream DI and return share one clock: what drifts there is a modulation slower than the
    piece, which is music.
    """
    slips = [s for s in case.music.slips if _is_no_sway(case, s)] if case.music else []
    return [slipped(case, "the music", slips)] if slips else []


def _is_no_sway(case: Case, slip: Slip) -> bool:
    """Return whether a step is larger than what the chain itself moved between single clicks."""
    arrivals = [a for a in (case.opening_click.arrivals if case.opening_click else ()) if a]
    sway = max(arrivals) - min(arrivals) if case.moving and arrivals else 0.0
    return abs(slip.frames) >= max(SLIP_FRAMES, sway)


# ---------------------------------------------------------------- words


def slipped(case: Case, by_what: str, slips: Sequence[Slip]) -> Finding:
    """Return one finding for all slips, with the first one's place."""
    first = min(slips, key=lambda s: s.at_frame)
    at_s, within_s = first.at_frame / case.rate, first.within_frames / case.rate
    where = f"at {place_time(at_s)}" + (f" ± {within_s:.2f} s" if within_s > 0.005 else "")
    if len(slips) > 1:
        where = f"{times(len(slips))}, first {where}"
    text = f"Frames slipped {where}: {_sums(slips)}, by {by_what}."
    return Finding(
        code="frames-slipped", weight="redo", text=text, at_s=max(0.0, at_s), advice=MORE_ROOM
    )


def _sums(slips: Sequence[Slip]) -> str:
    lost = -sum(s.frames for s in slips if s.frames < 0)
    more = sum(s.frames for s in slips if s.frames > 0)
    said = [(lost, "lost"), (more, "inserted")]
    return listing([f"{counted(n, 'frame', 'frames')} {word}" for n, word in said if n])


def _slipped_by_click(case: Case, name: str, here: Change) -> Finding:
    """Return what two clicks prove, in place where the music saw it, too."""
    word = "inserted" if here.by > 0 else "lost"
    text = f"The closing click came {by(here)} than the opening one on {name}: frames were {word}."
    seen = case.music.slips if case.music else ()
    at_s = max(0.0, seen[0].at_frame / case.rate) if seen else None
    if at_s is not None:
        text = f"{text} The music shows it at {place_time(at_s)}."
    return Finding(code="frames-slipped", weight="redo", text=text, at_s=at_s, advice=MORE_ROOM)


def by(here: Change) -> str:
    """Return a change in words: ``3.00 frames later``."""
    return f"{abs(here.by):.2f} frames {'later' if here.by > 0 else 'earlier'}"

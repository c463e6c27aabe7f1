"""Whether frames were lost or inserted: by loop or witness, by the clicks, by the music, in this order.

A weaker proof never overrules a stronger one. What the engine counted is told beside it
(`audio.verdict.losses`): a block that was late is damage even where nothing moved afterwards.
"""

from __future__ import annotations

import math

from audio.verdict.cables import disturbed_on_cable, findings_of_cable
from audio.verdict.case import Case, Change
from audio.verdict.heard import is_placed
from audio.verdict.proof import strongest_cable
from audio.verdict.slipped import by, slipped, slipped_by_click
from audio.verdict.thresholds import (
    CLICK_MARGIN_FRAMES,
    CLICK_MOVED_MS,
    SLIP_FRAMES,
    SWAY_MS,
)
from audio.verdict.words import CLICK_REASONS
from audio.vocab.alignment import Proof
from audio.vocab.findings import Finding, Verdict
from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames


def findings_of_frames(case: Case) -> list[Finding]:
    """Return what the strongest evidence says of frames lost or inserted.

    ``frames-slipped`` and ``clocks-drift`` weigh redo, ``frames-disturbed`` redo or look; a missing closing
    click, clicks that differ without a lost frame, and losses around the recording weigh look or good.
    """
    cable = strongest_cable(case)
    if cable is not None:
        proves = cable.alignment or (cable.change and cable.change.proves)
        clicks = cable.name if proves else None
        found = findings_of_cable(case, cable) or _by_clicks(case, proven=clicks)
        return found + disturbed_on_cable(case, cable)
    found = _by_clicks(case, proven=None)
    here = case.here
    settled = here is not None and here.proves
    if settled or any(f.code == "frames-slipped" for f in found):
        return found
    return _by_music(case) + found


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
        ms = ms_from_frames(min(abs(here.by), _arrival_moved(case)), rate=case.rate)
        weight: Verdict = "look" if ms > CLICK_MOVED_MS else "good"
        text = f"{apart}, but no frame was lost: a knob, a pedal or the microphone moved."
        advice = "Check the microphone's place; listen to the end of the pass."
        return [Finding(code="click-moved", weight=weight, text=text, advice=advice)]
    if is_slip:
        return [slipped_by_click(case, name, here)]
    text = f"{apart}: less sure than it should be."
    advice = "Listen to the end of the pass against the DI."
    return [Finding(code="clicks-differ", weight="look", text=text, advice=advice)]


def _arrival_moved(case: Case) -> float:
    """Return by how many frames the first arrival moved, either way; a moved microphone moves all."""
    opening, closing = case.opening_click, case.closing[case.at]
    if opening is None or opening.delay_frames is None or closing.delay_frames is None:
        return math.inf
    return abs(closing.delay_frames - opening.delay_frames)


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
    piece, which is music. Nor are steps within what a moving chain sways.
    """
    least = max(SLIP_FRAMES, _sway_frames(case))
    slips = [s for s in case.music.slips if abs(s.frames) >= least] if case.music else []
    return [slipped(case, "the music", slips)] if slips else []


def _sway_frames(case: Case) -> float:
    """Return how far a chain may carry an attack: twice what its clicks showed, 0 if it holds still."""
    if not case.moving:
        return 0.0
    known = [
        a for a in (case.opening_click.arrivals if case.opening_click else ()) if a is not None
    ]
    if not known:
        return SWAY_MS * case.rate / 1000.0
    return 2.0 * (max(known) - min(known))

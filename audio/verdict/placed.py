"""Whether a pass lies where it should, what confirms it, and what its chain adds."""

from __future__ import annotations

from typing import Literal

from audio.verdict.case import Case
from audio.verdict.heard import moves
from audio.verdict.proof import strongest
from audio.verdict.thresholds import (
    CHAIN_REMOVED_MS,
    CHAIN_TOLD_MS,
    CLICK_LOOSE_MS,
    MUSIC_AGREES_MS,
    PLACEMENT_LOOSE_MS,
)
from audio.verdict.words import CLICK_REASONS
from audio.vocab.alignment import Proof
from audio.vocab.findings import Finding
from audio.vocab.units import ms_from_frames

_Reason = Literal["nothing", "digital silence", "only hum", "unclear", "clipped"] | None

_EVIDENCE: dict[Proof, str] = {
    "loop": "the loop proves the frames, the music the place",
    "witness": "the witness proves the frames, the music the place",
    "clicks": "the clicks prove the frames",
    "music": "the music is the evidence",
    "counters": "only the counters are left as evidence",
}


_PLACE_AGAIN = "Run the bare path once, then play the pass again; or move its files by so much."


def findings_of_placement(case: Case) -> list[Finding]:
    """Return how the pass was placed, where that is not certain, and what the chain adds.

    A chain that moves or swallows the clicks weighs good: it is music, and the finding says which
    evidence there is instead.
    """
    order, adds = case.order, _chain_adds(case)
    if order.delay_source == "none" or order.delay_frames is None:
        return [*_swallowed(case), _not_placed(case), *adds]
    if case.opening_is_placed:
        return _moving(case) + _loose(case) + adds
    if _reason(case) == "unclear" and not _is_early(case):
        return _swallowed(case) + adds  # the chain moves: another click's figure is the right one
    return _swallowed(case) + _by_another(case) + adds


def _not_placed(case: Case) -> Finding:
    name, reason = case.order.wiring.reference, CLICK_REASONS[_reason(case)]
    text = f"Not placed in time: no opening click on {name} ({reason}) and no earlier one."
    late = case.music.delay_frames if case.music else None
    if late is None:
        advice = (
            "Find out with `secondpass delay` why the click is not heard, then play the pass again."
        )
        return Finding(code="not-placed", weight="look", text=text, advice=advice)
    text = f"{text} By the music it lies {_off(late)} than its DI."
    return Finding(code="not-placed", weight="look", text=text, advice=_PLACE_AGAIN)


def _by_another(case: Case) -> list[Finding]:
    """Return how far another click's figure can be believed for a pass whose own was not heard."""
    code, name = "placed-by-earlier", case.order.wiring.reference
    whose = "the bare path's" if case.order.delay_source == "bare path" else "an earlier one"
    text = f"No opening click on {name} ({CLICK_REASONS[_reason(case)]}): placed by {whose}"
    late = _music_later(case)
    if late is None:
        advice = "Compare its attacks with the DI's before using it."
        return [Finding(code=code, weight="look", text=f"{text}.", advice=advice)]
    ms = ms_from_frames(late, rate=case.rate)
    if abs(ms) <= _tolerance_ms(case):
        return [Finding(code=code, weight="good", text=f"{text}, and the music agrees.")]
    if ms > CHAIN_REMOVED_MS:
        text = f"{text}; its attacks come {ms:.1f} ms late: music, so it stays."
        return [Finding(code="chain-late", weight="good", text=text)]
    text = f"{text}, but by the music it lies {_off(late)}."
    return [Finding(code="placed-elsewhere", weight="look", text=text, advice=_PLACE_AGAIN)]


def _moving(case: Case) -> list[Finding]:
    if not case.moving:
        return []
    opening = case.opening_click
    if opening is not None and moves(opening):
        how = f"The opening clicks scatter by {opening.spread_frames or 0.0:.1f} frames"
    else:
        how = "The clicks differ from the opening to the closing one"
    text = f"{how} on {case.order.wiring.reference}: the chain moves; {_EVIDENCE[strongest(case)]}."
    return [Finding(code="chain-moves", weight="good", text=text)]


def _swallowed(case: Case) -> list[Finding]:
    """Return that the clicks did not come through a chain that may well answer the playing."""
    reason, evidence = _reason(case), _EVIDENCE[strongest(case)]
    if reason == "unclear":
        text = f"The opening clicks contradict each other: the chain moves; {evidence}."
        return [Finding(code="chain-moves", weight="good", text=text)]
    if reason != "nothing" or case.music is None:
        return []
    text = f"The chain swallows the clicks, as a gate does; {evidence}."
    return [Finding(code="chain-gates", weight="good", text=text)]


def _loose(case: Case) -> list[Finding]:
    """Return a placement that noise or movement leaves open, or a smearing chain leaves wide open."""
    width_ms = _ms(case, case.order.plus_minus_frames)
    if width_ms <= PLACEMENT_LOOSE_MS and _ms(case, _noise_width(case)) <= CLICK_LOOSE_MS:
        return []
    width = case.order.plus_minus_frames or 0.0
    text = f"Placed only to ± {width:.1f} frames ({width_ms:.2f} ms)"
    if _music_is_surer(case):
        return [Finding(code="placement-loose", weight="good", text=f"{text}; the music agrees.")]
    advice = (
        "Raise the preamp of the reference return, or quieten the chain, and play the pass again."
    )
    return [Finding(code="placement-loose", weight="look", text=f"{text}.", advice=advice)]


def _noise_width(case: Case) -> float | None:
    """Return the half width that noise and movement leave, where this pass's own click placed it."""
    if case.order.delay_source != "opening click" or case.opening_click is None:
        return None
    return case.opening_click.peak_plus_minus_frames


def _is_early(case: Case) -> bool:
    """Return whether the music comes before the place the pass was given: no chain can do that."""
    late = _music_later(case)
    return late is not None and ms_from_frames(late, rate=case.rate) < -_tolerance_ms(case)


def _ms(case: Case, frames: float | None) -> float:
    return ms_from_frames(frames or 0.0, rate=case.rate)


def _music_later(case: Case) -> float | None:
    """Return by how many frames the music came later than the pass was placed to have it."""
    order, music = case.order, case.music
    if music is None or music.delay_frames is None or order.delay_frames is None:
        return None
    if order.wiring.align_to != "di":  # then the return is late on purpose
        return None
    return music.delay_frames - (order.delay_frames - order.shift_frames)


def _music_is_surer(case: Case) -> bool:
    """Return whether the music confirms the place, and is surer of it than the click was."""
    late, music = _music_later(case), case.music
    if late is None or music is None or music.plus_minus_frames is None:
        return False
    width_ms = ms_from_frames(music.plus_minus_frames, rate=case.rate)
    near = ms_from_frames(abs(late), rate=case.rate) <= _tolerance_ms(case)
    return near and width_ms <= PLACEMENT_LOOSE_MS


def _tolerance_ms(case: Case) -> float:
    width = case.music.plus_minus_frames if case.music else None
    return MUSIC_AGREES_MS + _ms(case, width)


def _off(frames: float) -> str:
    return f"{abs(frames):.0f} frames {'later' if frames > 0 else 'earlier'}"


def _chain_adds(case: Case) -> list[Finding]:
    adds = case.order.chain_adds_frames
    ms = 0.0 if adds is None else ms_from_frames(adds, rate=case.rate)
    if ms < CHAIN_TOLD_MS:
        return []
    if ms > CHAIN_REMOVED_MS:
        text = f"The chain's first arrival is {ms:.1f} ms late: music, so it stays."
        return [Finding(code="chain-late", weight="good", text=text)]
    text = f"This chain adds {ms:.2f} ms, removed with the round trip."
    return [Finding(code="chain-adds", weight="good", text=text)]


def _reason(case: Case) -> _Reason:
    return case.opening_click.reason if case.opening_click else None

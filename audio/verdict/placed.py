"""Whether a pass lies where it should, what confirms it, and what its chain adds."""

from __future__ import annotations

from audio.verdict.case import Case
from audio.verdict.frames import REASONS, strongest
from audio.verdict.heard import is_placed, moves
from audio.verdict.thresholds import (
    CHAIN_REMOVED_MS,
    CHAIN_TOLD_MS,
    MUSIC_AGREES_MS,
    PLACEMENT_LOOSE_MS,
)
from audio.vocab.alignment import Proof
from audio.vocab.findings import Finding
from audio.vocab.units import ms_from_frames

_EVIDENCE: dict[Proof, str] = {
    "loop": "the loop proves the frames, the music the place",
    "witness": "the witness proves the frames, the music the place",
    "clicks": "the clicks prove the frames",
    "music": "the music is the evidence",
    "counters": "only the counters are left as evidence",
}


def findings_of_placement(case: Case) -> list[Finding]:
    """Return how the pass was placed, where that is not certain, and what the chain adds.

    A chain that moves or swallows the clicks weighs good: it is music, and the finding says which
    evidence there is instead.
    """
    order, adds = case.order, _chain_adds(case)
    if order.delay_source == "none" or order.delay_frames is None:
        return [*_swallowed(case), _not_placed(case), *adds]
    if order.delay_source != "opening click" and not case.opening_is_placed:
        return _swallowed(case) + _by_earlier(case) + adds
    return _moving(case) + _loose(case) + adds


def _not_placed(case: Case) -> Finding:
    name = case.order.wiring.reference
    text = f"Not placed in time: no opening click on {name} ({_opening_reason(case)}) and no earlier one."
    late = case.music.delay_frames if case.music else None
    if late is None:
        advice = (
            "Find out with `secondpass delay` why the click is not heard, then play the pass again."
        )
        return Finding(code="not-placed", weight="look", text=text, advice=advice)
    text = f"{text} By the music it lies {_off(late)} than its DI."
    advice = "Run the bare path once, then play the pass again; or move its files by so much."
    return Finding(code="not-placed", weight="look", text=text, advice=advice)


def _by_earlier(case: Case) -> list[Finding]:
    """Return how far an earlier placement can be believed for a pass whose own click was not heard."""
    name = case.order.wiring.reference
    text = f"No opening click on {name} ({_opening_reason(case)}): placed by an earlier one"
    late = _music_later(case)
    if late is None:
        advice = "Compare its attacks with the DI's before using it."
        return [Finding(code="placed-by-earlier", weight="look", text=f"{text}.", advice=advice)]
    ms = ms_from_frames(late, rate=case.rate)
    if abs(ms) <= _tolerance_ms(case):
        return [
            Finding(code="placed-by-earlier", weight="good", text=f"{text}, and the music agrees.")
        ]
    if ms > CHAIN_REMOVED_MS:
        late_text = f"{text}; its attacks come {ms:.1f} ms late: music, so it stays."
        return [Finding(code="chain-late", weight="good", text=late_text)]
    text = f"{text}, but by the music it lies {_off(late)}."
    advice = "Run the bare path once, then play the pass again; or move its files by so much."
    return [Finding(code="placed-elsewhere", weight="look", text=text, advice=advice)]


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
    """Return that the clicks did not come through a chain that answered the playing."""
    opening, music = case.opening_click, case.music
    if opening is None or music is None or is_placed(opening):
        return []
    if opening.reason == "unclear":
        text = f"The opening clicks contradict each other: the chain moves; {_EVIDENCE[strongest(case)]}."
        return [Finding(code="chain-moves", weight="good", text=text)]
    if opening.reason != "nothing":
        return []
    text = f"The chain swallows the clicks, as a gate does; {_EVIDENCE[strongest(case)]}."
    return [Finding(code="chain-gates", weight="good", text=text)]


def _loose(case: Case) -> list[Finding]:
    width = case.order.plus_minus_frames
    if width is None or ms_from_frames(width, rate=case.rate) <= PLACEMENT_LOOSE_MS:
        return []
    text = f"Placed only to ± {width:.1f} frames ({ms_from_frames(width, rate=case.rate):.2f} ms)"
    late = _music_later(case)
    if late is not None and ms_from_frames(abs(late), rate=case.rate) <= _tolerance_ms(case):
        return [Finding(code="placement-loose", weight="good", text=f"{text}; the music agrees.")]
    advice = (
        "Raise the preamp of the reference return, or quieten the chain, and play the pass again."
    )
    return [Finding(code="placement-loose", weight="look", text=f"{text}.", advice=advice)]


def _music_later(case: Case) -> float | None:
    """Return by how many frames the music came later than the pass was placed to have it."""
    order, music = case.order, case.music
    if music is None or music.delay_frames is None or order.delay_frames is None:
        return None
    if order.wiring.align_to != "di":  # then the return is late on purpose
        return None
    return music.delay_frames - (order.delay_frames - order.shift_frames)


def _tolerance_ms(case: Case) -> float:
    width = case.music.plus_minus_frames if case.music else None
    return MUSIC_AGREES_MS + ms_from_frames(width or 0.0, rate=case.rate)


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


def _opening_reason(case: Case) -> str:
    return REASONS[case.opening_click.reason if case.opening_click else None]

"""What is to be said of a drop-in: what its two passes left in it, and whether they fit at the joints."""

from __future__ import annotations

from typing import Any, Final

from audio.verdict.words import listing
from audio.vocab.findings import Finding, heaviest_first
from audio.vocab.joining import JoinOrder, Joint
from audio.vocab.results import PassMeasures
from audio.vocab.units import clock_time, signed
from audio.vocab.variant import Variant

LEVEL_APART_DB: Final = 1.0
"""Level of the two recordings around a joint from which a step can be heard: under 1 dB two takes are not
told apart by ear (common practice, no source)."""

NOISE_APART_DB: Final = 3.0
"""Idle noise that differs by this steps audibly in a rest (common practice, no source)."""

APART_FRAMES: Final = 1.0
"""One frame is what placing by whole frames may leave; more has another cause."""

TURNED: Final = -0.5
"""Correlation under which two recordings cancel in any fade."""

_LOCAL: Final = ("clipped", "silent-between", "frames-disturbed")
"""Findings about places: those of the base that lie in what was replaced are gone with it."""

_OF_ITS_PASS: Final = (
    "stopped",
    "no-closing-click",
    "tail-cut",
    "frames-lost-outside",
    "click-moved",
)
"""Findings about a pass's end, which is not in the drop-in."""


def findings_of_join(
    base: Variant, section: Variant, order: JoinOrder, measures: PassMeasures
) -> tuple[Finding, ...]:
    """Return all findings of a drop-in, heaviest first.

    Parameters
    ----------
    base
        The variant that was there.
    section
        The one that replaces a stretch of it.
    order
        Where and how they are joined; its frames are the DI's, as the base is of the whole part.
    measures
        What the joined files say.

    Returns
    -------
    tuple of Finding
        What the two passes left in it, each within its stretch, and ``join-…`` about the joints.
    """
    rate, joints = base.sample_rate, order.joints
    begin = joints.enter.at_frame / rate if joints.enter else 0.0
    end = joints.leave.at_frame / rate if joints.leave else measures.returns[0].frames / rate
    clips = any(one.clipped_runs for one in measures.returns)
    found = [one for one in base.findings if _stays(one, begin, end, clips=clips)]
    found += [
        _of_section(one, section)
        for one in section.findings
        if one.weight != "good" and _comes(one, begin, end, clips=clips)
    ]
    found += _moves(base, section, begin, end) + _levels(base, order, rate)
    found += _noise(base, section) + _apart(order) + _turned(base, order, rate)
    found += _chains(base, section) + _trims(base, section)
    return heaviest_first(tuple(found))


def moves_by_itself(variant: Variant) -> bool:
    """Return whether a chain modulates: by what its card says, or by what its clicks showed."""
    if any(one.code == "chain-moves" for one in variant.findings):
        return True
    return _says_moves(variant.chain.content)


def _says_moves(value: Any) -> bool:
    if isinstance(value, dict):
        return value.get("moves") is True or any(_says_moves(one) for one in value.values())
    return isinstance(value, list | tuple) and any(_says_moves(one) for one in value)


def _stays(one: Finding, begin: float, end: float, *, clips: bool) -> bool:
    """Return whether a finding of the base is still true: slips and silences last beyond their place."""
    if one.code == "clipped" and not clips:
        return False
    return not (one.code in _LOCAL and one.at_s is not None and begin <= one.at_s < end)


def _comes(one: Finding, begin: float, end: float, *, clips: bool) -> bool:
    """Return whether a finding of the section's pass is about what was taken of it.

    What went wrong in its lead-in may last into the section: only what lies behind is left out.
    """
    if one.code in _OF_ITS_PASS or (one.code == "clipped" and not clips):
        return False
    if one.at_s is None:
        return True
    return one.at_s < end and (one.code not in _LOCAL or one.at_s >= begin)


def _of_section(one: Finding, section: Variant) -> Finding:
    return Finding(
        code=one.code,
        weight=one.weight,
        text=f"In {section.number:03d}: {one.text}",
        at_s=one.at_s,
        advice=one.advice,
    )


def _moves(base: Variant, section: Variant, begin: float, end: float) -> list[Finding]:
    if not (moves_by_itself(base) or moves_by_itself(section)):
        return []
    places = f"{clock_time(begin)} and {clock_time(end)}"
    text = f"The chain moves by itself: its phase cannot match at the joints ({places})."
    advice = "Listen to both; where one is heard, play the part whole."
    return [Finding(code="join-moves", weight="look", text=text, advice=advice)]


def _joints(order: JoinOrder) -> list[Joint]:
    return [one for one in (order.joints.enter, order.joints.leave) if one is not None]


def _levels(base: Variant, order: JoinOrder, rate: int) -> list[Finding]:
    found = []
    for joint in _joints(order):
        most = max(joint.level_db, key=abs)
        if abs(most) < LEVEL_APART_DB:
            continue
        name = base.files[joint.level_db.index(most)].return_name
        way = "louder" if most > 0 else "quieter"
        text = f"At the joint the section is {abs(most):.1f} dB {way} on {name}."
        advice = "Was a knob or a microphone moved between the two passes? Listen to the joint."
        at_s = joint.at_frame / rate
        found.append(Finding(code="join-level", weight="look", text=text, at_s=at_s, advice=advice))
    return found


def _noise(base: Variant, section: Variant) -> list[Finding]:
    apart = [
        (one.return_name, other.noise_dbfs - one.noise_dbfs)
        for one, other in zip(base.files, section.files, strict=True)
        if one.noise_dbfs is not None and other.noise_dbfs is not None
    ]
    far = [(name, db) for name, db in apart if abs(db) >= NOISE_APART_DB]
    if not far:
        return []
    most = max((db for _, db in far), key=abs)
    way = "more" if most > 0 else "less"
    text = (
        f"The section's pass had {abs(most):.0f} dB {way} noise on {listing([n for n, _ in far])}."
    )
    advice = "In a rest the noise steps at the joints; listen to them."
    return [Finding(code="join-noise", weight="look", text=text, advice=advice)]


def _apart(order: JoinOrder) -> list[Finding]:
    far = order.joints.apart_frames
    if far is None or abs(far) < APART_FRAMES:
        return []
    way = "later" if far > 0 else "earlier"
    text = f"By their own likeness the section lies {abs(far):.1f} frames {way} than the base."
    advice = "The two were placed by different evidence, or a microphone was moved between them."
    return [Finding(code="join-apart", weight="look", text=text, advice=advice)]


def _turned(base: Variant, order: JoinOrder, rate: int) -> list[Finding]:
    found = []
    for joint in _joints(order):
        least = min(joint.correlation)
        if least >= TURNED:
            continue
        name = base.files[joint.correlation.index(least)].return_name
        text = f"At the joint the two cancel on {name} (correlation {signed(least, digits=2)})."
        advice = "Was a polarity switch turned, or does a pedal modulate? Listen to the joint."
        at_s = joint.at_frame / rate
        found.append(
            Finding(code="join-cancels", weight="look", text=text, at_s=at_s, advice=advice)
        )
    return found


def _chains(base: Variant, section: Variant) -> list[Finding]:
    if base.chain.name == section.chain.name:
        return []
    text = (
        f"The section was played through {section.chain.name}, the rest through {base.chain.name}."
    )
    return [Finding(code="join-chains", weight="good", text=text)]


def _trims(base: Variant, section: Variant) -> list[Finding]:
    by = section.trim_db - base.trim_db
    if not by:
        return []
    text = (
        f"The section was sent {abs(by):.1f} dB {'hotter' if by > 0 else 'weaker'} than the base."
    )
    advice = "The amp answered otherwise: play the section again at the base's trim."
    return [Finding(code="join-trim", weight="look", text=text, advice=advice)]

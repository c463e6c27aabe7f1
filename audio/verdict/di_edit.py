"""What is said of a DI's edit: edges without a fade, joints, pieces that are copied or cut dead."""

from __future__ import annotations

from bisect import bisect_left

from audio.verdict.readiness_thresholds import (
    ATTACK_HIDES_MS,
    EDGE_CLICK_DB,
    EDGE_TOLD_DBFS,
    FEW_REPEATS,
    JOINT_DOUBTED,
    JOINT_LOUD_DB,
    JOINT_SURE,
)
from audio.verdict.words import place_time
from audio.vocab.findings import Verdict
from audio.vocab.readiness import (
    ATTACK_RISES_DB,
    DeadStop,
    DiFinding,
    DiMeasures,
    EditJoint,
    Repeat,
)
from audio.vocab.units import SILENCE_DBFS, signed

_WHAT = {"step": "a step in the signal", "slope": "a kink in the signal"}


def findings_of_edit_points(measures: DiMeasures) -> list[DiFinding]:
    """Return what is to be said of places where the edit will be heard.

    Parameters
    ----------
    measures
        Of the DI.

    Returns
    -------
    list of DiFinding
        ``starts-hard`` and ``ends-hard``, redo; ``joint``, redo where it is loud and sure,
        informing where it is doubtful, else look;
        ``joints-hidden`` informs of those that attacks hide; ``stops-dead``, look; ``repeated`` informs.
        In the order of their kinds, each by place.
    """
    rate = measures.facts.sample_rate
    frames = [hit.frame for hit in measures.hits]
    heard = [one for one in measures.joints if not _is_hidden(one, frames, rate)]
    return [
        *_edges(measures),
        *(_joint(one, rate) for one in heard),
        *_hidden([one for one in measures.joints if one not in heard], rate),
        *(_stop(one, rate) for one in measures.stops),
        *_repeated(measures.repeats, rate),
    ]


def _edges(measures: DiMeasures) -> list[DiFinding]:
    facts = measures.facts
    ends = (
        ("starts-hard", "starts", 0, measures.start, "in"),
        ("ends-hard", "ends", facts.frames - 1, measures.end, "out"),
    )
    return [
        DiFinding(
            code=code,
            weight="redo",
            text=f"The DI {does} without a fade, with a step of {signed(edge.step_dbfs, digits=1)} dBFS.",
            advice=f"Fade {way} over 5 to 10 ms.",
            at_s=frame / facts.sample_rate,
            frame=frame,
            size=edge.step_dbfs,
            unit="dBFS",
        )
        for code, does, frame, edge, way in ends
        if edge.step_dbfs >= EDGE_TOLD_DBFS and edge.click_db >= EDGE_CLICK_DB
    ]


def _is_hidden(one: EditJoint, hits: list[float], rate: int) -> bool:
    """Return whether a hit begins within what its attack hides; a joint alone looks like a quiet hit."""
    if one.rise_db < ATTACK_RISES_DB:
        return False
    before, behind = (ms * rate / 1000.0 for ms in ATTACK_HIDES_MS)
    first = bisect_left(hits, one.frame - behind)
    return first < len(hits) and hits[first] <= one.frame + before


def _joint(one: EditJoint, rate: int) -> DiFinding:
    return DiFinding(
        code="joint",
        weight=_weight(one),
        text=f"Joint: {_WHAT[one.kind]}, {one.size_db:.0f} dB over what the string does there.",
        advice="Crossfade it, or move it to just before an attack.",
        at_s=one.frame / rate,
        frame=one.frame,
        size=one.size_db,
        unit="dB",
        confidence=one.confidence,
    )


def _weight(one: EditJoint) -> Verdict:
    if one.confidence < JOINT_DOUBTED:
        return "good"
    return "redo" if one.confidence >= JOINT_SURE and one.size_db >= JOINT_LOUD_DB else "look"


def _hidden(joints: list[EditJoint], rate: int) -> list[DiFinding]:
    """Return one line for all joints that attacks hide."""
    if not joints:
        return []
    lie = "1 joint lies" if len(joints) == 1 else f"{len(joints)} joints lie"
    return [
        DiFinding(
            code="joints-hidden",
            weight="good",
            text=f"{lie} at attacks, which hide them.",
            at_s=joints[0].frame / rate,
            frame=joints[0].frame,
            size=len(joints),
            unit="joints",
        )
    ]


def _stop(one: DeadStop, rate: int) -> DiFinding:
    left = (
        "digital silence"
        if one.after_dbfs <= SILENCE_DBFS
        else f"{signed(one.after_dbfs, digits=0)} dBFS"
    )
    return DiFinding(
        code="stops-dead",
        weight="look",
        text=(
            f"What sounds at {signed(one.before_dbfs, digits=0)} dBFS stops dead, {left} for"
            f" {one.frames / rate:.2f} s; gain makes a hole of it."
        ),
        advice="Leave the room's noise in, or fade it out and in again.",
        at_s=one.frame / rate,
        frame=one.frame,
        size=one.before_dbfs - max(one.after_dbfs, -144.0),
        unit="dB",
        confidence=one.confidence,
    )


def _repeated(repeats: tuple[Repeat, ...], rate: int) -> list[DiFinding]:
    """Return a line for each copy; one for all where they are many."""
    if len(repeats) <= FEW_REPEATS:
        return [_repeat(one, rate) for one in repeats]
    seconds = sum(one.frames for one in repeats) / rate
    first = repeats[0].frame
    return [
        DiFinding(
            code="repeated",
            weight="good",
            text=(
                f"{len(repeats)} stretches, {seconds:.1f} s in all, repeat earlier ones sample for sample:"
                " no second take comes back from them."
            ),
            at_s=first / rate,
            frame=first,
            size=seconds,
            unit="s",
        )
    ]


def _repeat(one: Repeat, rate: int) -> DiFinding:
    seconds = one.frames / rate
    gain = "" if abs(one.gain_db) < 0.05 else f", {one.gain_db:+.1f} dB"
    return DiFinding(
        code="repeated",
        weight="good",
        text=(
            f"{seconds:.2f} s repeat what is at {place_time(one.of_frame / rate)} sample for sample{gain}:"
            " no second take comes back from it."
        ),
        at_s=one.frame / rate,
        frame=one.frame,
        size=seconds,
        unit="s",
    )

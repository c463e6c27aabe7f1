"""A drop-in: a new variant that is an old one with a stretch replaced by the variant of a section.

What is decided is written to ``join.json`` before any file; from then on anyone who finds the folder makes
the same files again, to the bit, from the two that are never changed.
"""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.session import journal, layout, passes, records
from audio.session.disk import local_now
from audio.session.opened import Session
from audio.session.opinions import opinion_of
from audio.verdict.joins import findings_of_join
from audio.vocab.errors import UseError
from audio.vocab.findings import worst
from audio.vocab.joining import JoinOrder, Joint
from audio.vocab.messages import Recorded
from audio.vocab.requests import FindJoints, Follow, WriteJoined
from audio.vocab.results import PassMeasures, ReturnMeasures
from audio.vocab.section import Covers
from audio.vocab.units import db_from_ratio
from audio.vocab.variant import Joined, Variant, VariantFile
from audio.work.client import Worker

FADE_S = 0.015
"""Length of a joint's fade: shorter ones click on low notes, longer ones smear attacks (common practice, no
source)."""

REACH_S = 0.5
"""How far outside the section a joint is looked for; the lead-in before that is for what has to settle."""

INSIDE_S = 0.1
"""How far inside: a note that is played ahead of the bar line belongs to what follows."""


def drop_in(session: Session, worker: Worker, *, part: str, base: int, section: int) -> Variant:
    """Make it; the two it is made of stay as they are.

    Parameters
    ----------
    session
        Locked by the caller.
    worker
        Finds the joints and writes the files.
    part
        The part's name.
    base
        Number of the variant that is there.
    section
        Number of the variant of a section.

    Returns
    -------
    Variant
        The new one, its state ``joined``.

    Raises
    ------
    UseError
        If one of them is missing or discarded, they are of different revisions, rates or returns, or the
        second is of no section.
    """
    name = session.part(part)[1].name
    whole, piece = (_variant(session, name, number) for number in (base, section))
    covers = _fitting(whole, piece)
    decided = _decided(session, worker, whole, piece, covers)
    claim = passes.claim(session, name)
    folder = claim.folder.relative_to(session.folder)
    paths = tuple(
        (
            folder / passes.capture_name(name, claim.number, whole.chain.name, one.return_name)
        ).as_posix()
        for one in whole.files
    )
    records.write_join(
        claim.folder, msgspec.structs.replace(decided, number=claim.number, paths=paths)
    )
    return finish_join(session, worker, claim.folder)


def finish_join(session: Session, worker: Worker, folder: Path) -> Variant:
    """Write the files of a drop-in that was decided, measure and judge them; may be done again.

    Parameters
    ----------
    session
        Locked by the caller.
    worker
        Writes and measures.
    folder
        Its pass folder; ``join.json`` is in it.

    Returns
    -------
    Variant
        As it was written to ``variant.json``.

    Raises
    ------
    UseError
        If ``join.json`` or one of the two variants cannot be read any more; what is there stays.
    """
    order = records.read_join(folder)
    whole, piece = (_variant(session, order.part, number) for number in (order.base, order.section))
    own = folder.relative_to(session.folder).as_posix()
    if any(Path(path).parent.as_posix() != own for path in order.paths):
        raise UseError(
            f"{layout.join_json(folder)} names files of another pass; put the folder back"
        )
    written = tuple(
        worker.write_joined(_writing(session, order, whole, piece, index))
        for index in range(len(order.paths))
    )
    measures = _measured(session, worker, order, whole)
    variant = _made(order, whole, piece, written, measures)
    records.write_variant(folder, variant)
    journal.append(
        session.folder,
        "joined",
        part=order.part,
        number=order.number,
        base=order.base,
        section=order.section,
    )
    return variant


# ---------------------------------------------------------------- whether they fit


def _variant(session: Session, part: str, number: int) -> Variant:
    folder = layout.pass_folder(session.folder, part, number)
    if not layout.variant_json(folder).exists():
        raise UseError(f"{part} has no variant {number:03d}; name one that is there")
    if opinion_of(session, part, number).discarded:
        raise UseError(f"{part} {number:03d} is discarded; take it back first, or name another one")
    return records.read_variant(folder)


def _fitting(base: Variant, section: Variant) -> Covers:
    """Return what the section covers; `UseError` with the reason where the two cannot be joined."""
    one, other = f"{base.part} {base.number:03d}", f"{section.part} {section.number:03d}"
    if section.covers is None:
        raise UseError(
            f"{other} is of the whole part; play a section first (secondpass pass … --bars 5-8)"
        )
    if base.covers is not None:
        raise UseError(f"{one} is itself of {base.covers.text}; name a variant of the whole part")
    alike = {
        "revisions of the DI": (base.di.file_sha256, base.di.channel)
        == (section.di.file_sha256, section.di.channel),
        "rates": base.sample_rate == section.sample_rate,
        "returns": _returns(base) == _returns(section),
        "placements (align_to)": base.align_to == section.align_to,
    }
    differ = [what for what, same in alike.items() if not same]
    if differ:
        raise UseError(
            f"{one} and {other} are of different {', '.join(differ)}; play the section anew"
        )
    return section.covers


def _returns(variant: Variant) -> tuple[str, ...]:
    return tuple(one.return_name for one in variant.files)


# ---------------------------------------------------------------- what is decided


def _decided(
    session: Session, worker: Worker, base: Variant, section: Variant, covers: Covers
) -> JoinOrder:
    """Place the section by what both placements left, and choose the joints."""
    rate = base.sample_rate
    left = _left(base, section)
    moved = 0 if left is None else round(left)
    at = covers.from_frame + moved
    fade = round(FADE_S * rate)
    enter, leave = _edges(base, section, covers, at, fade)
    joints = worker.find_joints(
        FindJoints(
            paths=tuple(str(session.path(one.path)) for one in base.files),
            section_paths=tuple(str(session.path(one.path)) for one in section.files),
            sample_rate=rate,
            section_at=at,
            enter=enter,
            leave=leave,
            fade_frames=fade,
            reference=_reference(base),
        )
    )
    return JoinOrder(
        number=0,
        part=base.part,
        base=base.number,
        section=section.number,
        made_at=local_now(),
        covers=covers,
        section_at=at,
        left_frames=None if left is None else left - moved,
        joints=joints,
        fade_frames=fade,
        paths=(),
    )


def _left(base: Variant, section: Variant) -> float | None:
    """Return how much later the section's files must lie to sound as late as the base's."""
    if base.residual_frames is None or section.residual_frames is None:
        return None
    return base.residual_frames - section.residual_frames


def _edges(
    base: Variant, section: Variant, covers: Covers, at: int, fade: int
) -> tuple[tuple[int, int, int] | None, tuple[int, int, int] | None]:
    """Return where the joints are looked for; None where the section meets an end of the DI."""
    rate = base.sample_rate
    reach, inside = round(REACH_S * rate), round(INSIDE_S * rate)
    there = min(one.frames for one in base.files)
    ends = at + min(one.frames for one in section.files)
    first, last = covers.section_from_frame, covers.section_to_frame
    enter, leave = None, None
    if first > 0:
        enter = (max(first - reach, at + fade, 0), min(first + inside, there), first)
    if last < base.di.frames:
        behind = min(last + reach, covers.from_frame + covers.frames - fade)
        leave = (last - min(inside, (last - first) // 2), min(behind, ends, there), last)
    for edge in (enter, leave):
        if edge is not None and edge[1] - edge[0] < 2 * fade:
            raise UseError(
                f"{base.part} {base.number:03d} and {section.number:03d} do not overlap at"
                f" {edge[2] / rate:.2f} s: one of them was stopped before; name others"
            )
    return enter, leave


def _reference(base: Variant) -> int:
    wiring = base.setup.get("wiring")
    name = wiring.get("reference") if isinstance(wiring, dict) else None
    names = _returns(base)
    return names.index(name) if name in names else 0


# ---------------------------------------------------------------- the files


def _writing(
    session: Session, order: JoinOrder, base: Variant, section: Variant, index: int
) -> WriteJoined:
    name = base.files[index].return_name

    def at(joint: Joint | None) -> tuple[int, float] | None:
        return None if joint is None else (joint.at_frame, joint.correlation[index])

    return WriteJoined(
        path=str(session.path(base.files[index].path)),
        section_path=str(session.path(section.files[index].path)),
        section_at=order.section_at,
        to=str(session.path(order.paths[index])),
        sample_rate=base.sample_rate,
        enter=at(order.joints.enter),
        leave=at(order.joints.leave),
        fade_frames=order.fade_frames,
        time_reference=base.time_reference,
        description=f"{order.part} {order.number:03d} {base.chain.name} {name}, joined of"
        f" {order.base:03d} and {order.section:03d}",
        made_at=order.made_at,
    )


def _measured(session: Session, worker: Worker, order: JoinOrder, base: Variant) -> PassMeasures:
    worker.follow(
        Follow(
            follow_id=order.number,
            paths=tuple(str(session.path(path)) for path in order.paths),
            di_path=str(session.path(base.di.path)),
            di_channel=base.di.channel - 1,
            sample_rate=base.sample_rate,
            reference=_reference(base),
        )
    )
    return worker.finish(order.number)


# ---------------------------------------------------------------- the variant


def _made(
    order: JoinOrder,
    base: Variant,
    section: Variant,
    written: tuple[Recorded, ...],
    measures: PassMeasures,
) -> Variant:
    findings = findings_of_join(base, section, order, measures)
    joints = order.joints
    return msgspec.structs.replace(
        base,
        number=order.number,
        state="joined",
        made_at=order.made_at,
        findings=findings,
        verdict=worst(findings),
        joined=Joined(
            base=order.base,
            section=order.section,
            from_frame=joints.enter.at_frame if joints.enter else 0,
            to_frame=joints.leave.at_frame if joints.leave else written[0].frames,
            fade_frames=order.fade_frames,
        ),
        proof="music" if measures.music and measures.music.reason is None else "counters",
        loop=None,
        witness=None,
        music=measures.music,
        dropouts=(),
        files=tuple(
            _file(one, path, done, measured)
            for one, path, done, measured in zip(
                base.files, order.paths, written, measures.returns, strict=True
            )
        ),
    )


def _file(one: VariantFile, path: str, done: Recorded, measured: ReturnMeasures) -> VariantFile:
    return msgspec.structs.replace(
        one,
        path=path,
        frames=done.frames,
        audio_sha256=done.audio_sha256,
        peak_dbfs=db_from_ratio(done.peak[0]),
        clipped_runs=measured.clipped_runs,
        loudness_lufs=measured.loudness_lufs,
        rest_noise_dbfs=measured.rest_noise_dbfs,
        rest_hum_dbfs=measured.rest_hum_dbfs,
    )

"""What an evening's accidents leave: passes without a verdict, judged or mended when a session opens.

==================  =====================================================================
state of a folder   what is done
==================  =====================================================================
``claimed``         nothing rolled: noted as empty, its number stays used
``still finishing`` an engine whose face died is writing: left alone, told
``finished``        the engine's record is there: judged; is the record damaged, as if ``torn``
``torn``            recordings without a record: headers repaired, rehashed, judged, ``recovered``
any, ``join.json``  a drop-in that was decided: made anew from the two it is made of
==================  =====================================================================
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path, PurePosixPath

import msgspec

from audio.files.text import reserved_name
from audio.jobs.drop_ins import finish_join
from audio.jobs.judging import make_variant
from audio.jobs.mending import holds_sound, make_readable
from audio.jobs.pass_verdict import judged, measured
from audio.jobs.rolls import following
from audio.session import journal, layout, records
from audio.session.opened import Session
from audio.session.passes import Unfinished, unfinished
from audio.vocab.errors import SecondpassError, UseError
from audio.vocab.messages import Ended, Recorded
from audio.vocab.order import Order
from audio.vocab.variant import Variant, VariantState
from audio.work.client import Worker


class Mended(msgspec.Struct, frozen=True, kw_only=True):
    """What was found and done about one pass."""

    part: str
    number: int
    text: str
    """One line."""
    variant: Variant | None = None


def mend(session: Session, worker: Worker) -> tuple[Mended, ...]:
    """Judge, repair or note every pass that left no variant.

    Parameters
    ----------
    session
        The caller holds its lock.
    worker
        Repairs and measures.

    Returns
    -------
    tuple of Mended
        One for each; nothing is deleted, whatever was found.
    """
    return tuple(_one(session, worker, found) for found in unfinished(session))


def _one(session: Session, worker: Worker, found: Unfinished) -> Mended:
    # One bad capture, a worker it killed, a record nobody thought of: the rest must not be blocked.
    try:
        return _done(session, worker, found)
    except SecondpassError as error:
        reason = str(error)
    except Exception as error:  # noqa: BLE001 - see above
        reason = (
            f"the program failed at it ({type(error).__name__}: {error}); keep it and report this"
        )
    return Mended(part=found.part, number=found.number, text=f"left as it is: {reason}")


def _done(session: Session, worker: Worker, found: Unfinished) -> Mended:
    part, number = found.part, found.number
    if layout.join_json(found.folder).exists():
        variant = finish_join(session, worker, found.folder)
        text = (
            f"was being joined when the program ended; it is made now; verdict: {variant.verdict}"
        )
        return Mended(part=part, number=number, text=text, variant=variant)
    match found.state:
        case "still finishing":
            return Mended(part=part, number=number, text="still finishing in another process")
        case "finished" if (ended := _record(found.folder)) is not None:
            make_readable(worker, _clicks(found.folder))
            order = _order(session, found)
            state: VariantState = "kept" if ended.went_on else "stopped"
            variant = _judge(session, worker, order, ended, found.folder, state=state)
            text = f"was finished without its screen; verdict: {variant.verdict}"
            return Mended(part=part, number=number, text=text, variant=variant)
        case "finished" | "torn" if _recorded(session, found):
            variant = _recover(session, worker, found)
            text = f"was cut off; its files were repaired; verdict: {variant.verdict}"
            return Mended(part=part, number=number, text=text, variant=variant)
        case _:
            make_readable(worker, _clicks(found.folder))
            journal.append(session.folder, "empty", part=part, number=number)
            text = "was ended before anything of the DI was recorded"
            return Mended(part=part, number=number, text=text)


def _clicks(folder: Path) -> tuple[Path, Path]:
    return layout.opening_click(folder), layout.closing_click(folder)


def _order(session: Session, found: Unfinished) -> Order:
    """Return what was ordered; `UseError` if it is of another pass: only files of its own are touched."""
    order = records.read_order(found.folder)
    own = found.folder.relative_to(session.folder)
    if {PurePosixPath(path).parent for path in order.paths} == {PurePosixPath(own.as_posix())}:
        return order
    raise UseError(
        f"{layout.order_json(found.folder)} names files of another pass; put the folder back to its place"
    )


def _record(folder: Path) -> Ended | None:
    """Return the engine's record, None where it is damaged: the recordings tell the rest."""
    try:
        ended = records.read_roll(folder)
    except UseError:
        return None
    return ended if len(ended.recorded) >= len(records.read_order(folder).paths) else None


def _recorded(session: Session, found: Unfinished) -> bool:
    """Return whether anything of the DI came back; `UseError` where only a lost order could tell."""
    folder = found.folder
    order = layout.order_json(folder)
    evidence = {*_clicks(folder), layout.witness_wav(folder), layout.loop_wav(folder)}
    if order.exists():
        return any(holds_sound(session.path(path)) for path in _order(session, found).paths)
    if any(holds_sound(path) for path in folder.glob("*.wav") if path not in evidence):
        raise UseError(
            f"{order} is missing, so nobody can tell what these recordings are; restore it from a copy"
        )
    return False


def _recover(session: Session, worker: Worker, found: Unfinished) -> Variant:
    folder, order = found.folder, _order(session, found)
    returns = [session.path(path) for path in order.paths]
    make_readable(worker, (path for path in folder.glob("*.wav") if path not in returns))
    repaired = [worker.repair(path) for path in returns]
    recorded = tuple(
        Recorded(
            path=one.path,
            frames=one.frames,
            audio_sha256=one.audio_sha256,
            peak=(one.peak,),
            clipped_samples=(one.clipped_samples,),
        )
        for one in repaired
    )
    ended = Ended(
        roll_id=0,
        reason="closed",
        stream_frame=0,
        frames=order.lead_in_frames + order.shift_frames + max(one.frames for one in repaired),
        recorded=recorded,
        note="the engine's process ended before the pass did",
    )
    variant = _judge(session, worker, order, ended, folder, state="recovered")
    journal.append(session.folder, "recovered", part=order.part, number=order.number)
    with suppress(OSError):  # the room a killed engine kept for the record it did not come to write
        reserved_name(layout.roll_json(folder)).unlink(missing_ok=True)
    return variant


def _judge(
    session: Session,
    worker: Worker,
    order: Order,
    ended: Ended,
    folder: Path,
    *,
    state: VariantState,
) -> Variant:
    worker.follow(following(session, order))
    variant = make_variant(
        order,
        ended,
        measured(worker, session, order),
        closing=(),
        closing_witness=None,
        closing_loop=None,
        before=records.variants(session, order.part, chain=order.chain.name).found,
        state=state,
    )
    records.write_variant(folder, variant)
    judged(session, variant)
    return variant

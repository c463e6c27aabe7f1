"""The pass: claim a number, open with a click, play the DI and record, close with a click, judge, store.

What is decided before the DI rolls is written to ``order.json`` first; from then on the pass can be
judged by anyone who finds it.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

import msgspec

from audio.jobs import rolls
from audio.jobs.clicks import Click, again, ceiling_for, find_click, quiet_under
from audio.jobs.cue import plan_cue
from audio.jobs.cue_sources import Stretch, cue_sources
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.judging import make_variant
from audio.jobs.mending import make_readable
from audio.jobs.pass_ground import (
    SPARE_BYTES,
    Ground,
    asked_for,
    bpm_of,
    original_of,
    ready,
    stretch_of,
)
from audio.jobs.pass_verdict import judged, measured
from audio.jobs.placing import Known, Shift, place
from audio.jobs.setting.delay import patched_delay
from audio.plan.setup import statuses, witness_gain_db
from audio.session import journal, layout, passes, records
from audio.session.chains import as_set, chains
from audio.session.opened import Session
from audio.session.setups import setups
from audio.verdict.clicks import explain
from audio.verdict.losses import clock
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.messages import Ended, Source
from audio.vocab.order import Order
from audio.vocab.section import Covers, Section
from audio.vocab.session_file import Part
from audio.vocab.units import clock_time, ms_from_frames
from audio.vocab.variant import DiUsed, Variant

__all__ = ["SPARE_BYTES", "Passed", "asked_for", "run_pass"]

NEVER_STARTS = ("fed-back", "clock-off")
"""Findings of the opening click with which the DI is not sent: it would howl, or land nowhere."""


class Passed(msgspec.Struct, frozen=True, kw_only=True):
    """A pass that left a variant."""

    variant: Variant
    fault: str | None
    """What happened to the device, where it went away."""
    interrupted: bool
    """The engineer stopped it."""


def run_pass(
    deck: Deck,
    session: Session,
    *,
    part_name: str,
    chain: str,
    known: Known,
    section: Section | None = None,
) -> Passed:
    """Run one pass; `DeviceError` if the engine died: what was recorded can be recovered.

    Parameters
    ----------
    deck
        An open stream; its wiring is the pass's.
    session
        Where the part is and the variant goes; the caller holds its lock.
    part_name
        Name of the part; its newest revision is played.
    chain
        Name of what is plugged in; see `asked_for`.
    known
        Placements of this stream; learns this one.
    section
        The stretch to be played, with its lead-in and lead-out; None is the whole DI.

    Returns
    -------
    Passed
        Whatever the verdict.

    Raises
    ------
    UseError
        If the part cannot be played with this wiring or has no such section (no number was claimed then),
        or a return is fed back to the send.
    StoppedError
        If the listener asked to stop before the DI rolled; the number stays used.
    """
    song, part = asked_for(session, part_name, chain)
    records = setups(session).found
    patched = patched_delay(records, deck.wiring)
    facts = ready(deck, session, part, patched=patched)
    covers, loudest_dbfs = stretch_of(deck, session, part, facts, song=song, section=section)
    ground = Ground(
        deck=deck,
        session=session,
        song=song,
        part=part,
        facts=facts,
        covers=covers,
        loudest_dbfs=loudest_dbfs,
        original=original_of(deck, session, part, facts, known),
        chain=chain,
        patched=patched,
        steps=statuses(records, wiring=deck.wiring, part=part, now=datetime.now().astimezone()),
        cue=plan_cue(
            deck.worker,
            session,
            song,
            wiring=deck.wiring,
            stretch=Stretch(
                time_reference=facts.time_reference,
                from_frame=covers.from_frame if covers else 0,
                frames=covers.frames if covers else facts.frames,
                music_frame=covers.section_from_frame if covers else 0,
            ),
            known=known,
        ),
        claim=passes.claim(session, part.name),
    )
    deck.plug(chain)
    deck.listener.claimed(part.name, ground.claim.number, chain)
    what = f"{part.name} {ground.claim.number:03d}{_bars(covers)} through {chain}{_edit(part)}"
    deck.listener.heading(what)
    with _told_where_it_lies(session.folder):
        try:
            order, click = _open(ground, known)
            with cue_sources(deck, ground.cue) as cue:
                ended = _roll(ground, order, click, cue)
            if cue and ended.went_on and ended.note:
                deck.listener.step(ended.note)
        except (StoppedError, UseError):
            with suppress(UseError):  # the next opening notes it otherwise
                journal.append(session.folder, "empty", part=part.name, number=ground.claim.number)
            raise
        return _close(ground, order, ended, click)


@contextmanager
def _told_where_it_lies(folder: Path) -> Iterator[None]:
    """Say of a session that was moved, or whose disk was taken away, that it is not at its place."""
    try:
        yield
    except SecondpassError as error:
        if layout.session_yaml(folder).exists():
            raise
        raise DeviceError(
            f"{folder} is not there any more: it was moved, or its disk was taken away; what was recorded"
            " is kept there, open it where it lies now and it is judged"
        ) from error


def _bars(covers: Covers | None) -> str:
    return f", {covers.text}," if covers else ""


def _edit(part: Part) -> str:
    return f", revision {len(part.revisions)}" if len(part.revisions) > 1 else ""


# ---------------------------------------------------------------- opening


def _open(ground: Ground, known: Known) -> tuple[Order, Click]:
    deck, folder = ground.deck, ground.claim.folder
    ceiling = ceiling_for(deck, di_peak_dbfs=ground.facts.peak_dbfs + ground.part.trim_db)
    click = find_click(deck, ceiling_dbfs=ceiling, keep=layout.opening_click(folder))
    clock_off = clock(click.settled, rate=deck.opened.sample_rate)
    for finding in (*clock_off, *explain(click.heard)):
        said = f"{finding.text} {finding.advice}".strip()
        if finding.code in NEVER_STARTS:
            raise UseError(f"the pass did not start: {said}")
        deck.listener.step(said)
    newest = records.newest(ground.session, ground.part.name)
    shift = place(
        click,
        chain=ground.chain,
        known=known,
        newest=newest,
        wiring=deck.wiring,
        original=ground.original,
        patched=ground.patched,
    )
    order = _order(ground, click, shift)
    records.write_order(folder, order)
    deck.listener.step(_placed(order))
    for line in ground.cue.said:
        deck.listener.step(line)
    return order, click


def _placed(order: Order) -> str:
    d = order.delay_frames
    length = clock_time(order.played_frames / order.wiring.sample_rate)
    plays = f"{order.covers.text if order.covers else 'the DI'} plays for {length}"
    if order.covers:
        plays += f", from {clock_time(order.from_s)} on"
    if d is None:
        return f"not placed yet; {plays}"
    ms = ms_from_frames(d, rate=order.wiring.sample_rate)
    return f"round trip {d:.2f} frames ({ms:.2f} ms); {plays}"


def _order(ground: Ground, click: Click, shift: Shift) -> Order:
    part, facts, wiring, number = ground.part, ground.facts, ground.deck.wiring, ground.claim.number
    folder = ground.claim.folder.relative_to(ground.session.folder)
    names = (passes.capture_name(part.name, number, ground.chain, r.name) for r in wiring.returns)
    return Order(
        number=number,
        part=part.name,
        revision=len(part.revisions),
        song=ground.song.name,
        bpm=bpm_of(ground),
        chain=as_set(chains(ground.session), ground.chain),
        made_at=datetime.now().astimezone().isoformat(timespec="seconds"),
        wiring=wiring,
        di=DiUsed(
            path=part.revisions[-1].file,
            channel=part.revisions[-1].channel,
            file_sha256=facts.file_sha256,
            frames=facts.frames,
            peak_dbfs=facts.peak_dbfs,
        ),
        covers=ground.covers,
        di_loudest_dbfs=ground.loudest_dbfs,
        trim_db=part.trim_db,
        time_reference=facts.time_reference + (ground.covers.from_frame if ground.covers else 0),
        lead_in_frames=ground.cue.lead_in_frames,
        shift_frames=shift.frames,
        delay_frames=shift.placed.delay_frames,
        plus_minus_frames=shift.placed.plus_minus_frames,
        delay_source=shift.placed.source,
        chain_adds_frames=shift.placed.chain_adds_frames,
        train=click.train,
        opening_click=click.returns(),
        witness_click=click.heard.witness,
        loop_click=click.heard.loop,
        stray_inputs=click.heard.strays,
        paths=tuple((folder / name).as_posix() for name in names),
        setup=tuple(one.used for one in ground.steps),
        witness_gain_db=witness_gain_db(ground.steps),
    )


# ---------------------------------------------------------------- the DI


def _roll(ground: Ground, order: Order, click: Click, cue: tuple[Source, ...]) -> Ended:
    session, folder, deck = ground.session, ground.claim.folder, ground.deck
    under = quiet_under(order.wiring, click.idle_dbfs)

    def follow() -> None:
        # A worker that cannot follow now measures the closed files later: the pass goes on.
        with suppress(DeviceError):
            deck.worker.follow(rolls.following(session, order))

    # In a thread of its own: a worker that hangs must not hold up a stop.
    asking = threading.Thread(target=follow, name="follow", daemon=True)
    return deck.play(
        what="pass",
        lead_in_frames=order.lead_in_frames,
        shift_frames=order.shift_frames,
        di_from_frame=order.from_frame,
        sources=(rolls.di_source(session, order), *cue),
        captures=rolls.captures(session, order, folder),
        length_frames=rolls.length_frames(order),
        quiet=rolls.tail_end(order, under),
        dead=rolls.dead_amp(
            order.wiring, under, loudest_dbfs=order.di_loudest_dbfs + order.trim_db
        ),
        record=str(layout.roll_json(folder)),
        lock=str(layout.pass_lock(folder)),
        started=asking.start,
    )


# ---------------------------------------------------------------- closing


def _close(ground: Ground, order: Order, ended: Ended, click: Click) -> Passed:
    deck, session, folder = ground.deck, ground.session, ground.claim.folder
    # While the closing click sounds, the rest is measured; a worker that died measures it all later.
    with suppress(DeviceError):
        deck.worker.close_captures(order.number)
    closing = _closing_click(ground, ended, click)
    variant = make_variant(
        order,
        ended,
        measured(deck.worker, session, order),
        closing=closing.returns() if closing else (),
        closing_witness=closing.heard.witness if closing else None,
        closing_loop=closing.heard.loop if closing else None,
        before=records.variants(session, order.part, chain=order.chain.name).found,
        state="kept" if ended.went_on else "stopped",
    )
    records.write_variant(folder, variant)
    judged(session, variant)
    return Passed(variant=variant, fault=deck.fault, interrupted=ended.reason == "stopped")


def _closing_click(ground: Ground, ended: Ended, click: Click) -> Click | None:
    """Send the closing click, unless the pass was stopped or nothing placed the opening one.

    A chain may swallow or blur it: then loop or witness still prove by it that no frame was lost.
    """
    heard = (click.heard.reference, click.heard.witness, click.heard.loop)
    placed = any(one is not None and one.delay_frames is not None for one in heard)
    if not ended.went_on or not placed:
        return None
    keep = layout.closing_click(ground.claim.folder)
    try:
        return again(ground.deck, click, keep=keep)
    except (StoppedError, DeviceError):
        make_readable(ground.deck.worker, [keep])  # the engine may have died over it
        return None

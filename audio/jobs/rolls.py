"""The rolls of a pass, made from its order: channels from 1 become channels from 0 here."""

from __future__ import annotations

import math
from pathlib import Path

from audio.session import layout
from audio.session.opened import Session
from audio.vocab.errors import DeviceError
from audio.vocab.messages import Capture, DeadEnd, Ended, QuietEnd, Source
from audio.vocab.order import Order
from audio.vocab.requests import Follow
from audio.vocab.wiring import Wiring

QUIET_FOR_S = 1.0
"""The tail ends when the returns have been within 3 dB of their idle noise for so long."""

DEAD_FOR_S = 1.0
DEAD_LOUD_DB = 20.0
"""Signal into a dead amp: the DI within this of its loudest for a second, and no microphone answers."""


def sounding_outputs(wiring: Wiring) -> tuple[tuple[int, float], ...]:
    """Return where the DI and the clicks go: the send, and the loop cable where there is one."""
    outputs = [wiring.send_output]
    if wiring.loop:
        outputs.append(wiring.loop.output)
    return tuple((number - 1, 1.0) for number in outputs)


def return_inputs(wiring: Wiring) -> tuple[int, ...]:
    """Return the inputs of the returns, in the wiring's order."""
    return tuple(r.input - 1 for r in wiring.returns)


def made_source(path: Path, wiring: Wiring, *, limit_dbfs: float) -> Source:
    """Return a click or a tone on its way to the amp, which the engine stops where it is over its limit."""
    return Source(
        path=str(path),
        outputs=sounding_outputs(wiring),
        reaches_send=True,
        limit_dbfs=limit_dbfs,
    )


def captured(path: Path, *, input_number: int) -> Capture:
    """Return the capture of one input (from 1) from the roll's first frame on, as float."""
    return Capture(path=str(path), inputs=(input_number - 1,), depth=32)


def refuse_broken(ended: Ended, *, fault: str | None, what: str) -> None:
    """Raise `DeviceError` if a roll neither ended by itself nor was stopped, by somebody or for a dead amp.

    Parameters
    ----------
    ended
        How it ended.
    fault
        What became of the device, where it went away.
    what
        What rolled, such as ``the test click``.

    Raises
    ------
    DeviceError
        With the fault, or what the engine said.
    """
    if ended.went_on or ended.reason in ("stopped", "dead"):
        return
    doing = "sent" if ended.reason == "unfit" else "recorded"
    raise DeviceError(fault or f"{what} could not be {doing}: {ended.note}")


def arrived_frame(order: Order) -> int:
    """Return the roll frame at which the last frame that is played has come back."""
    return order.lead_in_frames + order.played_frames + order.shift_frames


def length_frames(order: Order) -> int:
    """Return the longest the roll may be: the DI, its way back, the longest tail."""
    return arrived_frame(order) + math.ceil(order.wiring.tail_s * order.wiring.sample_rate)


def di_source(session: Session, order: Order) -> Source:
    """Return the DI, or the stretch of it that a section covers, placed after the lead-in, trimmed.

    A stretch is faded by the engine where it was cut, ahead of the section and behind it.
    """
    return Source(
        path=str(session.path(order.di.path)),
        channel=order.di.channel - 1,
        at_frame=order.lead_in_frames,
        from_frame=order.from_frame,
        frames=order.covers.frames if order.covers else None,
        gain_db=order.trim_db,
        outputs=sounding_outputs(order.wiring),
        reaches_send=True,
    )


def captures(session: Session, order: Order, folder: Path) -> tuple[Capture, ...]:
    """Return the captures of a pass.

    Parameters
    ----------
    session
        Where its paths lead.
    order
        What is recorded.
    folder
        The pass folder.

    Returns
    -------
    tuple of Capture
        The returns in the wiring's order, then witness and loop where they are wired; frame 0 of each
        is the first frame that is played of the DI.
    """
    wiring, name = order.wiring, f"{order.part} {order.number:03d} {order.chain.name}"
    wanted = [
        (session.path(path), one.input, f"{name} {one.name}")
        for path, one in zip(order.paths, wiring.returns, strict=True)
    ]
    if wiring.witness_input:
        wanted.append((layout.witness_wav(folder), wiring.witness_input, f"{name} witness"))
    if wiring.loop:
        wanted.append((layout.loop_wav(folder), wiring.loop.input, f"{name} loop"))
    return tuple(
        Capture(
            path=str(path),
            inputs=(number - 1,),
            from_frame=order.lead_in_frames + order.shift_frames,
            depth=wiring.depth,
            time_reference=order.time_reference,
            description=description,
        )
        for path, number, description in wanted
    )


def tail_end(order: Order, under_dbfs: tuple[float, ...]) -> QuietEnd:
    """Return when the tail is over."""
    return QuietEnd(
        after_frame=arrived_frame(order),
        inputs=return_inputs(order.wiring),
        under_dbfs=under_dbfs,
        for_frames=round(QUIET_FOR_S * order.wiring.sample_rate),
    )


def dead_amp(wiring: Wiring, under_dbfs: tuple[float, ...], *, loudest_dbfs: float) -> DeadEnd:
    """Return when sending into the amp must stop because nothing answers; the loudest is as sent."""
    return DeadEnd(
        output=wiring.send_output - 1,
        loud_dbfs=loudest_dbfs - DEAD_LOUD_DB,
        inputs=return_inputs(wiring),
        under_dbfs=under_dbfs,
        amps=tuple(wiring.amps.index(one.amp) for one in wiring.returns),
        for_frames=round(DEAD_FOR_S * wiring.sample_rate),
    )


def following(session: Session, order: Order) -> Follow:
    """Return the request that has the captures of a pass measured."""
    wiring = order.wiring
    folder = session.path(order.paths[0]).parent
    return Follow(
        follow_id=order.number,
        paths=tuple(str(session.path(path)) for path in order.paths),
        di_path=str(session.path(order.di.path)),
        di_channel=order.di.channel - 1,
        di_from_frame=order.from_frame,
        di_frames=order.covers.frames if order.covers else None,
        sample_rate=wiring.sample_rate,
        reference=wiring.reference_at,
        witness_path=str(layout.witness_wav(folder)) if wiring.witness_input else None,
        loop_path=str(layout.loop_wav(folder)) if wiring.loop else None,
    )

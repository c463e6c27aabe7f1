"""The test click: quiet first, raised until it is heard, never over its ceiling."""

from __future__ import annotations

import tempfile
from pathlib import Path

import msgspec

from audio.jobs.deck import Deck, StoppedError
from audio.jobs.rolls import made_source, refuse_broken, return_inputs
from audio.verdict.clicks import Heard, heard_enough
from audio.vocab.messages import Capture, Ended, QuietEnd
from audio.vocab.results import ClickReading, ClickTrain
from audio.vocab.units import signed
from audio.vocab.wiring import Wiring

STEP_DB = 6.0
"""How much louder each attempt is; common practice, no source."""

PROBE_CLICKS = 2
FULL_CLICKS = 8

DI_HEADROOM_DB = 6.0
"""A click stays this far under the DI's own peak: the amp has seen louder already."""

SETTLE_LIMIT_S = 12.0
"""Longest wait for the last click's echoes: an echo of 450 ms at 70 % needs 9 s for 60 dB."""

SETTLE_QUIET_S = 0.3
IDLE_MARGIN_DB = 3.0
"""A return within this of its idle noise is quiet."""

LEAST_IDLE_DBFS = -110.0
"""Idle noise is taken to be at least this: digital silence has no level to be within 3 dB of."""


class Click(msgspec.Struct, frozen=True, kw_only=True):
    """A test click, sent and heard."""

    heard: Heard
    train: ClickTrain
    idle_dbfs: dict[int, float]
    """Noise of each input (from 1) before the first click of all, full band."""
    settled: Ended
    """How the wait for silence after it ended: it knows the clock by then."""

    def returns(self) -> tuple[ClickReading, ...]:
        """Return the readings of the wiring's returns, in its order."""
        return tuple(self.heard.of(r) for r in self.heard.wiring.returns)


def ceiling_for(deck: Deck, *, di_peak_dbfs: float | None) -> float:
    """Return the loudest click allowed: the wiring's ceiling, and 6 dB under the DI's peak as sent."""
    ceiling = deck.wiring.click.ceiling_dbfs
    return ceiling if di_peak_dbfs is None else min(ceiling, di_peak_dbfs - DI_HEADROOM_DB)


def find_click(
    deck: Deck, *, ceiling_dbfs: float, keep: Path | None = None, wiring: Wiring | None = None
) -> Click:
    """Raise the click until it is heard, then measure with all eight.

    `StoppedError` if the listener asks to stop.

    Parameters
    ----------
    deck
        Where to send it.
    ceiling_dbfs
        Peak that no click exceeds.
    keep
        Where the recording of the eight clicks shall stay; nowhere when left out.
    wiring
        What is plugged where at the moment, if not as the deck's wiring says: a cable in place of the amp.

    Returns
    -------
    Click
        Also when nothing was heard: the readings say why.
    """
    wiring = wiring or deck.wiring
    level = min(wiring.click.start_dbfs, ceiling_dbfs)
    before: Heard | None = None
    idle: dict[int, float] | None = None
    while True:
        heard, _ = _listen(
            deck,
            wiring,
            level_dbfs=level,
            ceiling_dbfs=ceiling_dbfs,
            clicks=PROBE_CLICKS,
            keep=None,
        )
        idle = idle or {i: r.noise_dbfs for i, r in heard.readings.items()}
        deck.listener.step(_said(heard))
        if heard_enough(heard, before=before):
            break
        before, level = heard, min(level + STEP_DB, ceiling_dbfs)
    settle(deck, wiring, idle)
    heard, train = _listen(
        deck, wiring, level_dbfs=level, ceiling_dbfs=ceiling_dbfs, clicks=FULL_CLICKS, keep=keep
    )
    deck.listener.measured(heard)
    settled = settle(deck, wiring, idle)
    return Click(heard=heard, train=train, idle_dbfs=idle, settled=settled)


def again(deck: Deck, click: Click, *, keep: Path) -> Click:
    """Send the same click once more, at the level at which it was heard."""
    heard = click.heard
    now, train = _listen(
        deck,
        heard.wiring,
        level_dbfs=heard.level_dbfs,
        ceiling_dbfs=heard.ceiling_dbfs,
        clicks=FULL_CLICKS,
        keep=keep,
    )
    return msgspec.structs.replace(click, heard=now, train=train)


def quiet_under(wiring: Wiring, idle_dbfs: dict[int, float]) -> tuple[float, ...]:
    """Return, for each return in order, the level under which it counts as quiet, dBFS."""
    levels = (max(idle_dbfs[r.input], LEAST_IDLE_DBFS) for r in wiring.returns)
    return tuple(level + IDLE_MARGIN_DB for level in levels)


def settle(deck: Deck, wiring: Wiring, idle_dbfs: dict[int, float]) -> Ended:
    """Wait until every return is as quiet as it was before the first click, or for the limit."""
    rate = deck.opened.sample_rate
    quiet = QuietEnd(
        after_frame=0,
        inputs=return_inputs(wiring),
        under_dbfs=quiet_under(wiring, idle_dbfs),
        for_frames=round(SETTLE_QUIET_S * rate),
    )
    limit = round(SETTLE_LIMIT_S * rate)
    ended = deck.play(what="listen", length_frames=limit, quiet=quiet)
    _went_on(deck, ended)
    return ended


def _went_on(deck: Deck, ended: Ended) -> None:
    if ended.reason == "stopped":
        raise StoppedError
    refuse_broken(ended, fault=deck.fault, what="the test click")


def _listen(
    deck: Deck,
    wiring: Wiring,
    *,
    level_dbfs: float,
    ceiling_dbfs: float,
    clicks: int,
    keep: Path | None,
) -> tuple[Heard, ClickTrain]:
    with tempfile.TemporaryDirectory(prefix="secondpass-click-") as scratch:
        sent = Path(scratch) / "click.wav"
        heard_in = keep or Path(scratch) / "heard.wav"
        train = deck.worker.make_clicks(
            sent,
            sample_rate=deck.opened.sample_rate,
            level_dbfs=level_dbfs,
            clicks=clicks,
        )
        ended = deck.play(
            what="click",
            length_frames=train.frames,
            sources=(made_source(sent, wiring, limit_dbfs=ceiling_dbfs),),
            captures=(
                Capture(path=str(heard_in), inputs=tuple(range(deck.opened.inputs)), depth=32),
            ),
        )
        _went_on(deck, ended)
        # A probe asks how well the click is heard; whether it is one at all, the reference tells.
        reference = (wiring.reference_return.input - 1,)
        readings = deck.worker.read_clicks(
            heard_in, train, arrivals_of=reference if clicks == PROBE_CLICKS else None
        )
    heard = Heard(
        wiring=wiring,
        readings=dict(enumerate(readings, start=1)),
        level_dbfs=level_dbfs,
        ceiling_dbfs=ceiling_dbfs,
    )
    return heard, train


def _said(heard: Heard) -> str:
    reading = heard.reference
    level = f"click at {signed(heard.level_dbfs)} dBFS"
    if reading.snr_db is None:
        return f"{level}: not heard on {heard.wiring.reference}"
    return f"{level}: {reading.snr_db:.0f} dB over the noise on {heard.wiring.reference}"

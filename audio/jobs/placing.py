"""Where a pass lands: the whole frames *D* that are removed, from the round trip *d*."""

from __future__ import annotations

import msgspec

from audio.jobs.clicks import Click
from audio.jobs.originals import Lies
from audio.verdict.clicks import Placement, placement
from audio.verdict.heard import combined
from audio.vocab.errors import UseError
from audio.vocab.names import BARE_PATH
from audio.vocab.results import AudioFacts
from audio.vocab.setup import DelayResult, SetupRecord
from audio.vocab.variant import Variant
from audio.vocab.wiring import Wiring


class Known(msgspec.Struct, kw_only=True):
    """Placements measured in the stream that is open now."""

    bare: Placement | None = None
    last: Placement | None = None
    originals: dict[tuple[str, ...], Lies] = {}
    """Where originals lie, by the checksums of the DI and of the part's originals; files do not change."""
    backings: dict[tuple[str, int, int], AudioFacts] = {}
    """Backing tracks that were read through, by path, size and time of the last change."""

    def learn(self, chain: str, placed: Placement) -> None:
        """Keep what an opening click said."""
        if placed.source != "opening click":
            return
        self.last = placed
        if chain == BARE_PATH:
            self.bare = placed

    def learn_step(self, record: SetupRecord) -> None:
        """Keep what a step of the set-up measured through the bare path by itself."""
        result = record.outcome.result
        if not isinstance(result, DelayResult) or result.patched or record.chain != BARE_PATH:
            return
        if result.delay.delay_frames is not None:
            placed = Placement(
                delay_frames=result.delay.delay_frames,
                plus_minus_frames=result.delay.plus_minus_frames,
                source="opening click",
                peak_frames=result.delay.peak_frames,
            )
            self.learn(record.chain, placed)


class Shift(msgspec.Struct, frozen=True, kw_only=True):
    """How a pass is placed."""

    placed: Placement
    frames: int
    """*D*."""

    @property
    def residual_frames(self) -> float | None:
        """*d* − *D*; None where *d* is not known."""
        d = self.placed.delay_frames
        return None if d is None else d - self.frames


def place(
    click: Click,
    *,
    chain: str,
    known: Known,
    newest: Variant | None,
    wiring: Wiring,
    original: Lies | None = None,
    patched: Placement | None = None,
) -> Shift:
    """Decide *d* and *D* of a pass; `UseError` if `align_to` asks for what this wiring cannot give.

    Parameters
    ----------
    click
        The opening click.
    chain
        Name of the chain that is plugged in.
    known
        What this stream's earlier clicks said.
    newest
        The part's newest variant, None where this is its first pass.
    wiring
        Its `align_to` decides what *d* is.
    original
        Where the original lies against the DI, for `align_to: original`: so much of the round trip is
        left in the files.
    patched
        The converters' own delay as a patched cable proved it, for `align_to: live` without a loop.

    Returns
    -------
    Shift
        With *D* of the newest variant where |*d* − *D*| ≤ 0.5 + ± still holds, so that noise
        around a half frame never moves a file by one; otherwise round(*d*).
    """
    if wiring.align_to == "live":
        placed = _loop_delay(click, wiring, patched)
    else:
        bare = None if chain == BARE_PATH else known.bare
        placed = placement(click.heard, bare=bare, earlier=known.last)
        known.learn(chain, placed)
    if original is not None:
        placed = _late_as(original, placed)
    return Shift(placed=placed, frames=_whole(placed, newest))


def check_align_to(wiring: Wiring, *, patched: Placement | None) -> None:
    """Raise `UseError` where `align_to` asks for what cannot be given, before anything sounds."""
    if wiring.align_to == "live" and wiring.loop is None and patched is None:
        raise UseError(
            "align_to: live needs the converters' own delay: wire a loop cable and name it in the wiring"
            " (loop: {output: N, input: N}), or measure it with a patched cable at two openings of the"
            " stream (secondpass set DIR --step delay --patched N), or use align_to: di"
        )


def _late_as(original: Lies, placed: Placement) -> Placement:
    """Return the placement that leaves a return as late against the DI as the original is."""
    if placed.delay_frames is None:
        return placed
    return msgspec.structs.replace(
        placed,
        delay_frames=placed.delay_frames - original.frames,
        plus_minus_frames=combined(placed.plus_minus_frames, original.plus_minus_frames),
    )


def _loop_delay(click: Click, wiring: Wiring, patched: Placement | None) -> Placement:
    check_align_to(wiring, patched=patched)
    if wiring.loop is None and patched is not None:
        return patched
    reading = click.heard.readings[wiring.loop.input] if wiring.loop else None
    if reading is None or reading.delay_frames is None:
        raise UseError(
            "align_to: live: the click was not heard on the loop cable; check that cable"
        )
    return Placement(
        delay_frames=reading.delay_frames,
        plus_minus_frames=reading.plus_minus_frames,
        source="opening click",
    )


def _whole(placed: Placement, newest: Variant | None) -> int:
    d = placed.delay_frames
    last = newest.shift_frames if newest is not None else None
    if d is None:
        return last or 0
    kept = last is not None and abs(d - last) <= 0.5 + (placed.plus_minus_frames or 0.0)
    return last if kept and last is not None else round(d)

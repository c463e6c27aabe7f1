"""The verdict of a pass: what came back, clipped, got lost, changed or does not lie where it should."""

from __future__ import annotations

from typing import NamedTuple

from audio.verdict.case import Case
from audio.verdict.clicks import reference_late
from audio.verdict.echoes import repeats
from audio.verdict.frames import findings_of_frames
from audio.verdict.losses import clock, dropouts, early_end, send_clipped
from audio.verdict.microphones import amps_apart, upside_down
from audio.verdict.noise import findings_of_noise
from audio.verdict.placed import findings_of_placement
from audio.verdict.proof import strongest
from audio.verdict.send_moved import findings_of_send
from audio.verdict.siblings import findings_of_siblings
from audio.verdict.silence import findings_of_silence, silences
from audio.verdict.sound import findings_of_sound
from audio.verdict.strayed import wrong_input
from audio.vocab.alignment import Proof
from audio.vocab.findings import Finding, heaviest_first
from audio.vocab.messages import Ended
from audio.vocab.order import Order
from audio.vocab.results import ClickReading, PassMeasures
from audio.vocab.variant import Variant


class Judgement(NamedTuple):
    """What a pass was worth, and why."""

    proof: Proof
    """The strongest evidence there was of whether a frame is missing."""
    findings: tuple[Finding, ...]
    """Heaviest first; `audio.vocab.findings.worst` of them is the verdict."""


def judge(
    order: Order,
    ended: Ended,
    measures: PassMeasures,
    closing: tuple[ClickReading, ...],
    *,
    closing_witness: ClickReading | None = None,
    closing_loop: ClickReading | None = None,
    before: tuple[Variant, ...] = (),
) -> Judgement:
    """Judge a pass.

    Parameters
    ----------
    order
        The pass as it was ordered.
    ended
        How its roll ended.
    measures
        What its files say: one entry for each return, in the wiring's order; windows count from the
        first frame that was played of the DI.
    closing
        What each return heard of the closing click, in the wiring's order; empty when there was none.
    closing_witness
        What the witness heard of it.
    closing_loop
        What the loop heard of it.
    before
        Earlier variants of the part, oldest first, of any chain.

    Returns
    -------
    Judgement
        Places in its findings are seconds from the DI's first frame, of a section, too: an engineer
        looks for them in the song.

    Raises
    ------
    ValueError
        If `measures` or `closing` do not hold one entry for each return.
    """
    due = len(order.wiring.returns)
    if len(measures.returns) != due or len(closing) not in {0, due}:
        raise ValueError(
            f"{due} returns are wired, {len(measures.returns)} measured, {len(closing)} clicks read"
        )
    case = Case(
        order=order,
        ended=ended,
        measures=measures,
        closing=closing,
        closing_witness=closing_witness,
        closing_loop=closing_loop,
        before=before,
    )
    return Judgement(strongest(case), heaviest_first(tuple(_findings(case))))


def _findings(case: Case) -> list[Finding]:
    order, ended = case.order, case.ended
    silent = silences(order, case.measures)
    # A cable in the wrong input looks like a dead amp: the cause is told before what it looks like.
    found = wrong_input(case) + early_end(order, ended, silent)
    if ended.reason == "dead":  # that finding tells of the silence of all returns already
        silent = [s for s in silent if not s.everywhere]
    found += findings_of_sound(case) + findings_of_silence(silent)
    longest = max((r.frames for r in case.measures.returns), default=0)
    found += dropouts(order, ended, recorded_frames=longest) + clock(ended, rate=case.rate)
    found += send_clipped(ended) + findings_of_frames(case) + findings_of_placement(case)
    found += findings_of_siblings(case) + findings_of_noise(case) + findings_of_send(case)
    if order.opening_click:
        found += reference_late(order.wiring, order.opening_click)
        found += repeats(order.opening_click[order.wiring.reference_at].echo, bpm=order.bpm)
    return found + amps_apart(order) + upside_down(order, case.measures)

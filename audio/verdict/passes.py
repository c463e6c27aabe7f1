"""The first verdict of a pass: what came back, clipped, got lost or does not lie where it should."""

from __future__ import annotations

from audio.verdict.clicks import reference_late
from audio.verdict.losses import clock, dropouts, early_end, send_clipped
from audio.verdict.proof import findings_of_closing, findings_of_placement
from audio.verdict.silence import findings_of_silence, silences, still_sounding
from audio.verdict.thresholds import (
    CLIP_SHORT_MS,
    CLIPS_FEW,
    CLIPS_FEW_PER_MINUTE,
    DI_SILENT_DBFS,
)
from audio.verdict.words import counted, listing, times
from audio.vocab.findings import Finding, Verdict
from audio.vocab.messages import Ended
from audio.vocab.order import Order
from audio.vocab.results import ClickReading, PassMeasures, ReturnMeasures
from audio.vocab.units import clock_time, ms_from_frames, signed

_HEAVIEST_FIRST: tuple[Verdict, ...] = ("redo", "look", "good")


def judge(
    order: Order,
    ended: Ended,
    measures: PassMeasures,
    closing: tuple[ClickReading, ...],
    *,
    closing_witness: ClickReading | None = None,
) -> tuple[Finding, ...]:
    """Return the findings of a pass, heaviest first; `audio.vocab.findings.worst` is its verdict.

    Parameters
    ----------
    order
        The pass as it was ordered.
    ended
        How its roll ended.
    measures
        What its files say: one entry for each return, in the wiring's order; windows count from the
        DI's first frame.
    closing
        What each return heard of the closing click, in the wiring's order; empty when there was none.
    closing_witness
        What the witness heard of it.

    Returns
    -------
    tuple of Finding
        Places are seconds from the DI's first frame.

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
    silent = silences(order, measures)
    found = early_end(order, ended, silent)
    if ended.reason == "dead":  # that finding tells of the silence of all returns already
        silent = [s for s in silent if not s.everywhere]
    found += _di_silent(order) + _empty(order, measures) + findings_of_silence(silent)
    longest = max((r.frames for r in measures.returns), default=0)
    found += dropouts(order, ended, recorded_frames=longest) + clock(
        ended, rate=order.wiring.sample_rate
    )
    found += _clipped(order, measures) + send_clipped(ended) + _tail_cut(order, ended, measures)
    found += _proof(order, ended, closing, closing_witness)
    if order.opening_click:
        found += reference_late(order.wiring, order.opening_click)
    return tuple(sorted(found, key=lambda f: _HEAVIEST_FIRST.index(f.weight)))


def _proof(
    order: Order,
    ended: Ended,
    closing: tuple[ClickReading, ...],
    closing_witness: ClickReading | None,
) -> list[Finding]:
    """Return what the clicks prove; what both tell is told once, by the closing one."""
    after = findings_of_closing(order, ended, closing, closing_witness)
    told = {f.code for f in after}
    return [f for f in findings_of_placement(order) if f.code not in told] + after


def _di_silent(order: Order) -> list[Finding]:
    if order.di_loudest_dbfs >= DI_SILENT_DBFS:
        return []
    text = (
        f"The DI of {order.part} holds no playing (loudest {signed(order.di_loudest_dbfs)} dBFS)."
    )
    advice = "Check the file and its channel."
    return [Finding(code="di-silent", weight="look", text=text, advice=advice)]


def _empty(order: Order, measures: PassMeasures) -> list[Finding]:
    pairs = zip(order.wiring.returns, measures.returns, strict=True)
    names = [r.name for r, m in pairs if m.frames == 0]
    if not names:
        return []
    text = f"Nothing was recorded on {listing(names)}."
    return [
        Finding(code="nothing-recorded", weight="redo", text=text, advice="Play the pass again.")
    ]


def _clipped(order: Order, measures: PassMeasures) -> list[Finding]:
    """Judge runs at full scale only: flat tops below it are the sound of fuzz and load boxes."""
    pairs = zip(order.wiring.returns, measures.returns, strict=True)
    rate = order.wiring.sample_rate
    return [_clip_finding(r.name, m, rate=rate) for r, m in pairs if m.clipped_runs]


def _clip_finding(name: str, measured: ReturnMeasures, *, rate: int) -> Finding:
    weight = _clip_weight(measured, rate=rate)
    first_s = measured.first_clipped[0].at_frame / rate if measured.first_clipped else None
    where = "" if first_s is None else f", first at {clock_time(first_s)}"
    samples = sum(r.frames for r in measured.first_clipped)
    least = "" if measured.clipped_runs <= len(measured.first_clipped) else "at least "
    total = f"{least}{counted(samples, 'sample', 'samples')} in all"
    text = f"{name} clipped at the converter {times(measured.clipped_runs)}{where}, {total}."
    advice = {
        "redo": "Turn its preamp down by 6 dB and play the pass again.",
        "look": "Listen to those places; turn its preamp down before the next pass.",
        "good": "",
    }[weight]
    return Finding(code="clipped", weight=weight, text=text, at_s=first_s, advice=advice)


def _clip_weight(measured: ReturnMeasures, *, rate: int) -> Verdict:
    """Call clipping a look while its runs are few and all that are known are short, else a redo."""
    minutes = measured.frames / rate / 60.0
    few = measured.clipped_runs <= max(CLIPS_FEW, CLIPS_FEW_PER_MINUTE * minutes)
    longest = max((r.frames for r in measured.first_clipped), default=0)
    short = ms_from_frames(longest, rate=rate) <= CLIP_SHORT_MS
    return "look" if few and short else "redo"


def _tail_cut(order: Order, ended: Ended, measures: PassMeasures) -> list[Finding]:
    names = still_sounding(order, measures) if ended.reason == "complete" else []
    if not names:
        return []
    text = f"{listing(names)} still sounded when the longest tail of {order.wiring.tail_s:g} s was over."
    advice = "Raise tail_s in the wiring if the end matters; a noise that came up looks the same."
    return [Finding(code="tail-cut", weight="look", text=text, advice=advice)]

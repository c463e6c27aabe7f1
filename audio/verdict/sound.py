"""What the recorded sound itself says: clipped, only the send leaking, a tail cut off."""

from __future__ import annotations

from audio.verdict.case import Case
from audio.verdict.noise import noise_came_up
from audio.verdict.silence import rings_out, still_sounding
from audio.verdict.thresholds import (
    CLIP_SHORT_MS,
    CLIPS_FEW,
    CLIPS_FEW_PER_MINUTE,
    DI_SILENT_DBFS,
    LEAK_GAIN_DB,
    LEAK_SHARE,
)
from audio.verdict.words import CHECK_AMP, counted, listing, times
from audio.vocab.findings import Finding, Verdict
from audio.vocab.order import Order
from audio.vocab.results import ReturnMeasures
from audio.vocab.units import clock_time, ms_from_frames, signed


def findings_of_sound(case: Case) -> list[Finding]:
    """Return what the files themselves say.

    ``nothing-recorded`` and ``send-leaks`` weigh redo, ``clipped`` look or redo, ``di-silent`` and
    ``tail-cut`` look.
    """
    return _di_silent(case) + _empty(case) + _leaks(case) + _clipped(case) + _tail_cut(case)


def _di_silent(case: Case) -> list[Finding]:
    order = case.order
    if order.di_loudest_dbfs >= DI_SILENT_DBFS:
        return []
    text = (
        f"The DI of {order.part} holds no playing{_in(order)} (loudest {signed(order.di_loudest_dbfs)}"
        " dBFS)."
    )
    advice = "Check the file and its channel."
    return [Finding(code="di-silent", weight="look", text=text, advice=advice)]


def _in(order: Order) -> str:
    return f" in {order.covers.text}" if order.covers else ""


def _empty(case: Case) -> list[Finding]:
    pairs = zip(case.names, case.measures.returns, strict=True)
    names = [name for name, m in pairs if m.frames == 0]
    if not names:
        return []
    text = f"Nothing was recorded on {listing(names)}."
    return [
        Finding(code="nothing-recorded", weight="redo", text=text, advice="Play the pass again.")
    ]


# ---------------------------------------------------------------- the send past the amp


def _leaks(case: Case) -> list[Finding]:
    """Return the returns that hold a faint plain copy of the send, and no loudspeaker."""
    pairs = zip(case.names, case.measures.returns, strict=True)
    found = [(name, m.copy_gain_db) for name, m in pairs if _is_leak(m)]
    if not found:
        return []
    names = [name for name, _ in found]
    loudest = max(gain for _, gain in found if gain is not None)
    every = len(found) == len(case.names)
    text = (
        f"Only the send leaks into {listing(names)}, {signed(loudest)} dB under what was sent: "
        f"no {'amp' if every else 'microphone'} in it."
    )
    advice = f"{CHECK_AMP} Then play the pass again." if every else _CHECK_MICROPHONE
    return [Finding(code="send-leaks", weight="redo", text=text, advice=advice)]


_CHECK_MICROPHONE = (
    "Check that microphone, its cable, phantom power, preamp and input, then play the pass again."
)


def _is_leak(measured: ReturnMeasures) -> bool:
    share, gain = measured.copy_share, measured.copy_gain_db
    return share is not None and gain is not None and share >= LEAK_SHARE and gain <= LEAK_GAIN_DB


# ---------------------------------------------------------------- clipping


def _clipped(case: Case) -> list[Finding]:
    """Judge runs at full scale only: flat tops below it are the sound of fuzz and load boxes."""
    pairs = zip(case.names, case.measures.returns, strict=True)
    return [_clip_finding(case, name, m) for name, m in pairs if m.clipped_runs]


def _clip_finding(case: Case, name: str, measured: ReturnMeasures) -> Finding:
    weight = _clip_weight(measured, rate=case.rate)
    first_s = case.di_s(measured.first_clipped[0].at_frame) if measured.first_clipped else None
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


# ---------------------------------------------------------------- the end


def _tail_cut(case: Case) -> list[Finding]:
    """Return the returns that still sounded at the end; noise that stands still there is no tail."""
    if case.ended.reason != "complete":
        return []
    sounding = still_sounding(case)
    names = [case.names[i] for i in sounding if rings_out(case, i) or not noise_came_up(case, i)]
    if not names:
        return []
    wiring = case.order.wiring
    text = f"{listing(names)} still sounded when the longest tail of {wiring.tail_s:g} s was over."
    advice = "Raise tail_s in the wiring if the end matters; a noise that came up looks the same."
    return [Finding(code="tail-cut", weight="look", text=text, advice=advice)]

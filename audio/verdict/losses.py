"""What the engine counted: frames lost, a clock that is off, clipping on the way out, an early end."""

from __future__ import annotations

from audio.verdict.silence import Silence
from audio.verdict.thresholds import (
    CLOCK_OFF_PPM,
    DROPOUT_LATE_BLOCKS,
    SEND_CLIPS_FEW,
    UNANSWERED_S,
)
from audio.verdict.words import CHECK_AMP, counted, listing, times
from audio.vocab.findings import Finding, Verdict
from audio.vocab.messages import Dropout, Ended
from audio.vocab.order import Order
from audio.vocab.units import clock_time

_KINDS = {
    "input overflow": "the computer fetched the recording too late",
    "output underflow": "the computer delivered the DI too late",
    "starved": "the disk delivered the DI too late",
    "overrun": "the disk took the recording too slowly",
    "clock step": "the device's clock jumped",
}

_EARLY: dict[str, tuple[str, Verdict, str, str]] = {
    "stopped": ("stopped", "look", "Stopped by hand", "Run it again if you need the whole part."),
    "closed": (
        "stream-closed",
        "look",
        "The stream was closed under the pass",
        "Play the pass again.",
    ),
    "disk": (
        "disk-full",
        "redo",
        "The disk took no more",
        "Free some space or choose another disk, then play the pass again.",
    ),
    "slow disk": (
        "disk-slow",
        "redo",
        "Stopped because the disk was too slow for the recording",
        "Every frame before that is in the files. Choose a faster disk, then play the pass again.",
    ),
    "device": (
        "device-gone",
        "redo",
        "The stream broke off",
        "Amp to standby, then check the interface's cable and power, or the audio server.",
    ),
    "unfit": (
        "send-unfit",
        "redo",
        "Stopped before the amp got it, as the file is not fit to be sent",
        "Export the DI again, add it as a new revision, then play the pass again.",
    ),
    "starved": (
        "send-starved",
        "redo",
        "The DI could not be delivered in time",
        "Close other programs or read from a faster disk, then play the pass again.",
    ),
}

_RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
_NAMED_WITHIN = 2e-3  # a real rate this near a usual one is named by it

_DEFAULT_BLOCK = 512  # what the engine asks for when the wiring leaves it out


def dropouts(order: Order, ended: Ended, *, recorded_frames: int) -> list[Finding]:
    """Return a finding for losses within the recording, and one for losses around it.

    Parameters
    ----------
    order
        The pass as ordered.
    ended
        Its end, with every loss in roll frames.
    recorded_frames
        Length of the longest capture.

    Returns
    -------
    list of Finding
        ``frames-lost`` weighs redo, ``frames-lost-outside`` look.
    """
    late = DROPOUT_LATE_BLOCKS * (order.wiring.block_frames or _DEFAULT_BLOCK)
    within: list[Dropout] = []
    around: list[Dropout] = []
    for one in sorted(ended.dropouts, key=lambda d: d.at_frame):
        inside = -late <= from_di(order, one.at_frame) <= recorded_frames + late
        (within if inside else around).append(one)
    found = [_lost(order, within)] if within else []
    return found + ([_lost_outside(order, around)] if around else [])


def from_di(order: Order, roll_frame: int) -> int:
    """Return an input-side roll frame counted from the first frame played of the DI, as it was captured."""
    return roll_frame - order.lead_in_frames - order.shift_frames


def _di_s(order: Order, roll_frame: int) -> float:
    """Return the place of an input-side roll frame, seconds from the DI's first frame."""
    return order.from_s + from_di(order, roll_frame) / order.wiring.sample_rate


def clock(ended: Ended, *, rate: int) -> list[Finding]:
    """Return a redo when the rate is off by more than `CLOCK_OFF_PPM` beyond its own uncertainty."""
    ppm = ended.clock_ppm
    if ppm is None or abs(ppm) - (ended.clock_plus_minus_ppm or 0.0) <= CLOCK_OFF_PPM:
        return []
    real = rate * (1.0 + ppm * 1e-6)
    likely = min(_RATES, key=lambda r: abs(r - real))
    close = likely != rate and abs(real / likely - 1.0) < _NAMED_WITHIN
    hint = f", as if it ran at {likely} Hz" if close else ""
    way = "fast" if ppm > 0 else "slow"
    text = f"The device ran {abs(ppm) * 1e-4:.2f} % too {way}{hint}: wrong clock source."
    advice = (
        f"Set the interface's clock to internal, or every device to {rate} Hz, "
        "and play the pass again."
    )
    return [Finding(code="clock-off", weight="redo", text=text, advice=advice)]


def send_clipped(ended: Ended) -> list[Finding]:
    """Return a look for a few frames of the DI clipped on their way out, a redo for many."""
    if not ended.send_clipped:
        return []
    weight: Verdict = "look" if ended.send_clipped <= SEND_CLIPS_FEW else "redo"
    over = counted(ended.send_clipped, "frame", "frames")
    text = f"The send clipped on its way out: {over} over full scale."
    return [Finding(code="send-clipped", weight=weight, text=text, advice="Lower the part's trim.")]


def early_end(order: Order, ended: Ended, silent: list[Silence]) -> list[Finding]:
    """Return why the pass ended before its time, and what of it is kept; empty when it did not."""
    played = from_di(order, ended.frames)
    at_s = _di_s(order, ended.frames)
    kept = f"kept until {clock_time(at_s)}" if played > 0 else "nothing of the DI was played"
    if ended.went_on:
        return []
    if ended.reason == "dead":
        return [_dead(order, at_s, kept, silent)]
    code, weight, happened, advice = _EARLY[ended.reason]
    whole = played >= order.played_frames
    if ended.reason == "closed" and not whole:
        weight = "redo"  # nobody wanted it to end there
    note = f" ({ended.note})" if ended.note else ""
    text = f"{happened}{note}, {kept}."
    return [
        Finding(code=code, weight=weight, text=text, at_s=max(order.from_s, at_s), advice=advice)
    ]


def _dead(order: Order, at_s: float, kept: str, silent: list[Silence]) -> Finding:
    fell = [s for s in silent if s.everywhere and s.kind == "from"]
    since = fell[-1].start_s if fell else max(order.from_s, at_s - UNANSWERED_S)
    some = fell and len(fell[-1].names) < len(order.wiring.returns)
    who = f"nothing on {listing(fell[-1].names)}" if some else "no microphone"
    text = f"Stopped: the DI was loud and {who} answered from {clock_time(since)} on, {kept}."
    return Finding(code="dead-amp", weight="redo", text=text, at_s=since, advice=CHECK_AMP)


def _lost(order: Order, losses: list[Dropout]) -> Finding:
    at_s = max(order.from_s, _di_s(order, losses[0].at_frame))
    advice = (
        "Close other programs or set a larger block_frames in the wiring, then play the pass again."
    )
    text = _lost_text(losses, f"at {clock_time(at_s)}")
    return Finding(code="frames-lost", weight="redo", text=text, at_s=at_s, advice=advice)


def _lost_outside(order: Order, losses: list[Dropout]) -> Finding:
    at_s = _di_s(order, losses[0].at_frame)
    begun = at_s > order.from_s
    where = f"after its end, at {clock_time(at_s)}" if begun else "before the DI began"
    advice = "The recording is whole by the counters; listen to its start and its end."
    text = _lost_text(losses, where)
    return Finding(code="frames-lost-outside", weight="look", text=text, at_s=at_s, advice=advice)


def _lost_text(losses: list[Dropout], where: str) -> str:
    often = where if len(losses) == 1 else f"{times(len(losses))}, first {where}"
    causes = listing(tuple(dict.fromkeys(_KINDS[d.kind] for d in losses)))
    return f"Frames were lost {often}{_how_many(losses)}: {causes}."


def _how_many(losses: list[Dropout]) -> str:
    known = [d.frames for d in losses if d.frames is not None]
    if not known:
        return ""
    least = "" if len(known) == len(losses) else "at least "
    return f" ({least}{counted(sum(known), 'frame', 'frames')})"

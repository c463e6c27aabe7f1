"""A DI that was checked, in words; the screen and the command line tell it alike."""

from __future__ import annotations

from audio.grid.places import lateness
from audio.vocab.checked import Change, Checked
from audio.vocab.findings import Verdict
from audio.vocab.readiness import DiFinding
from audio.vocab.timing import NoTiming, Pairs, PlacedHit, Timing
from audio.vocab.units import signed, with_sign
from tui.present.wave_words import exact_time

WORDS: dict[Verdict, str] = {"good": "ready", "look": "look", "redo": "mend"}
"""What a DI's verdict is called: what is to be done again is the edit."""

_NOT = {
    "no tempo": "no tempo is known; give the song a bpm, or a tempo file",
    "too few hits": "too few to tell a grid by",
    "no subdivision fits": "no subdivision of the beat fits them: is the tempo, or bar 1, elsewhere?",
}


def state_words(checked: Checked) -> str:
    """Return what a DI's state is in two or three words, such as ``mend 3`` or ``ready``."""
    weighing = [one for one in checked.findings if one.weight == checked.verdict]
    word = WORDS[checked.verdict]
    return word if checked.verdict == "good" else f"{word} {len(weighing)}"


def unready_words(part: str, count: int) -> str:
    """Return that a part's DI is not ready, in one sentence."""
    many = "1 finding" if count == 1 else f"{count} findings"
    return f"the DI of {part} is not ready: {many} will be heard in every pass"


def finding_where(one: DiFinding, rate: int) -> str:
    """Return where a finding is, seconds and bars; empty where it is everywhere."""
    if one.frame is None:
        return ""
    time = exact_time(one.frame, rate=rate)
    return f"{time}, {one.place}" if one.place else time


def finding_sure(one: DiFinding) -> str:
    """Return how sure a finding is; empty where it is simply so."""
    return "" if one.confidence >= 1.0 else f"{one.confidence:.0%} sure"


def level_line(checked: Checked) -> str:
    """Return the DI's level in one line."""
    level = checked.measures.level
    loud = "" if level.loudness_lufs is None else f", {signed(level.loudness_lufs, digits=1)} LUFS"
    crest = "" if level.crest_db is None else f", crest {level.crest_db:.1f} dB"
    return (
        f"peak {signed(level.peak_dbfs, digits=1)} dBFS,"
        f" {signed(level.true_peak_dbtp, digits=1)} dBTP{loud}{crest}"
    )


def timing_line(checked: Checked) -> str:
    """Return how the hits sit as a whole, in one line."""
    timing = checked.timing
    if isinstance(timing, NoTiming):
        hits = "1 hit" if timing.hits == 1 else f"{timing.hits} hits"
        return f"{hits}: {_NOT[timing.reason]}"
    on = f"{timing.count} hits on {checked.played_on}"
    strays = sum(1 for one in timing.hits if one.stray)
    off = f", {strays} between them" if strays else ""
    return f"{on}{off}{_sits(timing)}"


def _sits(timing: Timing) -> str:
    if timing.mean_ms is None:
        return ""
    spread = "" if timing.spread_ms is None else f", spread {timing.spread_ms:.1f} ms"
    return f"; {lateness(timing.mean_ms)} on average{spread}"


def bars_line(timing: Timing) -> str:
    """Return the mean of each bar in one line, such as ``by bar, ms late: 1 +2.1, 2 −0.4``."""
    means = ", ".join(f"{one.bar} {with_sign(one.mean_ms, digits=1)}" for one in timing.bars)
    return f"by bar, ms late: {means}"


def hit_words(one: PlacedHit) -> str:
    """Return one hit, such as ``bar 12 beat 3 and: 18 ms late``."""
    return f"{one.place}: {lateness(one.deviation_ms)}"


def pairs_line(pairs: Pairs, *, what: str) -> str:
    """Return how hits sit beside another recording's, in one line."""
    if pairs.mean_ms is None:
        return f"{what}: no hit answers another"
    spread = "" if pairs.spread_ms is None else f", spread {pairs.spread_ms:.1f} ms"
    lone = [
        words
        for count, words in (
            (len(pairs.missing), f"{len(pairs.missing)} missing"),
            (len(pairs.extra), f"{len(pairs.extra)} extra"),
        )
        if count
    ]
    return ", ".join(
        [
            f"{what}: {len(pairs.pairs)} hits together, {lateness(pairs.mean_ms)} on average{spread}",
            *lone,
        ]
    )


def change_lines(change: Change, rate: int) -> list[str]:
    """Return what is other than in the revision before, a line each."""
    lines = [f"gone: {_short(one, rate)}" for one in change.gone]
    lines += [f"new: {_short(one, rate)}" for one in change.new]
    if change.stayed:
        lines.append(
            f"as before: {change.stayed} {'finding' if change.stayed == 1 else 'findings'}"
        )
    if change.hits_before != change.hits_now:
        lines.append(f"hits: {change.hits_before} before, {change.hits_now} now")
    if change.spread_before_ms is not None and change.spread_now_ms is not None:
        lines.append(
            f"spread: {change.spread_before_ms:.1f} ms before, {change.spread_now_ms:.1f} ms now"
        )
    return lines or ["nothing that would be heard"]


def _short(one: DiFinding, rate: int) -> str:
    where = finding_where(one, rate)
    return f"{one.code} at {where}" if where else one.code

"""Where loud playing was not answered: a dead cable, amp or microphone, told from gates and rests."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import msgspec

from audio.verdict.case import Case
from audio.verdict.thresholds import (
    ANSWER_OVER_NOISE_DB,
    DI_SILENT_DBFS,
    FELL_DB,
    LOUD_WITHIN_DB,
    STANDS_DB,
    TAIL_FALLS_DB,
    UNANSWERED_S,
)
from audio.verdict.words import CHECK_AMP, listing
from audio.vocab.findings import Finding
from audio.vocab.order import Order
from audio.vocab.results import PassMeasures
from audio.vocab.units import clock_time
from audio.vocab.wiring import Wiring

_CHECK_MICROPHONE = (
    "Check that microphone, its cable, phantom power, preamp and input, then play the pass again."
)


class Silence(msgspec.Struct, frozen=True, kw_only=True):
    """Loud playing that some returns did not answer."""

    names: tuple[str, ...]
    everywhere: bool
    """Whether no return of the pass answered, or none of one of its amps."""
    kind: Literal["never", "until", "from", "between"]
    start_s: float
    """Seconds from the DI's first frame, as all of these."""
    end_s: float
    files_from_s: float = 0.0
    """Where the files begin."""


def silences(order: Order, measures: PassMeasures) -> list[Silence]:
    """Return where loud playing was not answered, one value for returns that fell silent together.

    Parameters
    ----------
    order
        The pass as ordered; the noise of each return is its opening click's, or where there is none
        the quietest window recorded.
    measures
        One entry for each return, in the wiring's order.

    Returns
    -------
    list of Silence
        In the order of their starts; a stretch counts from `UNANSWERED_S` of loud playing on, or when
        none of the loud playing was answered at all.
    """
    if order.di_loudest_dbfs < DI_SILENT_DBFS:
        return []
    window_s = measures.window_frames / order.wiring.sample_rate
    loud = _loud(order, measures)
    found: list[Silence] = []
    for index, (one, recorded) in enumerate(
        zip(order.wiring.returns, measures.returns, strict=True)
    ):
        levels = recorded.levels_dbfs
        answers = _answers(
            levels, noise_dbfs=_noise(order, index), least_dbfs=_back(levels, loud) - FELL_DB
        )
        found += _of_return(one.name, loud, answers, window_s=window_s, from_s=order.from_s)
    return _together(found, order.wiring)


def findings_of_silence(found: Sequence[Silence]) -> list[Finding]:
    """Return one finding for each silence; every one weighs ``redo``."""
    return [_finding(s) for s in found]


def still_sounding(case: Case) -> list[int]:
    """Return which returns, in the wiring's order, lie over their idle noise through their last second.

    Only returns whose noise is known from an opening click can be named.
    """
    last = _windows(case, 1.0)
    found = []
    pairs = zip(case.measures.returns, case.order.opening_click, strict=False)
    for index, (recorded, reading) in enumerate(pairs):
        end = recorded.levels_dbfs[-last:]
        if len(end) == last and all(_answers(end, noise_dbfs=reading.noise_dbfs)):
            found.append(index)
    return found


def rings_out(case: Case, index: int) -> bool:
    """Return whether what a return still holds at its end is a tail: it falls, or is as loud as playing.

    Noise and hum stand still, far under the playing; a saturated amp may hold a long tail up.
    """
    last = _windows(case, 1.0)
    levels = case.measures.returns[index].levels_dbfs
    if case.ended.reason == "quiet" or index not in still_sounding(case) or len(levels) < 2 * last:
        return False
    end = levels[-last:]
    falls = _mean(levels[-2 * last : -last]) - _mean(end) >= TAIL_FALLS_DB
    still_falls = _mean(end[: last // 2]) - _mean(end[-(last // 2) :]) >= STANDS_DB
    return (falls and still_falls) or _mean(end) >= _playing(case, levels) - LOUD_WITHIN_DB


def _playing(case: Case, levels: Sequence[float]) -> float:
    """Return what the loud playing brings back, its loudest tenth left out."""
    return _back(levels, _loud(case.order, case.measures))


def _windows(case: Case, seconds: float) -> int:
    return max(1, round(seconds * case.rate / max(1, case.measures.window_frames)))


def _mean(levels: Sequence[float]) -> float:
    return sum(levels) / len(levels)


def _noise(order: Order, index: int) -> float | None:
    return order.opening_click[index].noise_dbfs if order.opening_click else None


def _answers(
    levels: Sequence[float], *, noise_dbfs: float | None, least_dbfs: float = -math.inf
) -> list[bool]:
    noise = min(levels, default=0.0) if noise_dbfs is None else noise_dbfs
    return [level > max(noise + ANSWER_OVER_NOISE_DB, least_dbfs) for level in levels]


def _loud(order: Order, measures: PassMeasures) -> list[bool]:
    """Return for each window of the DI whether it must be answered."""
    floor = order.di_loudest_dbfs - LOUD_WITHIN_DB
    return [level >= floor for level in measures.di_levels_dbfs]


def _back(levels: Sequence[float], loud: Sequence[bool]) -> float:
    """Return what loud playing brings back, its loudest tenth left out; minus infinity without any."""
    back = sorted(level for level, is_loud in zip(levels, loud, strict=False) if is_loud)
    return back[len(back) * 9 // 10] if back else -math.inf


def _of_return(
    name: str, loud: Sequence[bool], answers: Sequence[bool], *, window_s: float, from_s: float
) -> list[Silence]:
    asked = [i for i, is_loud in enumerate(loud[: len(answers)]) if is_loud]
    found = []
    for run in _unanswered(asked, answers):
        never = run == asked
        if never or len(run) * window_s >= UNANSWERED_S:
            kind = "never" if never else _kind(run, asked)
            start, end = from_s + run[0] * window_s, from_s + (run[-1] + 1) * window_s
            found.append(
                Silence(
                    names=(name,),
                    everywhere=False,
                    kind=kind,
                    start_s=start,
                    end_s=end,
                    files_from_s=from_s,
                )
            )
    return found


def _unanswered(asked: Sequence[int], answers: Sequence[bool]) -> list[list[int]]:
    """Return the loud windows in runs between answers, whatever was quiet between them."""
    runs: list[list[int]] = [[]]
    due = set(asked)
    for index, answer in enumerate(answers):
        if answer:
            runs.append([])
        elif index in due:
            runs[-1].append(index)
    return [run for run in runs if run]


def _kind(run: Sequence[int], asked: Sequence[int]) -> Literal["until", "from", "between"]:
    if run[-1] == asked[-1]:
        return "from"
    return "until" if run[0] == asked[0] else "between"


def _together(found: list[Silence], wiring: Wiring) -> list[Silence]:
    """Join silences of the same kind that begin and end together, and mark those of a whole amp."""
    joined: list[Silence] = []
    for one in sorted(found, key=lambda s: s.start_s):
        for at, other in enumerate(joined):
            if _same(one, other):
                joined[at] = msgspec.structs.replace(other, names=other.names + one.names)
                break
        else:
            joined.append(one)
    amps = [{one.name for one in wiring.returns if one.amp == amp} for amp in wiring.amps]
    return [
        msgspec.structs.replace(s, everywhere=any(amp <= set(s.names) for amp in amps))
        for s in joined
    ]


def _same(a: Silence, b: Silence) -> bool:
    apart = max(abs(a.start_s - b.start_s), abs(a.end_s - b.end_s))
    return a.kind == b.kind and not set(a.names) & set(b.names) and apart < UNANSWERED_S


def _finding(s: Silence) -> Finding:
    names = listing(s.names)
    start, end = clock_time(s.start_s), clock_time(s.end_s)
    cause = "cable, fuse or standby" if s.everywhere else "its microphone, cable or preamp"
    code, text, at_s = {
        "never": (
            "nothing-came-back",
            f"Nothing came back on {names} while the DI was loud: {cause}.",
            None,
        ),
        "until": ("silent-until", f"{names} silent until {end}: {cause}.", s.files_from_s),
        "from": (
            "silent-from",
            f"{names} silent from {start}: {cause}.",
            s.start_s,
        ),
        "between": (
            "silent-between",
            f"{names} silent from {start} to {end}: a loose contact, {cause}.",
            s.start_s,
        ),
    }[s.kind]
    advice = f"{CHECK_AMP} Then play the pass again." if s.everywhere else _CHECK_MICROPHONE
    return Finding(code=code, weight="redo", text=text, at_s=at_s, advice=advice)

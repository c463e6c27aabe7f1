"""How loud the returns come in, in words: what to turn, what clips, what is dead."""

from __future__ import annotations

import math
from typing import Final

from audio.verdict.thresholds import ANSWER_OVER_NOISE_DB
from audio.verdict.words import listing
from audio.vocab.findings import Finding
from audio.vocab.hearing import permissible_words
from audio.vocab.looped import CycleLevels
from audio.vocab.setup import ReturnGainResult, ReturnLevel
from audio.vocab.units import signed

CLIPPED_DOWN_DB: Final = 10.0
"""How much lower to begin again after a clip, whose height nobody knows (common practice, no source)."""


def is_dead(cycle: CycleLevels) -> bool:
    """Return whether a return does not leave its idle noise while the DI's loudest plays."""
    return cycle.rms_dbfs < cycle.noise_dbfs + ANSWER_OVER_NOISE_DB


def what_to_turn(cycle: CycleLevels, *, clipped: bool, low_dbfs: float, high_dbfs: float) -> str:
    """Return what to do in three or four words, such as ``preamp down 5 dB``.

    Parameters
    ----------
    cycle
        How loud the last cycle came in.
    clipped
        Whether it clipped at any time since the step began.
    low_dbfs
        Lower end of the window of the peaks.
    high_dbfs
        Its upper end.

    Returns
    -------
    str
        To the nearest end of the window, in whole decibels.
    """
    if clipped or cycle.clipped_samples:
        return f"clips: preamp down {CLIPPED_DOWN_DB:.0f} dB"
    if is_dead(cycle):
        return "nothing comes back"
    if cycle.peak_dbfs > high_dbfs:
        return f"preamp down {math.ceil(cycle.peak_dbfs - high_dbfs)} dB"
    if cycle.peak_dbfs < low_dbfs:
        return f"preamp up {math.ceil(low_dbfs - cycle.peak_dbfs)} dB"
    return "right"


def word_of(result: ReturnGainResult, one: ReturnLevel) -> str:
    """Return what to do about one return."""
    return what_to_turn(
        one.cycle, clipped=one.clipped, low_dbfs=result.low_dbfs, high_dbfs=result.high_dbfs
    )


def findings_of_return_gain(result: ReturnGainResult) -> tuple[Finding, ...]:
    """Return what is to be said of the returns.

    Parameters
    ----------
    result
        What was measured.

    Returns
    -------
    tuple of Finding
        ``return-dead`` weighs redo, ``return-clips`` and ``return-gain-off`` look, ``ears`` informs.
    """
    found = []
    for one in result.returns:
        word = word_of(result, one)
        if word == "right":
            continue
        if word == "nothing comes back":
            found.append(_dead(one))
        elif word.startswith("clips"):
            found.append(_clips(one))
        else:
            found.append(_off(one, word))
    return (*found, *_ears(result.dba))


def headline_of_return_gain(result: ReturnGainResult) -> str:
    """Return what to turn, in one sentence."""
    doing = [(one.name, word_of(result, one)) for one in result.returns]
    wrong = [f"{name}: {word}" for name, word in doing if word != "right"]
    if wrong:
        return "; ".join(wrong)
    return f"{listing([name for name, _ in doing])} in the window"


def summary_of_return_gain(result: ReturnGainResult) -> str:
    """Return the loudest peak in two words, or what is wrong."""
    words = [word_of(result, one) for one in result.returns]
    if any(word.startswith("clips") for word in words):
        return "clips"
    if any(word.startswith("nothing") for word in words):
        return "dead return"
    return f"{signed(max(one.cycle.peak_dbfs for one in result.returns))} dBFS"


def _dead(one: ReturnLevel) -> Finding:
    text = f"Nothing comes back on {one.name} while the DI's loudest plays."
    advice = (
        f"Standby off? Check the microphone on input {one.input}, its cable and preamp, and the chain"
        " in front of the amp."
    )
    return Finding(code="return-dead", weight="redo", text=text, advice=advice)


def _clips(one: ReturnLevel) -> Finding:
    text = f"{one.name} clipped at the converter."
    advice = f"Preamp down by {CLIPPED_DOWN_DB:.0f} dB, then measure again."
    return Finding(code="return-clips", weight="look", text=text, advice=advice)


def _off(one: ReturnLevel, word: str) -> Finding:
    text = f"{one.name} peaks at {signed(one.cycle.peak_dbfs, digits=1)} dBFS: {word}."
    return Finding(code="return-gain-off", weight="look", text=text)


def _ears(dba: float | None) -> tuple[Finding, ...]:
    if dba is None:
        return ()
    text = f"{dba:g} dBA: {permissible_words(dba)} (NIOSH 98-126)."
    return (Finding(code="ears", weight="good", text=text),)

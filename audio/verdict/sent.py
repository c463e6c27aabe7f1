"""Whether the amp sees what the guitar gave: the send level of a part, in words."""

from __future__ import annotations

from typing import Final

from audio.verdict.edited import findings_of_edit
from audio.vocab.findings import Finding
from audio.vocab.looped import CopyBack
from audio.vocab.setup import BoxLevel, SendLevelResult
from audio.vocab.units import signed, with_sign

WITHIN_DB: Final = 0.5
"""A send this near is right: less than a volume pot moves by accident, and under the 1 dB at which two
takes begin to be told apart by ear (common practice, no source)."""

ONE_LEG_DB: Final = (-7.0, -5.0)
"""Half the voltage is missing where one leg of a balanced line carries nothing: 6.02 dB less, and 1 dB
either way for how well the box was set before."""

HIGHS_LOST_DB: Final = -3.0
"""A box and its cable that take this much off 5 to 10 kHz change the sound, not only its level; transformer
boxes lose 0.5 to 1 dB there (common practice, no source)."""

HUM_UNDER_DI_DB: Final = 50.0
"""Hum nearer to the DI than this will be heard through a driven amp, which brings up what is quiet by some
30 dB (common practice, no source)."""

LEAK_DB: Final = -40.0
"""What comes in with less than this of what was sent came by no cable: crosstalk of interfaces and looms
lies there (common practice, no source)."""


def difference_db(copy: CopyBack, *, trim_db: float, edit_db: float) -> float | None:
    """Return what the amp sees over what the guitar gave, dB; None where nothing came back.

    Parameters
    ----------
    copy
        What came back at the input that recorded the part, over what was sent.
    trim_db
        Gain of what was sent over the DI's file.
    edit_db
        Gain of the DI's file over what the guitar gave: its edit's, where that is known.

    Returns
    -------
    float | None
        More than 0: the amp sees too much.
    """
    if copy.gain_db is None or copy.gain_db < LEAK_DB:
        return None
    return copy.gain_db + trim_db + edit_db


def what_to_do(difference: float) -> str:
    """Return what to do about a difference in three or four words, such as ``box trim up 2.3 dB``."""
    if abs(difference) <= WITHIN_DB:
        return "right"
    way = "down" if difference > 0 else "up"
    return f"reamp box trim {way} {abs(difference):.1f} dB"


def findings_of_send_level(
    result: SendLevelResult, *, part: str, loudest_dbfs: float
) -> tuple[Finding, ...]:
    """Return what is to be said of a send level.

    Parameters
    ----------
    result
        What was measured.
    part
        The part's name.
    loudest_dbfs
        RMS of the stretch that was sent, as its file holds it.

    Returns
    -------
    tuple of Finding
        ``send-level-nothing`` and ``send-level-elsewhere`` weigh redo; everything else that is wrong look.
    """
    found = _absent(result) or [
        *_off(result),
        *_unsure(result, part=part),
        *(_of_the_path(result.copy, loudest_dbfs) if result.copy else ()),
    ]
    if result.edit is not None:
        found += findings_of_edit(result.edit, raw=result.raw)
    return (*found, *_trim(result, part=part))


def headline_of_send_level(result: SendLevelResult, *, part: str) -> str:
    """Return the figure and what to do about it, in one sentence."""
    if result.difference_db is None:
        absent = _absent(result)
        if absent:
            return absent[0].text.rstrip(".")
        return _told_by_volts(result.box) if result.box else f"{part}: no level could be told"
    if result.set_trim_db is not None:
        return f"{part}: digital trim set to {signed(result.set_trim_db, digits=1)} dB"
    doing = what_to_do(result.difference_db)
    if doing == "right":
        by = f"{signed(result.difference_db, digits=1)} dB"
        return f"the amp sees what the guitar gave, to {by}"
    return doing


def summary_of_send_level(result: SendLevelResult) -> str:
    """Return the figure in two or three words, such as ``+0.2 dB``."""
    if result.difference_db is not None:
        return f"{with_sign(result.difference_db, digits=1)} dB"
    if result.box is not None:
        return f"{with_sign(result.box.full_scale_dbu, digits=1)} dBu"
    return "nothing back"


# ------------------------------------------------------------------ the findings


def _absent(result: SendLevelResult) -> list[Finding]:
    if result.method == "voltmeter" or result.difference_db is not None:
        return []
    here, there = result.di_input, result.elsewhere_input
    if there is not None:
        text = f"The reamp box comes in on input {there}, not on input {here}."
        advice = (
            f"Put the cable into input {here}, or say that input {there} recorded the part"
            " (recorded: {input: …} in session.yaml)."
        )
        return [Finding(code="send-level-elsewhere", weight="redo", text=text, advice=advice)]
    silent = result.copy is not None and result.copy.reason == "digital silence"
    what = "holds digital silence" if silent else "hears nothing of what was sent"
    text = f"Input {here} {what}."
    advice = (
        f"Check the cable from the reamp box's output{f' ({result.cable})' if result.cable else ''} to"
        f" input {here}, the send into the box, the box's level, and that the input is not muted."
    )
    return [Finding(code="send-level-nothing", weight="redo", text=text, advice=advice)]


def _off(result: SendLevelResult) -> list[Finding]:
    by = result.difference_db
    if by is None or abs(by) <= WITHIN_DB or result.set_trim_db is not None:
        return []
    said = f"{abs(by):.1f} dB {'more' if by > 0 else 'less'}"
    if ONE_LEG_DB[0] <= by <= ONE_LEG_DB[1]:
        text = (
            f"The amp sees {said} than the guitar gave: one leg is dead, or a plug is unbalanced."
        )
        advice = (
            "Look at the cable between send and reamp box: three contacts at both ends (TRS or XLR)?"
            " If it is sound, the box's trim is simply that low: turn it up."
        )
        return [Finding(code="one-leg-dead", weight="look", text=text, advice=advice)]
    text = f"The amp sees {said} than the guitar gave."
    trim = f"{signed(result.trim_db - by, digits=1)} dB"
    advice = f"{what_to_do(by).capitalize()}, or set the part's digital trim to {trim}."
    return [Finding(code="send-level-off", weight="look", text=text, advice=advice)]


def _unsure(result: SendLevelResult, *, part: str) -> list[Finding]:
    if result.unmoved or result.difference_db is None:
        return []
    which = f"input {result.di_input}" if result.di_input else "the input"
    text = (
        f"Nobody confirmed that pad and gain of {which} stand as they did when {part} was recorded:"
        " the figure cannot be trusted."
    )
    advice = "If they do, measure again and say so; if not, set the level by voltmeter or by ear."
    return [Finding(code="send-level-unsure", weight="look", text=text, advice=advice)]


def _of_the_path(copy: CopyBack, loudest_dbfs: float) -> list[Finding]:
    """Return what the loop does besides its level."""
    found = []
    if copy.polarity == "inverted":
        text = "The loop turns the polarity: the amp sees the guitar upside down."
        advice = (
            "A box or a cable may do that on purpose; it matters beside an original or a live amp."
        )
        found.append(Finding(code="loop-inverted", weight="good", text=text, advice=advice))
    if copy.highs_db is not None and copy.highs_db <= HIGHS_LOST_DB:
        text = f"The loop takes {abs(copy.highs_db):.1f} dB off 5 to 10 kHz."
        advice = "A long or a microphone cable behind the box, or a load the box does not like?"
        found.append(Finding(code="loop-highs-lost", weight="look", text=text, advice=advice))
    if copy.hum_dbfs is not None and loudest_dbfs - copy.hum_dbfs < HUM_UNDER_DI_DB:
        under = loudest_dbfs - copy.hum_dbfs
        text = (
            f"Hum at {copy.hum_hz} Hz comes with the loop, {signed(copy.hum_dbfs)} dBFS:"
            f" {signed(under)} dB under the DI's loudest."
        )
        advice = "Use the ground lift of the reamp or DI box, never the mains safety earth."
        found.append(Finding(code="loop-hum", weight="look", text=text, advice=advice))
    return found


def _trim(result: SendLevelResult, *, part: str) -> list[Finding]:
    if result.set_trim_db is not None:
        new = signed(result.set_trim_db, digits=1)
        text = f"The digital trim of {part} is {new} dB now; it was {signed(result.trim_db, digits=1)} dB."
        return [Finding(code="trim-set", weight="good", text=text)]
    if result.trim_problem:
        return [Finding(code="trim-not-set", weight="look", text=result.trim_problem)]
    return []


def _told_by_volts(box: BoxLevel) -> str:
    return (
        f"the box gives {signed(box.full_scale_dbu, digits=1)} dBu for full scale,"
        f" {signed(box.peak_dbu, digits=1)} dBu for the DI's peak"
    )

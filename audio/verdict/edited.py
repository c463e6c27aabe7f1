"""What an edit did to the level of its DI: a pan law, a normalised file, or nothing."""

from __future__ import annotations

from typing import Final

from audio.vocab.findings import Finding
from audio.vocab.looped import EditGain
from audio.vocab.units import signed, with_sign

CONSTANT_DB: Final = 0.25
"""Notes that were all turned by the same gain agree to some hundredths of a dB; fades and overlaps at the
edits move single ones, so eight tenths of them must lie within this either way."""

LEVEL_AS_BEFORE_DB: Final = 0.1
"""A gain that is no larger changed nothing that anybody would call a level."""

PAN_LAWS_DB: Final = (2.5, 3.0, 4.5, 6.0)
"""What recorders take off or add at the centre of a stereo track (common practice, no source)."""

PAN_LAW_WITHIN_DB: Final = 0.1

NORMALISED_DBFS: Final = (0.0, -0.1, -0.2, -0.3, -0.5, -1.0, -2.0, -3.0)
"""Peaks that people normalise to (common practice, no source)."""

NORMALISED_WITHIN_DB: Final = 0.02
"""A normalised file peaks at its figure but for the rounding of its export; one that peaks there by chance
does so once in twenty or thirty."""


def constant_gain_db(edit: EditGain | None) -> float:
    """Return the gain of an edit over its raw DI where it is one for all notes, dB; 0 where it is not."""
    if edit is None or edit.gain_db is None or edit.spread_db is None:
        return 0.0
    if edit.spread_db > CONSTANT_DB or abs(edit.gain_db) <= LEVEL_AS_BEFORE_DB:
        return 0.0
    return edit.gain_db


def findings_of_edit(edit: EditGain, *, raw: str) -> list[Finding]:
    """Return what is to be said of an edit's level.

    Parameters
    ----------
    edit
        What was measured.
    raw
        What it was held against, such as ``revision 1``.

    Returns
    -------
    list of Finding
        ``edit-pan-law``, ``edit-normalised`` and ``edit-level``, look each; ``edit-not-found`` informs;
        empty where the level is the raw DI's, or differs from note to note.
    """
    if edit.reason == "not found":
        text = f"The edit was not found in {raw}: what it did to the level cannot be told."
        return [Finding(code="edit-not-found", weight="good", text=text)]
    gain = constant_gain_db(edit)
    if not gain:
        return []
    code, cause, advice = _cause(edit, gain)
    way = "louder" if gain > 0 else "quieter"
    spread = f"{edit.notes} notes, ± {edit.spread_db or 0.0:.1f} dB"
    text = f"The edit is {abs(gain):.1f} dB {way} than {raw} everywhere ({spread}): {cause}."
    return [Finding(code=code, weight="look", text=text, advice=advice)]


def _cause(edit: EditGain, gain: float) -> tuple[str, str, str]:
    by = with_sign(gain, digits=1)
    advice = f"Export it at the raw DI's level; the send level told here makes up for {by} dB."
    nearest = min(NORMALISED_DBFS, key=lambda peak: abs(edit.peak_dbfs - peak))
    if gain > 0 and abs(edit.peak_dbfs - nearest) <= NORMALISED_WITHIN_DB:
        peak = f"peak at {signed(edit.peak_dbfs, digits=1)} dBFS"
        return "edit-normalised", f"{peak}, normalised by {by} dB", advice
    law = min(PAN_LAWS_DB, key=lambda one: abs(abs(gain) - one))
    if abs(abs(gain) - law) <= PAN_LAW_WITHIN_DB:
        more = "Export the track as mono, or with a pan law of 0 dB. " + advice
        return "edit-pan-law", f"a pan law of {law:g} dB", more
    return "edit-level", "a fader or a gain", advice

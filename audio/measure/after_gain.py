"""How far under the notes something sits once a compressing or overdriven chain has raised it."""

from __future__ import annotations


def after_gain(under_notes_db: float, *, gain_db: float, headroom_db: float) -> float:
    """Return how far something lies under the notes behind a chain that limits.

    The chain is taken as a gain and a static hard limit: a level after it is the smaller of level + gain
    and the limit. Notes reach the limit first; what lies under them rises until it does. A compressor that
    recovers slowly, and an amp that squashes softly, raise it a little less; tone controls and the cabinet
    are left out (common practice, no source).

    Parameters
    ----------
    under_notes_db
        How far it lies under the notes in the DI, dB; below 0 where it is louder than they.
    gain_db
        Of the chain for small signals, dB.
    headroom_db
        How much gain the notes take before they reach the limit, dB; 0 or more.

    Returns
    -------
    float
        dB under the notes; 0 where both stand at the limit.
    """
    notes = min(gain_db, headroom_db)
    return notes - min(gain_db - under_notes_db, headroom_db)

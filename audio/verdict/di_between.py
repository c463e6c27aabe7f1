"""What is said of what sounds between a DI's phrases, and what gain makes of it."""

from __future__ import annotations

from audio.measure.after_gain import after_gain
from audio.verdict.readiness_thresholds import GAINS_DB, HEADROOM_DB, HEARD_UNDER_DB, STEADY_S
from audio.vocab.readiness import Between, DiFinding, DiMeasures
from audio.vocab.units import signed

_WHAT = {
    "hum": "Hum",
    "handling": "A knock or a thud",
    "slide": "A slide or scrape",
    "noise": "Noise",
}
_ADVICE = {
    "hum": "Mute it in the editor, with fades; against hum at the source lift the DI box's ground, never"
    " the mains safety earth.",
    "handling": "Mute it in the editor, with fades, if it is not part of the playing.",
    "slide": "Leave it if it belongs to the playing; else mute it in the editor, with fades.",
    "noise": "Mute it in the editor, with fades, or let a gate after the amp do it.",
}


def findings_of_between(measures: DiMeasures) -> list[DiFinding]:
    """Return what is to be said of what sounds where nobody plays.

    Parameters
    ----------
    measures
        Of the DI.

    Returns
    -------
    list of DiFinding
        ``hum-between``, ``handling-between``, ``slide-between`` and ``noise-between``: look where the least
        gain brings them near the notes and they last, else they inform.
    """
    return [_finding(one, measures.facts.sample_rate) for one in measures.between]


def _finding(one: Between, rate: int) -> DiFinding:
    under = [
        after_gain(one.under_notes_db, gain_db=gain, headroom_db=HEADROOM_DB) for gain in GAINS_DB
    ]
    hum = f" of {one.hum_hz} Hz" if one.hum_hz else ""
    return DiFinding(
        code=f"{one.kind}-between",
        weight="look" if under[0] <= HEARD_UNDER_DB and _lasts(one, rate) else "good",
        text=(
            f"{_WHAT[one.kind]}{hum} at {signed(one.level_dbfs, digits=0)} dBFS for"
            f" {one.frames / rate:.1f} s, {one.under_notes_db:.0f} dB under the notes; {_after(under)}."
        ),
        advice=_ADVICE[one.kind],
        at_s=one.frame / rate,
        frame=one.frame,
        size=one.under_notes_db,
        unit="dB",
        confidence=one.confidence,
    )


def _lasts(one: Between, rate: int) -> bool:
    return one.kind in ("handling", "slide") or one.frames >= STEADY_S * rate


def _after(under: list[float]) -> str:
    told = [f"{left:.0f} dB" if left >= 0.5 else "level with them" for left in under]
    return f"behind {GAINS_DB[0]:.0f} dB of gain {told[0]}, behind {GAINS_DB[1]:.0f} dB {told[1]}"

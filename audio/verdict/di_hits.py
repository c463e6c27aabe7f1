"""What is said of a DI's hits: how they sit as a whole, and how many are far off. Feel is no fault."""

from __future__ import annotations

from audio.grid.places import lateness
from audio.verdict.readiness_thresholds import OFF_TOLD_MS
from audio.verdict.words import counted
from audio.vocab.readiness import DiFinding, DiMeasures
from audio.vocab.timing import NoTiming, Timing


def findings_of_hits(
    measures: DiMeasures, timing: Timing | NoTiming, *, no_tempo: str = ""
) -> tuple[DiFinding, ...]:
    """Return what is to be said of the hits; it informs and never weighs.

    Parameters
    ----------
    measures
        Of the DI.
    timing
        Its hits against the grid.
    no_tempo
        Why the song's tempo file cannot be read; empty where it can, or there is none.

    Returns
    -------
    tuple of DiFinding
        ``tempo-unread``; ``hits-off``: those further off than `OFF_TOLD_MS`, with the worst.
    """
    if no_tempo:
        return (DiFinding(code="tempo-unread", weight="good", text=f"No grid: {no_tempo}."),)
    if isinstance(timing, NoTiming) or not timing.worst:
        return ()
    off = [one for one in timing.hits if not one.stray and abs(one.deviation_ms) >= OFF_TOLD_MS]
    if not off:
        return ()
    worst = timing.worst[0]
    many = counted(len(off), "hit lies", "hits lie")
    return (
        DiFinding(
            code="hits-off",
            weight="good",
            text=(
                f"{many} {OFF_TOLD_MS:.0f} ms or more off the grid; the furthest is {worst.place}:"
                f" {lateness(worst.deviation_ms)}."
            ),
            at_s=worst.at_s,
            frame=round(worst.at_s * measures.facts.sample_rate),
            place=worst.place,
            size=worst.deviation_ms,
            unit="ms",
        ),
    )

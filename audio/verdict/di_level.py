"""What is said of a DI's level: clipped, over full scale, very low, direct current."""

from __future__ import annotations

from audio.verdict.readiness_thresholds import (
    CLIPS_FEW,
    DC_TOLD,
    LOW_DBFS,
    OVER_DBFS,
    TRUE_PEAK_OVER_DBTP,
)
from audio.verdict.thresholds import DI_SILENT_DBFS
from audio.verdict.words import counted
from audio.vocab.readiness import DiFinding, DiMeasures
from audio.vocab.units import db_from_ratio, signed


def findings_of_level(measures: DiMeasures) -> list[DiFinding]:
    """Return what is to be said of the level.

    Parameters
    ----------
    measures
        Of the DI.

    Returns
    -------
    list of DiFinding
        ``clipped``, redo from the fourth run on, else look; ``flat-tops``, look; ``over-full-scale``,
        redo; ``between-samples``, ``very-low`` and ``dc``, look.
    """
    if measures.facts.loudest_dbfs <= DI_SILENT_DBFS:
        return []
    return [
        *_clipped(measures),
        *_flat(measures),
        *_over(measures),
        *_low(measures),
        *_dc(measures),
    ]


def _clipped(measures: DiMeasures) -> list[DiFinding]:
    level = measures.level
    if not level.clipped_runs:
        return []
    first = level.clipped[0]
    runs = counted(level.clipped_runs, "run of samples", "runs of samples")
    return [
        DiFinding(
            code="clipped",
            weight="redo" if level.clipped_runs > CLIPS_FEW else "look",
            text=f"Clipped: {runs} at full scale; the first lasts {first.frames} samples.",
            advice="If the raw DI is whole, export the edit without gain; a clipped take stays clipped.",
            at_s=first.at_frame / measures.facts.sample_rate,
            frame=first.at_frame,
            size=level.clipped_runs,
            unit="runs",
        )
    ]


def _flat(measures: DiMeasures) -> list[DiFinding]:
    tops, rate = measures.flat_tops, measures.facts.sample_rate
    if not tops or measures.level.clipped_runs:
        return []
    runs = counted(len(tops), "top is", "tops are")
    return [
        DiFinding(
            code="flat-tops",
            weight="look",
            text=f"{runs} cut off under full scale: clipped in the converter, and turned down since.",
            advice="A clipped take stays clipped; listen to it through the amp before the passes.",
            at_s=tops[0].at_frame / rate,
            frame=tops[0].at_frame,
            size=len(tops),
            unit="runs",
        )
    ]


def _over(measures: DiMeasures) -> list[DiFinding]:
    peak, between = measures.level.peak_dbfs, measures.level.true_peak_dbtp
    if peak > OVER_DBFS:
        text = f"The DI peaks {peak:.1f} dB over full scale; the converter would cut that off."
        advice = "Export it without gain, or turn it down."
        return [
            DiFinding(
                code="over-full-scale",
                weight="redo",
                text=text,
                advice=advice,
                size=peak,
                unit="dBFS",
            )
        ]
    if between > TRUE_PEAK_OVER_DBTP and not measures.level.clipped_runs:
        text = (
            f"Between its samples the DI peaks at +{between:.1f} dBTP; some converters clip there."
        )
        return [
            DiFinding(
                code="between-samples",
                weight="look",
                text=text,
                advice="Turn it down by that.",
                size=between,
                unit="dBTP",
            )
        ]
    return []


def _low(measures: DiMeasures) -> list[DiFinding]:
    peak = measures.level.peak_dbfs
    if peak >= LOW_DBFS:
        return []
    return [
        DiFinding(
            code="very-low",
            weight="look",
            text=f"Very low: the DI peaks at {signed(peak, digits=1)} dBFS; its noise comes up with it.",
            advice="See whether a fader, a pan law or a gain plug-in lay in the export.",
            size=peak,
            unit="dBFS",
        )
    ]


def _dc(measures: DiMeasures) -> list[DiFinding]:
    dc = measures.level.dc
    if abs(dc) < DC_TOLD:
        return []
    level = signed(db_from_ratio(abs(dc)), digits=1)
    return [
        DiFinding(
            code="dc",
            weight="look",
            text=f"Direct current at {level} dBFS: it clicks where the DI starts, stops and is joined.",
            advice="Take it out with a high-pass filter at 10 to 20 Hz before the edit.",
            size=dc,
            unit="of full scale",
        )
    ]

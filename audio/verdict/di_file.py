"""What is said of a DI's file: rate, depth, channels, time stamp, silence at its ends."""

from __future__ import annotations

from audio.verdict.readiness_thresholds import FEW_BITS, LONG_SILENCE_S
from audio.verdict.thresholds import DI_SILENT_DBFS
from audio.vocab.readiness import DiFinding, DiMeasures
from audio.vocab.units import signed
from audio.vocab.wiring import Wiring

_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}


def findings_of_file(measures: DiMeasures, *, wiring: Wiring | None) -> list[DiFinding]:
    """Return what is to be said of the file.

    Parameters
    ----------
    measures
        Of the DI.
    wiring
        What it will be sent through; None where it is not known.

    Returns
    -------
    list of DiFinding
        ``rate-differs`` and ``di-silent``, redo; ``few-bits``, ``channels-differ``, look; ``padded-bits``,
        ``channels-alike``, ``channel-silent``, ``no-time-stamp``, ``silence-at-start`` and
        ``silence-at-end`` inform.
    """
    if measures.facts.loudest_dbfs <= DI_SILENT_DBFS:
        return [*_rate(measures, wiring), _silent(measures)]
    return [
        *_rate(measures, wiring),
        *_depth(measures),
        *_channels(measures),
        *_stamp(measures),
        *_silence(measures),
    ]


def _silent(measures: DiMeasures) -> DiFinding:
    loudest = signed(measures.facts.loudest_dbfs, digits=1)
    return DiFinding(
        code="di-silent",
        weight="redo",
        text=f"The DI holds no playing: its loudest moment is {loudest} dBFS.",
        advice="Another channel of the file may be the DI; else export it again.",
        size=measures.facts.loudest_dbfs,
        unit="dBFS",
    )


def _rate(measures: DiMeasures, wiring: Wiring | None) -> list[DiFinding]:
    rate = measures.facts.sample_rate
    if wiring is None or wiring.sample_rate == rate:
        return []
    text = f"The DI is recorded at {rate} Hz and the wiring runs at {wiring.sample_rate} Hz."
    advice = "Set sample_rate in the wiring, or export the DI at that rate."
    return [
        DiFinding(
            code="rate-differs", weight="redo", text=text, advice=advice, size=rate, unit="Hz"
        )
    ]


def _depth(measures: DiMeasures) -> list[DiFinding]:
    bits, used = _BITS.get(measures.facts.encoding), measures.used_bits
    holds = min(bits or 0, used if used is not None else bits or 0)
    if bits is None or holds <= 0:
        return []
    if holds <= FEW_BITS:
        in_file = f" in a file of {bits}" if bits > holds else ""
        return [
            DiFinding(
                code="few-bits",
                weight="look",
                text=f"The DI has {holds} bits{in_file}; gain brings their steps up as a hiss.",
                advice="Export it with 24 bits, if it was recorded so.",
                size=holds,
                unit="bits",
            )
        ]
    if holds >= bits:
        return []
    text = f"The file has {bits} bits and uses {holds}."
    return [DiFinding(code="padded-bits", weight="good", text=text, size=holds, unit="bits")]


def _channels(measures: DiMeasures) -> list[DiFinding]:
    count, channel = measures.facts.channels, measures.facts.channel + 1
    match measures.others:
        case "none":
            return []
        case "alike":
            text = f"All {count} channels are the same; channel {channel} is sent."
            return [DiFinding(code="channels-alike", weight="good", text=text)]
        case "silent":
            text = f"Only channel {channel} of {count} holds anything; it is sent."
            return [DiFinding(code="channel-silent", weight="good", text=text)]
        case "different":
            return [
                DiFinding(
                    code="channels-differ",
                    weight="look",
                    text=f"The file has {count} channels that differ; channel {channel} is sent.",
                    advice="If another one is the DI, name it with --channel.",
                )
            ]


def _stamp(measures: DiMeasures) -> list[DiFinding]:
    if measures.facts.time_reference:
        return []
    return [
        DiFinding(
            code="no-time-stamp",
            weight="good",
            text="The file has no time stamp, or one of 0: what comes back is placed where the file is.",
            advice="Export a Broadcast Wave file to have every variant find its place by itself.",
        )
    ]


def _silence(measures: DiMeasures) -> list[DiFinding]:
    facts, found = measures.facts, []
    ends = (
        ("silence-at-start", "begins", 0, measures.start.silence_frames),
        (
            "silence-at-end",
            "ends",
            facts.frames - measures.end.silence_frames,
            measures.end.silence_frames,
        ),
    )
    for code, does, frame, frames in ends:
        seconds = frames / facts.sample_rate
        if seconds >= LONG_SILENCE_S:
            found.append(
                DiFinding(
                    code=code,
                    weight="good",
                    text=f"The DI {does} with {seconds:.1f} s of silence.",
                    at_s=frame / facts.sample_rate,
                    frame=frame,
                    size=seconds,
                    unit="s",
                )
            )
    return found

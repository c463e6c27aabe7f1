"""From what a pass left to its verdict and ``variant.json``: the same way for every pass.

A pass that was just played, one whose face died and one whose engine died all end here.
"""

from __future__ import annotations

from typing import Any

import msgspec

from audio.verdict.microphones import extra_delays, polarities
from audio.verdict.passes import judge
from audio.vocab.air import air_cm
from audio.vocab.alignment import Polarity
from audio.vocab.findings import worst
from audio.vocab.messages import Dropout, Ended, Recorded
from audio.vocab.order import Order
from audio.vocab.results import ClickReading, PassMeasures, ReturnMeasures
from audio.vocab.units import db_from_ratio, ms_from_frames
from audio.vocab.variant import Variant, VariantFile, VariantState


def make_variant(
    order: Order,
    ended: Ended,
    measures: PassMeasures,
    *,
    closing: tuple[ClickReading, ...],
    closing_witness: ClickReading | None,
    closing_loop: ClickReading | None,
    before: tuple[Variant, ...],
    state: VariantState,
) -> Variant:
    """Judge a pass and write down all that is known of it.

    Parameters
    ----------
    order
        What was ordered.
    ended
        How the roll ended.
    measures
        What the files say.
    closing
        What the returns heard of the closing click; empty when there was none.
    closing_witness
        What the witness heard of it; None when there was none.
    closing_loop
        What the loop heard of it; None when there was none.
    before
        Earlier variants of the part through the same chain, oldest first; later ones and those that were
        not played are left out, and those through other chains say nothing here.
    state
        ``kept``, ``stopped`` or ``recovered``.

    Returns
    -------
    Variant
        The content of ``variant.json``.
    """
    judged = judge(
        order,
        ended,
        measures,
        closing,
        closing_witness=closing_witness,
        closing_loop=closing_loop,
        before=tuple(v for v in before if v.number < order.number and v.joined is None),
    )
    findings = judged.findings
    d = order.delay_frames
    first = order.lead_in_frames + order.shift_frames
    return Variant(
        number=order.number,
        part=order.part,
        revision=order.revision,
        song=order.song,
        chain=order.chain,
        state=state,
        verdict=worst(findings),
        findings=findings,
        made_at=order.made_at,
        covers=order.covers,
        sample_rate=order.wiring.sample_rate,
        di=order.di,
        trim_db=order.trim_db,
        time_reference=order.time_reference,
        align_to=order.wiring.align_to,
        delay_frames=d,
        plus_minus_frames=order.plus_minus_frames,
        shift_frames=order.shift_frames,
        residual_frames=None if d is None else d - order.shift_frames,
        delay_source=order.delay_source,
        chain_adds_frames=order.chain_adds_frames,
        echo=order.opening_click[order.wiring.reference_at].echo if order.opening_click else None,
        proof=judged.proof,
        loop=measures.loop,
        witness=measures.witness,
        music=measures.music,
        dropouts=tuple(_from_first(dropout, first) for dropout in ended.dropouts),
        clock_ppm=ended.clock_ppm,
        setup=_setup(order),
        opening_click=order.opening_click,
        closing_click=closing,
        files=_files(order, ended, measures),
    )


def _from_first(dropout: Dropout, first: int) -> Dropout:
    return msgspec.structs.replace(dropout, at_frame=dropout.at_frame - first)


def _setup(order: Order) -> dict[str, Any]:
    return {
        "wiring": msgspec.to_builtins(order.wiring),
        "click_dbfs": order.train.level_dbfs if order.train else None,
        "steps": msgspec.to_builtins(order.setup),
    }


def _files(order: Order, ended: Ended, measures: PassMeasures) -> tuple[VariantFile, ...]:
    known = zip(polarities(order, measures), extra_delays(order), strict=True)
    return tuple(
        _file(
            order, ended.recorded[i], measures.returns[i], index=i, polarity=polarity, extra=extra
        )
        for i, (polarity, extra) in enumerate(known)
    )


def _file(
    order: Order,
    recorded: Recorded,
    measured: ReturnMeasures,
    *,
    index: int,
    polarity: Polarity,
    extra: float | None,
) -> VariantFile:
    one, rate = order.wiring.returns[index], order.wiring.sample_rate
    celsius = order.wiring.room_celsius
    click = order.opening_click[index] if order.opening_click else None
    return VariantFile(
        return_name=one.name,
        input=one.input,
        amp=one.amp,
        path=order.paths[index],
        frames=recorded.frames,
        audio_sha256=recorded.audio_sha256,
        peak_dbfs=db_from_ratio(recorded.peak[0]),
        clipped_runs=measured.clipped_runs,
        loudness_lufs=measured.loudness_lufs,
        polarity=polarity,
        extra_delay_frames=extra,
        extra_delay_ms=None if extra is None else ms_from_frames(extra, rate=rate),
        extra_air_cm=None if extra is None else air_cm(extra, rate=rate, celsius=celsius),
        noise_dbfs=click.noise_dbfs if click else None,
        hum_hz=click.hum_hz if click else None,
        hum_dbfs=click.hum_dbfs if click else None,
        rest_noise_dbfs=measured.rest_noise_dbfs,
        rest_hum_dbfs=measured.rest_hum_dbfs,
    )

"""Variants that never were, with every kind of evidence, and with none: for what draws it."""

from __future__ import annotations

import math

import msgspec
from invented import DI_FRAMES, RATE, Names, reading, variant

from audio.vocab.alignment import Alignment, Place, Slip
from audio.vocab.results import ClickReading
from audio.vocab.variant import Variant, VariantFile

PLACES = 48


def changed(one: Variant, **fields: object) -> Variant:
    """Return a variant of which some is otherwise."""
    return msgspec.structs.replace(one, **fields)


def shape(*, later_ms: float = 0.0, sign: int = 1, hz: float = 1800.0) -> tuple[int, ...]:
    """Return a click as a cabinet might bring it back: nothing, then a wave that dies away."""
    times = (at / 32 - 1.0 - later_ms for at in range(128))
    values = [
        0.0
        if ms <= 0
        else sign * math.exp(-ms / 0.5) * math.sin(math.tau * hz / 1000 * ms) * min(ms / 0.1, 1.0)
        for ms in times
    ]
    top = max(abs(one) for one in values)
    return tuple(round(127 * one / top) for one in values)


def click(
    frames: float | None, *, drawn: tuple[int, ...] = (), reason: str | None = None
) -> ClickReading:
    arrivals = () if frames is None else tuple(frames + 0.05 * (i % 3 - 1) for i in range(8))
    return msgspec.structs.replace(
        reading(frames, reason=reason),
        arrivals=arrivals,
        spread_frames=None if frames is None else 0.04,
        shape=drawn,
    )


def along(
    delay: float, *, wobble: float = 0.0, slips: tuple[Slip, ...] = (), ppm: float = 0.0
) -> Alignment:
    """Return a recording compared with what was played, a place every so often."""
    places = []
    for i in range(PLACES):
        at = (2 * i + 1) * DI_FRAMES // (2 * PLACES)
        moved = sum(one.frames for one in slips if one.at_frame <= at)
        off = wobble * math.sin(2.3 * i) + ppm * 1e-6 * at
        places.append(Place(at_frame=at, delay_frames=delay + moved + off, plus_minus_frames=0.02))
    return Alignment(
        delay_frames=delay,
        plus_minus_frames=0.02 + wobble,
        polarity="normal",
        confidence=1.0,
        drift_ppm=ppm,
        drift_plus_minus_ppm=0.05,
        slips=slips,
        places=tuple(places),
    )


REFUSED = Alignment(
    delay_frames=None, reason="no attack stands clear: swell or wet only; place it by ear."
)

LOST = Slip(at_frame=12 * RATE, within_frames=64, frames=-64)


def full(number: int = 2, *, names: Names | None = None) -> Variant:
    """Return a pass of which everything is known and all is well."""
    one = variant(names or Names(), number)
    near, far = shape(), shape(hz=900.0, sign=-1)
    return msgspec.structs.replace(
        one,
        proof="loop",
        loop=along(-51.0, wobble=0.004),
        music=along(0.4, wobble=0.45),
        setup={"wiring": {"reference": one.files[0].return_name}, "click_dbfs": -34.0},
        opening_click=(click(702.37, drawn=near), click(1004.12, drawn=far)),
        closing_click=(click(702.39, drawn=near), click(1004.1, drawn=far)),
        files=(
            _told(one.files[0], extra=0.0, rests=-83.5, turned=False),
            _told(one.files[1], extra=301.75, rests=-79.2, turned=True),
        ),
    )


def _told(file: VariantFile, *, extra: float, rests: float, turned: bool) -> VariantFile:
    return msgspec.structs.replace(
        file,
        extra_delay_frames=extra,
        extra_delay_ms=1000 * extra / RATE,
        extra_air_cm=34320 * extra / RATE,
        rest_noise_dbfs=rests,
        rest_hum_dbfs=-90.8,
        polarity="inverted" if turned else "normal",
    )


def slipped() -> Variant:
    """Return a pass that lost frames on the way: loop, clicks and music say so."""
    one = full()
    late = (click(638.4, drawn=shape()), click(940.1, drawn=shape(hz=900.0, sign=-1)))
    return msgspec.structs.replace(
        one,
        verdict="redo",
        findings=variant(Names(), 2, redo=True).findings,
        loop=along(-51.0, slips=(LOST,)),
        music=along(0.4, wobble=0.45, slips=(msgspec.structs.replace(LOST, within_frames=RATE),)),
        closing_click=late,
    )


def bare() -> Variant:
    """Return a pass of which nothing is known."""
    one = variant(Names(), 1)
    files = tuple(
        msgspec.structs.replace(
            file, noise_dbfs=None, hum_hz=None, hum_dbfs=None, loudness_lufs=None, polarity="unsure"
        )
        for file in one.files
    )
    return msgspec.structs.replace(
        one,
        delay_frames=None,
        plus_minus_frames=None,
        residual_frames=None,
        chain_adds_frames=None,
        clock_ppm=None,
        opening_click=(),
        closing_click=(),
        files=files,
    )

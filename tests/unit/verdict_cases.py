"""Healthy readings, orders and measures that the verdict's tests spoil one fact at a time."""

from __future__ import annotations

from typing import Any

import msgspec
from msgspec.structs import replace

from audio.verdict.clicks import Heard
from audio.verdict.passes import judge
from audio.vocab.alignment import Alignment, Slip
from audio.vocab.findings import Finding, worst
from audio.vocab.messages import Ended
from audio.vocab.order import Order
from audio.vocab.results import ClickReading, ClickTrain, PassMeasures, ReturnMeasures
from audio.vocab.variant import ChainAsSet, DiUsed, Variant, VariantFile
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

RATE = 48_000
WINDOW = 2400
NOISE_DBFS = -80.0
LOUD_DBFS = -20.0

WIRING = Wiring(
    name="tracking room",
    device=PortAudioDevice(host="JACK Audio Connection Kit", name="reamp-room"),
    sample_rate=RATE,
    send_output=3,
    returns=(Return(name="close", input=2), Return(name="room", input=3)),
    reference="close",
    witness_input=5,
    block_frames=512,
)

CLICK = ClickReading(
    delay_frames=1131.4,
    plus_minus_frames=2.5,  # a cabinet's share in it is the same in every reading
    peak_delay_frames=1134.4,
    peak_plus_minus_frames=0.02,
    spread_frames=0.02,
    snr_db=46.0,
    polarity="normal",
    noise_dbfs=NOISE_DBFS,
    peak_dbfs=-34.0,
)
SILENT = ClickReading(delay_frames=None, noise_dbfs=NOISE_DBFS, peak_dbfs=-70.0, reason="nothing")


def click(**changes: Any) -> ClickReading:
    """Return the click, changed; its peak stays as far behind its arrival as it was."""
    arrives = changes.get("delay_frames", CLICK.delay_frames)
    peak = None if arrives is None else arrives + 3.0
    return replace(CLICK, **({"peak_delay_frames": peak} | changes))


def unheard(reason: str, **changes: Any) -> ClickReading:
    return replace(SILENT, reason=reason, **changes)


def heard(level_dbfs: float = -12.0, **readings: ClickReading) -> Heard:
    """Inputs by the names ``close``, ``room``, ``witness`` and ``in7``, healthy where not given."""
    by_input = {
        2: readings.pop("close", CLICK),
        3: readings.pop("room", click(delay_frames=1350.2)),
        5: readings.pop("witness", click(delay_frames=1120.0)),
    }
    by_input |= {int(name.removeprefix("in")): reading for name, reading in readings.items()}
    return Heard(wiring=WIRING, readings=by_input, level_dbfs=level_dbfs, ceiling_dbfs=-12.0)


def order(*, seconds: float = 60.0, **changes: Any) -> Order:
    frames = round(seconds * RATE)
    made = Order(
        number=7,
        part="rhythm-left",
        revision=1,
        song="harbour lights",
        chain=ChainAsSet(name="crunch"),
        made_at="2026-11-25T09:00:00+01:00",
        wiring=WIRING,
        di=DiUsed(
            path="di/rhythm-left.r1.wav",
            channel=1,
            file_sha256="0" * 64,
            frames=frames,
            peak_dbfs=-9.0,
        ),
        di_loudest_dbfs=LOUD_DBFS,
        trim_db=0.0,
        time_reference=0,
        lead_in_frames=24_000,
        shift_frames=1131,
        delay_frames=1131.4,
        plus_minus_frames=0.02,
        delay_source="opening click",
        chain_adds_frames=None,
        train=ClickTrain(
            sample_rate=RATE,
            level_dbfs=-12.0,
            positions=(10_000,),
            signs=(1,),
            frames=90_000,
            quiet_frames=9_000,
        ),
        opening_click=(CLICK, click(delay_frames=1350.2)),
        witness_click=click(delay_frames=1120.0),
        paths=("a.wav", "b.wav"),
    )
    return replace(made, **changes)


def ended(one: Order | None = None, **changes: Any) -> Ended:
    frames = (one or order()).di.frames
    done = Ended(roll_id=1, reason="quiet", stream_frame=0, frames=frames + 25_131)
    return replace(done, **changes)


def recorded(levels: list[float], **changes: Any) -> ReturnMeasures:
    made = ReturnMeasures(
        path="a.wav",
        frames=len(levels) * WINDOW,
        peak_dbfs=-10.0,
        clipped_runs=0,
        first_clipped=(),
        loudness_lufs=-20.0,
        levels_dbfs=tuple(levels),
    )
    return replace(made, **changes)


def measures(
    *, seconds: float = 60.0, close: list[float] | None = None, room: list[float] | None = None
) -> PassMeasures:
    """Measures of loud playing all through; returns answer it all through unless levels are given."""
    windows = round(seconds * RATE / WINDOW)
    loud = [LOUD_DBFS] * windows
    return PassMeasures(
        window_frames=WINDOW,
        di_levels_dbfs=tuple(loud),
        returns=(recorded(close or loud), recorded(room or loud)),
    )


def dead_from(at_s: float, *, seconds: float = 60.0) -> list[float]:
    windows, alive = round(seconds * RATE / WINDOW), round(at_s * RATE / WINDOW)
    return [LOUD_DBFS] * alive + [NOISE_DBFS] * (windows - alive)


CLOSING = order().opening_click
WITNESS = order().witness_click


def verdict(
    *,
    of: Any = None,
    end: Any = None,
    files: PassMeasures | None = None,
    closing: Any = CLOSING,
    witness: Any = WITNESS,
    loop: Any = None,
    before: tuple[Variant, ...] = (),
) -> tuple[Finding, ...]:
    """The findings of a pass that is healthy but for what is given."""
    judged = judge(
        of or order(),
        end or ended(),
        files or measures(),
        closing,
        closing_witness=witness,
        closing_loop=loop,
        before=before,
    )
    return judged.findings


def the(code: str, findings: tuple[Finding, ...]) -> Finding:
    return next(f for f in findings if f.code == code)


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [f.code for f in findings]


def weigh(findings: tuple[Finding, ...]) -> int:
    return ("good", "look", "redo").index(worst(findings))


def later(frames: float, **changes: Any) -> tuple[Any, ...]:
    return tuple(
        replace(
            r,
            delay_frames=(r.delay_frames or 0.0) + frames,
            peak_delay_frames=(r.peak_delay_frames or 0.0) + frames,
            **changes,
        )
        for r in CLOSING
    )


def aligned(**changes: Any) -> Alignment:
    """A recording that lies where the pass was placed, all through."""
    made = Alignment(
        delay_frames=0.4,
        plus_minus_frames=0.05,
        polarity="normal",
        confidence=0.99,
        drift_ppm=0.0,
        drift_plus_minus_ppm=0.01,
    )
    return replace(made, **changes)


def slip(frames: int, *, at_s: float = 12.0, within: int = 512) -> Slip:
    return Slip(at_frame=round(at_s * RATE), within_frames=within, frames=frames)


def earlier(number: int = 6, **changes: Any) -> Variant:
    """A variant of the same part, chain, DI, trim and wiring; file facts under ``close`` and ``room``."""
    one = order()
    close, room = changes.pop("close", {}), changes.pop("room", {})
    made = Variant(
        number=number,
        part=one.part,
        revision=one.revision,
        song=one.song,
        chain=one.chain,
        state="kept",
        verdict="good",
        findings=(),
        made_at=one.made_at,
        sample_rate=RATE,
        di=one.di,
        trim_db=one.trim_db,
        time_reference=0,
        align_to="di",
        delay_frames=1131.4,
        plus_minus_frames=0.02,
        shift_frames=1131,
        residual_frames=0.4,
        delay_source="opening click",
        chain_adds_frames=None,
        dropouts=(),
        clock_ppm=None,
        setup={"wiring": msgspec.to_builtins(WIRING), "click_dbfs": -12.0},
        opening_click=one.opening_click,
        closing_click=CLOSING,
        files=(_file("close", 2, close), _file("room", 3, room)),
    )
    return replace(made, **changes)


def _file(name: str, number: int, changes: dict[str, Any]) -> VariantFile:
    made = VariantFile(
        return_name=name,
        input=number,
        path=f"{name}.wav",
        frames=60 * RATE,
        audio_sha256="0" * 64,
        peak_dbfs=-10.0,
        clipped_runs=0,
        loudness_lufs=-20.0,
        polarity="normal",
        extra_delay_frames=0.0,
        noise_dbfs=NOISE_DBFS,
        hum_hz=None,
        hum_dbfs=None,
    )
    return replace(made, **changes)

"""The reamp box by voltmeter: a quiet sine to read, and what the reading says."""

from __future__ import annotations

import tempfile
from pathlib import Path

from audio.jobs.deck import StoppedError
from audio.jobs.rolls import made_source, refuse_broken
from audio.jobs.setting.ground import Ground
from audio.vocab.errors import UseError
from audio.vocab.setup import BoxLevel
from audio.vocab.units import signed
from audio.vocab.volts import dbu_from_volts

SINE_HZ = 100.0
"""Every multimeter reads it right; many fall off above 400 Hz (common practice, no source)."""

SINE_DBFS = -20.0
"""Peak; some hundredths of a volt behind most boxes: readable, and far from hot."""

SINE_S = 120.0

VOLTS = (0.0001, 50.0)
"""Range of what a voltmeter can have read there."""


def read_volts(
    ground: Ground,
    *,
    volts: float | None,
    peak_dbfs: float,
    send_full_scale_dbu: float | None,
) -> BoxLevel:
    """Return what the typed reading says; without one, play the sine to be read.

    Parameters
    ----------
    ground
        Where the sine plays.
    volts
        What the voltmeter read, RMS; None: nothing yet.
    peak_dbfs
        The DI's peak as it is sent.
    send_full_scale_dbu
        Level of a full-scale sine at the send, where it is known.

    Returns
    -------
    BoxLevel
        Levels of the box's output.

    Raises
    ------
    UseError
        If no voltmeter reads that, or the sine played to its end and nothing was typed.
    StoppedError
        If the sine was stopped: there is something to type now.
    """
    if volts is None:
        _play_sine(ground)
        raise UseError("the sine is over; say what the voltmeter read (--volts 0.062)")
    low, high = VOLTS
    if not low <= volts <= high:
        raise UseError(
            f"{volts:g} V cannot be what the box gives for this sine; type volts RMS, {low:g} to {high:g}"
        )
    full_scale = dbu_from_volts(volts) - SINE_DBFS
    return BoxLevel(
        volts=volts,
        sine_dbfs=SINE_DBFS,
        full_scale_dbu=full_scale,
        peak_dbu=full_scale + peak_dbfs,
        loss_db=None if send_full_scale_dbu is None else send_full_scale_dbu - full_scale,
    )


def _play_sine(ground: Ground) -> None:
    deck = ground.deck
    ground.show(
        "send level",
        f"a sine of {SINE_HZ:.0f} Hz plays at {signed(SINE_DBFS)} dBFS, amp on standby: read the AC volts"
        " across the loaded output of the reamp box, then stop and type them",
    )
    with tempfile.TemporaryDirectory(prefix="secondpass-sine-") as scratch:
        path = Path(scratch) / "sine.wav"
        rate = deck.opened.sample_rate
        deck.worker.make_tone(
            path, sample_rate=rate, hz=SINE_HZ, level_dbfs=SINE_DBFS, seconds=SINE_S
        )
        sine = made_source(path, deck.wiring, limit_dbfs=SINE_DBFS)
        ended = deck.play(what="set", length_frames=round(SINE_S * rate), sources=(sine,))
    refuse_broken(ended, fault=deck.fault, what="the sine")
    if ended.reason == "stopped":
        raise StoppedError

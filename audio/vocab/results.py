"""What was measured: frozen values that cross the worker's pipe and end in ``variant.json``.

A failure to measure is a value too: the figure is None and a reason stands beside it.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.alignment import Alignment, Polarity, Together


class AudioFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What a sound file is, and how loud one of its channels is."""

    path: str
    container: str
    """``WAV``, ``RF64``, ``AIFF`` or ``FLAC``."""
    encoding: str
    """As libsndfile names it: ``PCM_24``, ``FLOAT`` ..."""
    sample_rate: int
    channels: int
    frames: int
    time_reference: int
    """``bext`` TimeReference, 0 when the file has none."""
    file_sha256: str
    channel: int
    """Channel the levels are of, from 0."""
    peak_dbfs: float
    loudest_dbfs: float
    """Largest RMS of any 50 ms."""


class SoundHead(msgspec.Struct, frozen=True, kw_only=True):
    """What a sound file says of itself, without a look at what it holds."""

    path: str
    sample_rate: int = 0
    channels: int = 0
    frames: int = 0
    time_reference: int = 0
    """``bext`` TimeReference, 0 when the file has none."""
    problem: str = ""
    """Why it cannot be played, one sentence; everything else is 0 then."""


class ClickTrain(msgspec.Struct, frozen=True, kw_only=True):
    """A test click as it was written to a file: everything needed to find it again."""

    sample_rate: int
    level_dbfs: float
    """Peak of each click."""
    positions: tuple[int, ...]
    """File frame of each click's centre."""
    signs: tuple[int, ...]
    """+1 or −1 for each click."""
    frames: int
    """Length of the file; the rest after the last click waits for the latest arrival."""
    quiet_frames: int
    """Frames of silence before the first click begins: where noise is measured."""


class Echo(msgspec.Struct, frozen=True, kw_only=True):
    """How a chain repeats, by its opening click."""

    repeat_ms: float
    plus_minus_ms: float
    level_db: float
    """Of the first repeat against what it repeats."""


class ClickReading(msgspec.Struct, frozen=True, kw_only=True):
    """What one input heard of a click train."""

    delay_frames: float | None
    """From a click's centre at the output to its arrival; None when `reason` is set."""
    plus_minus_frames: float | None = None
    """Half width of the 95 % interval of `delay_frames`."""
    peak_delay_frames: float | None = None
    """The same to the correlation's peak, which comes late by what the path itself smears; what two
    readings of one path are compared by, for the smear is alike in both and cancels."""
    peak_plus_minus_frames: float | None = None
    """Half width of the 95 % interval of `peak_delay_frames`: noise and movement only."""
    spread_frames: float | None = None
    """Standard deviation of the single clicks' delays."""
    snr_db: float | None = None
    """20·log10 of the click's peak over the noise's RMS, at the converter, full band."""
    polarity: Polarity = "unsure"
    arrivals: tuple[float | None, ...] = ()
    """Delay of each single click, frames; None where it was not found."""
    repeats_frames: float | None = None
    """Distance after which the click comes again at like strength, where it does: an echo, or a loop."""
    echo: Echo | None = None
    """How it repeats, by all eight clicks; None where nothing repeats clearly, or nobody asked."""
    noise_dbfs: float
    """RMS before the first click, full band."""
    peak_dbfs: float
    """Largest sample while clicks were due."""
    hum_hz: Literal[50, 60] | None = None
    """Mains frequency whose lines stand out of the noise."""
    hum_dbfs: float | None = None
    """RMS of the mains frequency and its first harmonics together."""
    shape: tuple[int, ...] = ()
    """The averaged click as it came back, to be drawn: 128 values from 1 ms before the arrival on, 1/32 ms
    apart, in steps of 1/127 of its own largest; empty where it was not found."""
    reason: Literal["nothing", "digital silence", "only hum", "unclear", "clipped"] | None = None
    """Why there is no delay: nothing clear of the noise; all samples zero; hum covers it; found but
    the clicks contradict each other; the converter clipped."""


class ClippedRun(msgspec.Struct, frozen=True, kw_only=True):
    """Samples in a row at the converter's full scale."""

    at_frame: int
    frames: int


class ReturnMeasures(msgspec.Struct, frozen=True, kw_only=True):
    """What one recorded return is."""

    path: str
    frames: int
    peak_dbfs: float
    clipped_runs: int
    """How many runs of three or more samples at full scale."""
    first_clipped: tuple[ClippedRun, ...]
    """The first 100 of them."""
    loudness_lufs: float | None
    """Integrated, ITU-R BS.1770, as one loudspeaker; None when it never rises over the gate."""
    levels_dbfs: tuple[float, ...]
    """RMS of each `PassMeasures.window_frames`, in order."""
    rest_noise_dbfs: float | None = None
    """RMS where the DI rests and what rang has died away, full band; None where it never rests."""
    rest_hum_hz: Literal[50, 60] | None = None
    rest_hum_dbfs: float | None = None
    """RMS of the mains lines there, where they stand out."""
    copy_share: float | None = None
    """Share of the return's power, noise taken off, that one plain copy of the DI explains: no amp, no
    loudspeaker between; 0 to 1, None where nothing came back."""
    copy_gain_db: float | None = None
    """Gain of that copy over what was sent."""
    together: Together | None = None
    """Against the reference return; None for the reference itself."""


class PassMeasures(msgspec.Struct, frozen=True, kw_only=True):
    """What a pass's files say, the DI beside them on the same windows."""

    window_frames: int
    di_levels_dbfs: tuple[float, ...]
    returns: tuple[ReturnMeasures, ...]
    loop: Alignment | None = None
    """The loop cable's recording against the DI as sent; its frame 0 is the DI's in the files."""
    witness: Alignment | None = None
    """The same of the witness."""
    music: Alignment | None = None
    """The same of the reference return, by its attacks."""


class Repaired(msgspec.Struct, frozen=True, kw_only=True):
    """A capture whose writer died, made readable again."""

    path: str
    frames: int
    audio_sha256: str
    peak: float
    """Largest absolute sample, linear."""
    clipped_samples: int


class OutlineLevel(msgspec.Struct, frozen=True, kw_only=True):
    """The lowest and the highest sample of every so many frames of a channel.

    Both are arrays of signed 16-bit integers in this machine's byte order, one for each stretch, full
    scale 2**15.
    """

    bin_frames: int
    """Frames of a stretch; the last one may be shorter."""
    lows: bytes
    highs: bytes


class Outlines(msgspec.Struct, frozen=True, kw_only=True):
    """The outline of one channel at several resolutions: what a waveform is drawn from.

    For the eye only: a sample is rounded outwards to one of 2**16 steps, so that whatever is not silent
    is drawn; a float beyond full scale stands at full scale, one that is no number at 0.
    """

    path: str
    channel: int
    """From 0."""
    sample_rate: int
    frames: int
    levels: tuple[OutlineLevel, ...]
    """The finest first, each the next one's quarter in `OutlineLevel.bin_frames`."""

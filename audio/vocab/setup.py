"""Set-up: the steps before a pass, what each is asked for, what it shows while it runs, what it leaves.

A record is evidence: written once, numbered, never changed. Which one holds now is `audio.plan.setup`'s to
say.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.alignment import Polarity
from audio.vocab.bursts import BurstReading
from audio.vocab.delay import Delay
from audio.vocab.findings import Finding, Verdict
from audio.vocab.levels import NoiseFloor
from audio.vocab.likeness import Moved, SoundsCompared
from audio.vocab.looped import CopyBack, CycleLevels, EditGain, Stretch
from audio.vocab.step_names import StepName
from audio.vocab.units import signed
from audio.vocab.wiring import Wiring

# ------------------------------------------------------------------ what is asked for


class Ask(msgspec.Struct, frozen=True, tag_field="step", tag=True, kw_only=True):
    """Base of what can be asked for."""


class AskWire(Ask, frozen=True, kw_only=True, tag="wire"):
    """Which inputs hear the send, by a tone; then a steady tone while the monitor knob is turned."""

    seconds: float = 4.0
    """Length of the steady tone, which a stop ends; 3 at least, or 0: none."""


PatchState = Literal["as it is", "unplugged", "plugged", "lifted"]
"""How the cable into the amp's input is: nothing said of it; out of the amp; in it; in it, with the ground
lift of the reamp box pressed."""


class AskSilence(Ask, frozen=True, kw_only=True, tag="silence"):
    """The noise of each return while nothing is sent."""

    patch: PatchState = "as it is"
    seconds: float = 4.0
    """How long it listens, which a stop ends; 1 at least."""


class AskPolarity(Ask, frozen=True, kw_only=True, tag="polarity"):
    """Which microphones come back upside down, and how far they stand."""


class AskDelay(Ask, frozen=True, kw_only=True, tag="delay"):
    """The round trip, by test click."""

    patched_input: int | None = None
    """Input, from 1, to which a cable was put from the send for this one measurement: then it is the
    converters' own delay. None: through the amp."""


class AskSendLevel(Ask, frozen=True, kw_only=True, tag="send level"):
    """Whether the amp sees what the guitar gave it, for one part."""

    part: str
    method: Literal["loop", "voltmeter"] = "loop"
    """``loop``: the reamp box's output is put back into the input that recorded the part, and the DI's
    loudest stretch goes round; ``voltmeter``: a sine is measured at the loaded box."""
    di_input: int | None = None
    """Input that recorded the part, from 1; as `session.yaml` says where it is left out."""
    cable: str = ""
    """What was put between the box and that input, in words."""
    unmoved: bool = False
    """Whether somebody says that pad and gain of that input stand as they did then."""
    cycles: int | None = 3
    """How many times the stretch goes round; None: until it is stopped."""
    volts: float | None = None
    """What the voltmeter read, RMS; None: the sine plays, to be read."""
    full_scale_dbu: float | None = None
    """Level of a full-scale sine at the send, where the wiring does not say."""
    raw: str | None = None
    """File of the raw DI, to tell what the edit did to its level; revision 1 where it is left out."""
    apply_trim: bool = False
    """Whether the part's trim shall make up the difference."""


class AskReturnGain(Ask, frozen=True, kw_only=True, tag="return gain"):
    """How loud the returns come in where the part is loudest."""

    part: str
    low_dbfs: float = -18.0
    high_dbfs: float = -8.0
    """Window of the peaks, both ends included."""
    cycles: int | None = 2
    """How many times the stretch goes round; None: until it is stopped."""
    dba: float | None = None
    """Level at the ears as somebody read it off a sound level meter."""


class AskKeepSound(Ask, frozen=True, kw_only=True, tag="keep sound"):
    """A sound to be found again: a phrase of a part through what is set up now, recorded twice."""

    name: str
    part: str
    from_s: float | None = None
    """Where in the DI the phrase begins, seconds; None: where it is loudest."""
    notes: str = ""


class AskSound(Ask, frozen=True, kw_only=True, tag="sound"):
    """Whether it is the sound that was kept, and if not, what moved."""

    name: str
    cycles: int | None = 1
    """How often the phrase plays; None: until it is stopped."""


Asked = (
    AskWire
    | AskSilence
    | AskSendLevel
    | AskReturnGain
    | AskPolarity
    | AskDelay
    | AskKeepSound
    | AskSound
)


# ------------------------------------------------------------------ what is shown


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One figure of a step, while it runs and when it is done."""

    name: str
    """What it is of, such as a return's name."""
    value: float | None
    """None while nothing is known."""
    unit: str
    """As it is shown: ``dBFS``, ``dB``, ``frames``, ``cm``, ``V`` ..."""
    digits: int = 1
    """Behind the point."""
    low: float | None = None
    high: float | None = None
    """Ends of the target, both included; None where there is no such end."""
    word: str = ""
    """What it means or what to do, in three or four words: ``preamp down 5 dB``."""
    bands_db: tuple[float | None, ...] = ()
    """Differences of third-octave bands behind the figure, low to high, to be drawn; None where unknown."""
    latched: bool = False
    """Something happened that stays until the step begins anew, such as a clip."""

    @property
    def figure(self) -> str:
        """The figure with its unit, a true minus sign, and a dash where nothing is known."""
        shown = "−" if self.value is None else signed(self.value, digits=self.digits)
        return f"{shown} {self.unit}"

    @property
    def is_inside(self) -> bool:
        """Whether the figure is known and in its target."""
        if self.value is None or self.latched:
            return False
        return (self.low is None or self.value >= self.low) and (
            self.high is None or self.value <= self.high
        )


class Live(msgspec.Struct, frozen=True, kw_only=True):
    """What a step shows while it runs."""

    step: StepName
    say: str
    """What to do now, one sentence."""
    rows: tuple[Row, ...] = ()


# ------------------------------------------------------------------ what is left


class Result(msgspec.Struct, frozen=True, tag_field="step", tag=True, kw_only=True):
    """Base of what a step measured."""


class ToneHeard(msgspec.Struct, frozen=True, kw_only=True):
    """What one input heard of the bursts."""

    input: int
    """From 1."""
    name: str
    """Of the return, ``witness``, ``loop``; empty where the wiring does not name the input."""
    reading: BurstReading


class WireResult(Result, frozen=True, kw_only=True, tag="wire"):
    """Which inputs heard the send."""

    tone_dbfs: float
    """Peak of the bursts that were judged."""
    inputs: tuple[ToneHeard, ...]
    """Every input of the stream, in order."""
    witness_moved_db: float | None
    """From its lowest to its highest while the steady tone sounded; None where that was not watched."""


class Noise(msgspec.Struct, frozen=True, kw_only=True):
    """The noise of one return."""

    name: str
    input: int
    """From 1."""
    floor: NoiseFloor


class SilenceResult(Result, frozen=True, kw_only=True, tag="silence"):
    """The noise of the returns while nothing was sent."""

    patch: PatchState
    seconds: float
    """Of listening."""
    returns: tuple[Noise, ...]
    """In the wiring's order."""


class Stands(msgspec.Struct, frozen=True, kw_only=True):
    """Where one microphone stands, by the click."""

    name: str
    input: int
    """From 1."""
    amp: str = ""
    """Name of the amp it stands at; empty where it has none."""
    polarity: Polarity
    after_reference_cm: float | None
    """Further away than the reference of its amp, as a way through air; less than 0: nearer. None where
    either was not heard."""
    plus_minus_cm: float | None = None
    """Half width of the 95 % interval."""
    from_speaker_cm: float | None = None
    """The whole way through air; known where a loop cable tells the converters' own delay."""


class PolarityResult(Result, frozen=True, kw_only=True, tag="polarity"):
    """What the click says of the microphones against each other."""

    returns: tuple[Stands, ...]
    """Amp by amp, the nearest first."""


class DelayResult(Result, frozen=True, kw_only=True, tag="delay"):
    """The round trip of this opening of the stream."""

    delay: Delay
    cable_frames: float | None
    """Round trip through the loop cable, or the one patched for the measurement; None without one."""
    cable_plus_minus_frames: float | None
    patched: bool
    """Whether the cable was patched for this measurement alone."""
    opening: str
    """When the stream was opened, local time with offset, ISO 8601: what tells openings apart."""


class BoxLevel(msgspec.Struct, frozen=True, kw_only=True):
    """What a voltmeter at the loaded reamp box says; levels of sines, RMS."""

    volts: float
    sine_dbfs: float
    """Peak of the sine that was measured, as it was sent."""
    full_scale_dbu: float
    """What the box gives for a full-scale sine."""
    peak_dbu: float
    """What it gives for a sine as high as the DI's peak, trim included."""
    loss_db: float | None = None
    """From the send to the box's output; None where the send's full scale is not known."""


class SendLevelResult(Result, frozen=True, kw_only=True, tag="send level"):
    """What the amp sees against what the guitar gave."""

    method: Literal["loop", "voltmeter"]
    di_input: int | None
    cable: str
    unmoved: bool
    trim_db: float
    """The part's while it was measured."""
    difference_db: float | None
    """What the amp sees over what the guitar gave: more than 0 is too hot. None where it cannot be told."""
    copy: CopyBack | None = None
    """What came back over what was sent, trim included in both; None by voltmeter."""
    elsewhere_input: int | None = None
    """Input, from 1, on which it came in instead."""
    witness_gain_db: float | None = None
    """What the witness heard over what was sent; None without one, or where it heard nothing."""
    box: BoxLevel | None = None
    edit: EditGain | None = None
    """The newest revision over the raw DI; None where none is at hand."""
    raw: str = ""
    """What it was held against, in words."""
    set_trim_db: float | None = None
    """The trim that was set to make up the difference; None where it was left alone."""
    trim_problem: str = ""
    """Why it was left alone though it was asked for."""


class ReturnLevel(msgspec.Struct, frozen=True, kw_only=True):
    """How loud one return came in."""

    name: str
    input: int
    """From 1."""
    cycle: CycleLevels
    clipped: bool
    """Whether it clipped at any time since the step began."""


class ReturnGainResult(Result, frozen=True, kw_only=True, tag="return gain"):
    """How loud the returns came in over the last cycle."""

    low_dbfs: float
    high_dbfs: float
    stretch: Stretch
    """Of the DI, which went round."""
    returns: tuple[ReturnLevel, ...]
    """In the wiring's order."""
    dba: float | None = None
    part: str
    witness_gain_db: float | None = None
    """What the witness heard over what was sent; None without one, or where it heard nothing."""


class SoundResult(Result, frozen=True, kw_only=True, tag="sound"):
    """A sound held against the one that was kept."""

    name: str
    kept: bool
    """Whether it was kept now: then it is held against its own repetition."""
    compared: SoundsCompared
    moved: Moved


Measured = (
    WireResult
    | SilenceResult
    | SendLevelResult
    | ReturnGainResult
    | PolarityResult
    | DelayResult
    | SoundResult
)


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a step found, before it has a number."""

    result: Measured
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]
    headline: str
    """One sentence with the figure that matters and what to do, such as ``reamp box trim up 2.3 dB``."""
    summary: str
    """Two or three words for the path, such as ``+0.2 dB``."""


class SetupRecord(msgspec.Struct, frozen=True, kw_only=True):
    """What a step left: a file of the session's ``setup`` folder."""

    format: int = 1
    number: int
    """Counts over all steps of the session, from 1."""
    step: StepName
    made_at: str
    """Local time with offset, ISO 8601."""
    wiring: Wiring
    """As it was."""
    part: str | None = None
    """The part it belongs to; None where it belongs to the wiring alone."""
    revision: int | None = None
    trim_db: float | None = None
    """The part's, as it was."""
    chain: str = ""
    """What was plugged in, as the engineer said; empty where it was not asked."""
    verdict: Verdict
    outcome: Outcome


class StepUsed(msgspec.Struct, frozen=True, kw_only=True):
    """The setting a variant was made under."""

    step: StepName
    state: Literal["not set", "set", "stale", "wrong"]
    number: int | None
    """Of its record; None where it was not set."""

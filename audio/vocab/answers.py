"""What the worker answers: frozen values."""

from __future__ import annotations

import msgspec

from audio.vocab.alignment import Alignment
from audio.vocab.bursts import BurstReading, Bursts
from audio.vocab.differences import Differences
from audio.vocab.handover import FileDone
from audio.vocab.joining import Joints
from audio.vocab.levels import NoiseFloor
from audio.vocab.likeness import SoundsCompared
from audio.vocab.looped import CopyBack, CycleLevels, EditGain, Stretch
from audio.vocab.matching import Matched
from audio.vocab.messages import Recorded
from audio.vocab.readiness import DiMeasures, Hit
from audio.vocab.results import (
    AudioFacts,
    ClickReading,
    ClickTrain,
    Outlines,
    PassMeasures,
    Repaired,
    SoundHead,
)
from audio.vocab.sheet import PhotoShown, SoundTold


class Answer(
    msgspec.Struct, frozen=True, tag_field="got", tag=True, forbid_unknown_fields=True, kw_only=True
):
    """Base of everything the worker answers."""


class Heads(Answer, frozen=True, kw_only=True):
    """Answer to `ReadHeads`."""

    heads: tuple[SoundHead, ...]
    """In the order of the paths."""


class Facts(Answer, frozen=True, kw_only=True):
    """Answer to `Inspect`."""

    facts: AudioFacts


class Train(Answer, frozen=True, kw_only=True):
    """Answer to `MakeClicks`."""

    train: ClickTrain


class Readings(Answer, frozen=True, kw_only=True):
    """Answer to `ReadClicks`: one reading a channel."""

    readings: tuple[ClickReading, ...]


class Done(Answer, frozen=True, kw_only=True):
    """Answer where there is nothing to tell."""


class Measured(Answer, frozen=True, kw_only=True):
    """Answer to `Finish`."""

    measures: PassMeasures


class Mended(Answer, frozen=True, kw_only=True):
    """Answer to `Repair`."""

    repaired: Repaired


class Outlined(Answer, frozen=True, kw_only=True):
    """Answer to `Outline`."""

    outlines: Outlines


class Samples(Answer, frozen=True, kw_only=True):
    """Answer to `Closeup`."""

    samples: bytes
    """As many signed 16-bit integers as frames were asked for, in this machine's byte order, full scale
    2**15, zeros outside the file. Rounded to the nearest step: for the eye only, never to be measured."""


class Compared(Answer, frozen=True, kw_only=True):
    """Answer to `Compare`."""

    alignment: Alignment
    sample_rate: int
    """Of both files."""


class Loudest(Answer, frozen=True, kw_only=True):
    """Answer to `FindLoudest`."""

    stretch: Stretch


class CopyRead(Answer, frozen=True, kw_only=True):
    """Answer to `ReadCopy`."""

    copy: CopyBack | None
    """None while there is no whole cycle yet."""


class CycleRead(Answer, frozen=True, kw_only=True):
    """Answer to `ReadCycle`."""

    cycle: CycleLevels | None
    """None while there is no whole cycle yet."""


class EditCompared(Answer, frozen=True, kw_only=True):
    """Answer to `CompareEdit`."""

    edit: EditGain


class DiMeasured(Answer, frozen=True, kw_only=True):
    """Answer to `CheckDi`."""

    measures: DiMeasures


class HitsFound(Answer, frozen=True, kw_only=True):
    """Answer to `FindHits`."""

    facts: AudioFacts
    hits: tuple[Hit, ...]


class BurstsMade(Answer, frozen=True, kw_only=True):
    """Answer to `MakeBursts`."""

    bursts: Bursts


class BurstReadings(Answer, frozen=True, kw_only=True):
    """Answer to `ReadBursts`: one reading a channel."""

    readings: tuple[BurstReading, ...]


class SteadyLevels(Answer, frozen=True, kw_only=True):
    """Answer to `ReadSteady`."""

    levels_dbfs: tuple[float, ...]
    """RMS of the tone in each fifth of a second, in order."""


class NoiseFloors(Answer, frozen=True, kw_only=True):
    """Answer to `ReadNoise`: one floor a capture."""

    floors: tuple[NoiseFloor, ...]


class Likened(Answer, frozen=True, kw_only=True):
    """Answer to `CompareSounds`."""

    compared: SoundsCompared


class Differed(Answer, frozen=True, kw_only=True):
    """Answer to `Differ`."""

    differences: Differences


class JointsFound(Answer, frozen=True, kw_only=True):
    """Answer to `FindJoints`."""

    joints: Joints


class JoinedWritten(Answer, frozen=True, kw_only=True):
    """Answer to `WriteJoined`."""

    recorded: Recorded


class SoundsMatched(Answer, frozen=True, kw_only=True):
    """Answer to `MatchSounds`."""

    matched: Matched


class HandedSounds(Answer, frozen=True, kw_only=True):
    """Answer to `HandSounds`."""

    done: tuple[FileDone, ...]
    """Those that are whole, in the order asked for."""
    refused: tuple[str, ...]
    """Why the others are not there, one sentence each."""


class Handed(Answer, frozen=True, kw_only=True):
    """Answer to `CompressHanded` and `ProveHanded`."""

    done: FileDone


class Told(Answer, frozen=True, kw_only=True):
    """Answer to `TellSound`."""

    told: SoundTold


class PhotoRead(Answer, frozen=True, kw_only=True):
    """Answer to `ReadPhoto`."""

    photo: PhotoShown


class Failed(Answer, frozen=True, kw_only=True):
    """The request could not be met."""

    reason: str
    """One sentence: what is wrong, where, and the way out."""
    use: bool
    """True where the engineer's input is at fault."""


Answered = (
    Handed
    | HandedSounds
    | JointsFound
    | JoinedWritten
    | Facts
    | Heads
    | Train
    | Readings
    | Done
    | Measured
    | Mended
    | Outlined
    | Samples
    | Compared
    | Loudest
    | CopyRead
    | CycleRead
    | EditCompared
    | DiMeasured
    | HitsFound
    | BurstsMade
    | BurstReadings
    | SteadyLevels
    | NoiseFloors
    | Likened
    | SoundsMatched
    | Differed
    | Told
    | PhotoRead
    | Failed
)

"""What the face asks of the worker, and what comes back: frozen values, one JSON object a line.

Each request carries a number; its answer carries the same. `Follow` is answered at once and measures
while the files grow; `Close` says that they will grow no more; `Finish` answers with everything.
"""

from __future__ import annotations

import msgspec

from audio.vocab import strict_json
from audio.vocab.air import ROOM_CELSIUS
from audio.vocab.alignment import Alignment
from audio.vocab.bursts import BurstReading, Bursts
from audio.vocab.levels import NoiseFloor
from audio.vocab.likeness import Recorded, SoundsCompared, Takes
from audio.vocab.looped import CopyBack, CycleLevels, EditGain, Stretch
from audio.vocab.results import (
    AudioFacts,
    ClickReading,
    ClickTrain,
    Outlines,
    PassMeasures,
    Repaired,
)

CLOSEUP_FRAMES = 131_072
"""Most frames of a `Closeup`."""


class Request(
    msgspec.Struct, frozen=True, tag_field="ask", tag=True, forbid_unknown_fields=True, kw_only=True
):
    """Base of everything that is asked of the worker."""


class Inspect(Request, frozen=True, kw_only=True):
    """Read a sound file through: format, checksum, level of one channel. Answer: `AudioFacts`."""

    path: str
    channel: int = 0


class MakeClicks(Request, frozen=True, kw_only=True):
    """Write a click train to a 32-bit float WAV file. Answer: `ClickTrain`."""

    path: str
    sample_rate: int
    level_dbfs: float
    clicks: int
    """2 for a probe, at most 8."""


class ReadClicks(Request, frozen=True, kw_only=True):
    """Find a click train in each channel of a recording. Answer: `Readings`."""

    path: str
    train: ClickTrain
    arrivals_of: tuple[int, ...] | None = None
    """Channels, from 0, whose first arrival is sought; in others the peak will do. None: all."""


class Follow(Request, frozen=True, kw_only=True):
    """Measure captures while they are written. Answer: `Done`; later `Finish`."""

    follow_id: int
    paths: tuple[str, ...]
    """Mono captures of one pass, in the order of its returns."""
    di_path: str
    di_channel: int
    di_from_frame: int = 0
    """The DI's frame beside which frame 0 of the captures lies."""
    di_frames: int | None = None
    """How much of the DI was played, faded where it was cut; to its end when left out."""
    sample_rate: int
    reference: int = 0
    """Which of `paths` is the reference return's."""
    witness_path: str | None = None
    loop_path: str | None = None


class Close(Request, frozen=True, kw_only=True):
    """The captures are closed: measure what is left, before anyone waits for it. Answer: `Done`."""

    follow_id: int


class Finish(Request, frozen=True, kw_only=True):
    """The captures are closed: measure what is left. Answer: `PassMeasures`."""

    follow_id: int


class Repair(Request, frozen=True, kw_only=True):
    """Make a capture readable whose writer died. Answer: `Repaired`."""

    path: str


class Outline(Request, frozen=True, kw_only=True):
    """Read a sound file through for the eye. Answer: `Outlined`."""

    path: str
    channel: int
    """From 0."""


class Closeup(Request, frozen=True, kw_only=True):
    """Fetch single samples of a sound file for the eye. Answer: `Samples`."""

    path: str
    channel: int
    """From 0."""
    at_frame: int
    frames: int
    """1 to `CLOSEUP_FRAMES`."""


class Compare(Request, frozen=True, kw_only=True):
    """Find how far a recording lies from its DI, by the music alone. Answer: `Compared`."""

    di_path: str
    di_channel: int
    """From 0."""
    path: str
    channel: int
    """From 0."""


class CutPhrase(Request, frozen=True, kw_only=True):
    """Write a stretch of a channel to a new file, faded at its ends. Answer: `Facts` of that file."""

    path: str
    channel: int
    """From 0."""
    from_frame: int
    frames: int
    """More than two fades of 10 ms."""
    to: str


class FindLoudest(Request, frozen=True, kw_only=True):
    """Find the loudest stretch of a file's channel. Answer: `Loudest`."""

    path: str
    channel: int
    """From 0."""
    seconds: float
    from_frame: int = 0
    """Where to begin looking."""
    frames: int | None = None
    """How much is looked at; to the file's end when left out."""


class Round(msgspec.Struct, frozen=True, kw_only=True):
    """What goes round in a roll, as its captures hold it; frames from the roll's first on."""

    cycle_frames: int
    steady_frame: int
    """From here on all that is heard has gone round before."""
    guard_frames: int
    """At the end, which may hold the fade of a stop."""
    quiet_from: int
    quiet_frames: int
    """A stretch before anything sounds."""


class ReadCopy(Request, frozen=True, kw_only=True):
    """Compare the last whole cycle of two growing mono captures. Answer: `CopyRead`."""

    sent_path: str
    """What left, as it was sent."""
    path: str
    """What came back."""
    sample_rate: int
    round: Round


class ReadCycle(Request, frozen=True, kw_only=True):
    """Measure the last whole cycle of a growing mono capture. Answer: `CycleRead`."""

    path: str
    sample_rate: int
    round: Round


class CompareEdit(Request, frozen=True, kw_only=True):
    """Compare an edited DI with the raw one, note by note. Answer: `EditCompared`."""

    raw_path: str
    raw_channel: int
    """From 0."""
    path: str
    channel: int
    """From 0."""


class MakeTone(Request, frozen=True, kw_only=True):
    """Write a sine with ramps to a 32-bit float WAV file. Answer: `Done`."""

    path: str
    sample_rate: int
    hz: float
    level_dbfs: float
    """Its peak."""
    seconds: float


class MakeCountIn(Request, frozen=True, kw_only=True):
    """Write a count-in to a 32-bit float WAV file. Answer: `Done`."""

    path: str
    sample_rate: int
    level_dbfs: float
    """Peak of an accent."""
    frames: tuple[int, ...]
    """Where its clicks begin, from 0, ascending."""
    accents: tuple[bool, ...]
    """Which of them begin a bar."""


class MakeBursts(Request, frozen=True, kw_only=True):
    """Write bursts of the set-up tone to a 32-bit float WAV file. Answer: `BurstsMade`."""

    path: str
    sample_rate: int
    level_dbfs: float
    """Their peak."""


class ReadBursts(Request, frozen=True, kw_only=True):
    """Find bursts in each channel of a recording. Answer: `BurstReadings`."""

    path: str
    bursts: Bursts


class ReadSteady(Request, frozen=True, kw_only=True):
    """Tell how a steady tone went so far in a mono capture that may still grow. Answer: `SteadyLevels`."""

    path: str
    sample_rate: int
    hz: float


class ReadNoise(Request, frozen=True, kw_only=True):
    """Take the noise in mono captures apart that may still grow. Answer: `NoiseFloors`."""

    paths: tuple[str, ...]
    sample_rate: int
    from_frame: int = 0
    """Where it begins in each of them."""


class CompareSounds(Request, frozen=True, kw_only=True):
    """Find what is different since a stretch of a DI was recorded before. Answer: `Likened`."""

    di: Recorded
    """Outside its file it rests."""
    frames: int
    """Length of the stretch: 2 to 60 s; a rest of half a second in it, or around it, tells the noise."""
    returns: tuple[Takes, ...]
    witness: Takes | None = None
    """The witness's recordings; without one, a loop cable's do for distances, with `sends` unset."""
    sends: bool = True
    """Whether `witness` records the send on its way to the amp, so that its level is the send's."""
    later_frames: float | None = None
    """How much later the files of now are than those kept by converters and placement alone, where a loop
    or patched cable told that both times: its round trip less the files' shift, now less then. It is
    used where there is no `witness`."""
    celsius: float = ROOM_CELSIUS
    """Temperature of the air."""


Asked = (
    Inspect
    | MakeClicks
    | ReadClicks
    | Follow
    | Close
    | Finish
    | Repair
    | Outline
    | Closeup
    | Compare
    | CutPhrase
    | FindLoudest
    | ReadCopy
    | ReadCycle
    | CompareEdit
    | MakeTone
    | MakeCountIn
    | MakeBursts
    | ReadBursts
    | ReadSteady
    | ReadNoise
    | CompareSounds
)


class Answer(
    msgspec.Struct, frozen=True, tag_field="got", tag=True, forbid_unknown_fields=True, kw_only=True
):
    """Base of everything the worker answers."""


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


class Failed(Answer, frozen=True, kw_only=True):
    """The request could not be met."""

    reason: str
    """One sentence: what is wrong, where, and the way out."""
    use: bool
    """True where the engineer's input is at fault."""


Answered = (
    Facts
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
    | BurstsMade
    | BurstReadings
    | SteadyLevels
    | NoiseFloors
    | Likened
    | Failed
)


class Envelope(msgspec.Struct, frozen=True, kw_only=True):
    """A numbered request."""

    number: int
    asked: Asked


class Reply(msgspec.Struct, frozen=True, kw_only=True):
    """A numbered answer."""

    number: int
    answered: Answered


_encoder = msgspec.json.Encoder()
_envelopes = msgspec.json.Decoder(Envelope)
_replies = msgspec.json.Decoder(Reply)


def encode(message: Envelope | Reply) -> bytes:
    """Return a message as one line of JSON, newline included."""
    return _encoder.encode(message) + b"\n"


def decode_envelope(line: bytes) -> Envelope:
    """Return the request in one line; raise `msgspec.ValidationError` for anything else."""
    return strict_json.decode(_envelopes, line)


def decode_reply(line: bytes) -> Reply:
    """Return the answer in one line; raise `msgspec.ValidationError` for anything else."""
    return strict_json.decode(_replies, line)

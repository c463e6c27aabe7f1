"""What the face asks of the worker: frozen values."""

from __future__ import annotations

import msgspec

from audio.vocab.air import ROOM_CELSIUS
from audio.vocab.bursts import Bursts
from audio.vocab.handover import Piece
from audio.vocab.layers import Layer
from audio.vocab.likeness import Recorded, Takes
from audio.vocab.results import ClickTrain
from audio.vocab.sheet import BarMark

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


class ReadHeads(Request, frozen=True, kw_only=True):
    """Read what sound files say of themselves. Answer: `Heads`."""

    paths: tuple[str, ...]


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


class CheckDi(Request, frozen=True, kw_only=True):
    """Measure all of a DI that will be heard through an amp. Answer: `DiMeasured`."""

    path: str
    channel: int
    """From 0."""


class FindHits(Request, frozen=True, kw_only=True):
    """Find where notes, chords or drums begin in a recording. Answer: `HitsFound`."""

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


class Differ(Request, frozen=True, kw_only=True):
    """Tell what is different between two sounds of one part. Answer: `Differed`."""

    di: Layer
    """The part's newest DI: says where is played and where it rests."""
    a: tuple[Layer, ...]
    """What would have to change: microphones that are heard together."""
    b: tuple[Layer, ...]
    """What it is held against."""
    from_frame: int = 0
    """Of the DI's timeline."""
    frames: int | None = None
    """How much is compared of what both hold; all of it where left out."""


class FindJoints(Request, frozen=True, kw_only=True):
    """Choose where the recordings of a section are joined into a whole part's. Answer: `JointsFound`."""

    paths: tuple[str, ...]
    """Mono captures of the base, one for each return."""
    section_paths: tuple[str, ...]
    """Those of the section, in the same order."""
    sample_rate: int
    section_at: int
    """Frame of the base's at which frame 0 of the section's lies."""
    enter: tuple[int, int, int] | None
    """First frame, frame behind the last, and border of the stretch for the joint into the section, in the
    base's frames; None where there is none."""
    leave: tuple[int, int, int] | None
    """The same of the joint out of it."""
    fade_frames: int
    reference: int = 0
    """Which return tells how far the two lie apart."""


class WriteJoined(Request, frozen=True, kw_only=True):
    """Write one return of a drop-in, replacing what an earlier try left. Answer: `JoinedWritten`."""

    path: str
    """Of the base's capture."""
    section_path: str
    section_at: int
    to: str
    sample_rate: int
    enter: tuple[int, float] | None
    """Middle of the fade, in the base's frames, and the correlation its gains follow from."""
    leave: tuple[int, float] | None
    fade_frames: int
    time_reference: int
    description: str
    made_at: str
    """ISO 8601."""


class MatchSounds(Request, frozen=True, kw_only=True):
    """Find what makes several sounds of one part equally loud over a stretch. Answer: `SoundsMatched`.

    What was read is remembered. A balance that changes is answered without reading: a fader, a microphone
    that is left out or comes back. Only one that was never among a sound's layers has the sound read again:
    ask for all of them first, the shut ones at `SILENCE_DBFS`.
    """

    sounds: tuple[tuple[Layer, ...], ...]
    """Each a mix; at least one."""
    under: tuple[Layer, ...] = ()
    """What plays beneath all of them."""
    from_frame: int
    """On the part's timeline, as the layers' `at_frame`. Where a file has no frames it is silent."""
    frames: int
    sample_rate: int


class HandSounds(Request, frozen=True, kw_only=True):
    """Write files of a hand-over, replacing what an earlier try left. Answer: `HandedSounds`.

    Nobody waits here until folders have reached the disk: whoever asks says `SyncHanded` at the end, and
    proves what an earlier try left.
    """

    session: str
    """The session's folder, absolute."""
    folder: str
    """The hand-over's, absolute; what lies between it and a file is made."""
    pieces: tuple[Piece, ...]
    """Worked on beside each other, as far as they are copied: some hundred megabytes are enough."""
    made_at: str
    """For the header of what is written anew; ISO 8601."""


class CompressHanded(Request, frozen=True, kw_only=True):
    """Write a file of a hand-over once more, as FLAC, without a loss. Answer: `Handed`."""

    folder: str
    path: str
    """Relative to the folder."""
    to: str
    """The same."""
    comment: str
    """Goes into the file: FLAC has no place for a time stamp that all readers know."""


class ProveHanded(Request, frozen=True, kw_only=True):
    """Read a file of a hand-over through. Answer: `Handed`."""

    folder: str
    path: str
    """Relative to the folder."""


class SyncHanded(Request, frozen=True, kw_only=True):
    """Wait until files of a hand-over and their folders have reached the disk. Answer: `Done`."""

    folder: str
    paths: tuple[str, ...]
    """Relative to the folder."""


class TellSound(Request, frozen=True, kw_only=True):
    """Measure the files of a sound over a phrase and draw them. Answer: `Told`.

    Layers lie on the timeline of the DI the sound was made from: frame 0 is its first.
    """

    di: Layer
    files: tuple[Layer, ...]
    """Read whole, for their pictures."""
    originals: tuple[Layer, ...] = ()
    """Read over the phrase only; each lies where its playing meets the DI's."""
    from_frame: int
    """Where the phrase begins."""
    frames: int
    bars: tuple[BarMark, ...] = ()
    """What is marked on the time axis."""


class ReadPhoto(Request, frozen=True, kw_only=True):
    """Make a photo ready for the sheet. Answer: `PhotoRead`."""

    path: str


class MakePiece(Request, frozen=True, kw_only=True):
    """Write a piece of a sound as the listening page loads it. Answer: `Done`.

    The same request leaves the same bytes. The file appears under its name once it is whole.
    """

    channels: tuple[tuple[Layer, ...], ...]
    """What is added up for each channel of the piece: one, or two."""
    from_frame: int
    """Of the piece, on the layers' timeline; where a file has no frames it is silent."""
    frames: int
    """How many of the files' frames it covers; a multiple of `by`."""
    sample_rate: int
    """Of the files."""
    by: int = 1
    """Of so many frames one is left, behind a filter that leaves no alias: 1 or a power of two."""
    gain_db: float = 0.0
    to: str
    """File to write; its folder is there."""
    track: str
    """Letters and digits that name the sound to the page."""
    number: int
    """Of the piece, from 0."""


Asked = (
    HandSounds
    | CompressHanded
    | ProveHanded
    | SyncHanded
    | FindJoints
    | WriteJoined
    | Inspect
    | ReadHeads
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
    | CheckDi
    | FindHits
    | MakeTone
    | MakeCountIn
    | MakeBursts
    | ReadBursts
    | ReadSteady
    | ReadNoise
    | CompareSounds
    | MatchSounds
    | MakePiece
    | Differ
    | TellSound
    | ReadPhoto
)

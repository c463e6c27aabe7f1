"""The face's side of the worker: starts it when first asked, asks, and starts another after a fault.

Loads neither numpy nor anything that does: all arithmetic is the child's.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable
from pathlib import Path
from typing import Self, TypeVar

from audio.vocab.answers import (
    Answer,
    Answered,
    BurstReadings,
    BurstsMade,
    Compared,
    CopyRead,
    CycleRead,
    Differed,
    DiMeasured,
    Done,
    EditCompared,
    Facts,
    Failed,
    Handed,
    HandedSounds,
    Heads,
    HitsFound,
    JoinedWritten,
    JointsFound,
    Likened,
    Loudest,
    Measured,
    Mended,
    NoiseFloors,
    Outlined,
    PhotoRead,
    Readings,
    Samples,
    SoundsMatched,
    SteadyLevels,
    Told,
    Train,
)
from audio.vocab.bursts import BurstReading, Bursts
from audio.vocab.differences import Differences
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.handover import FileDone
from audio.vocab.joining import Joints
from audio.vocab.levels import NoiseFloor
from audio.vocab.likeness import SoundsCompared
from audio.vocab.looped import CopyBack, CycleLevels, EditGain, Stretch
from audio.vocab.matching import Matched
from audio.vocab.messages import Recorded
from audio.vocab.readiness import DiMeasures
from audio.vocab.requests import (
    Asked,
    CheckDi,
    Close,
    Closeup,
    Compare,
    CompareEdit,
    CompareSounds,
    CompressHanded,
    CutPhrase,
    Differ,
    FindHits,
    FindJoints,
    FindLoudest,
    Finish,
    Follow,
    HandSounds,
    Inspect,
    MakeBursts,
    MakeClicks,
    MakeCountIn,
    MakePiece,
    MakeTone,
    MatchSounds,
    Outline,
    ProveHanded,
    ReadBursts,
    ReadClicks,
    ReadCopy,
    ReadCycle,
    ReadHeads,
    ReadNoise,
    ReadPhoto,
    ReadSteady,
    Repair,
    Round,
    SyncHanded,
    TellSound,
    WriteJoined,
)
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
from audio.work.child import Child

_A = TypeVar("_A", bound=Answer)


class Worker:
    """One worker process at a time; safe to use from several threads, which then take turns."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._guard = threading.Lock()  # over the two below
        self._child: Child | None = None
        self._closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None:
        """Start the worker before it is asked, for a job that has a device to wait for meanwhile.

        It then loads all that following a pass needs; one that is started by a question does not.
        """
        with self._turn:
            self._started(ready=True)

    def ask(self, asked: Asked, timeout_s: float) -> Answered:
        """Ask the worker and return its answer, starting it if there is none.

        Parameters
        ----------
        asked
            The request.
        timeout_s
            Seconds to wait · a worker that takes longer counts as dead.

        Returns
        -------
        Answered
            Anything but `Failed`.

        Raises
        ------
        UseError
            When the request could not be met and the engineer's input is at fault.
        DeviceError
            When it could not be met otherwise, or the worker died or hung; the next request starts
            another one, which follows no pass.
        """
        with self._turn:
            child = self._started(ready=False)
            try:
                answered = child.ask(asked, timeout_s)
            except DeviceError:
                with self._guard:
                    self._child = None
                child.end()
                raise
        if not isinstance(answered, Failed):
            return answered
        if answered.use:
            raise UseError(answered.reason)
        raise DeviceError(answered.reason)

    def _started(self, *, ready: bool) -> Child:
        with self._guard:
            if self._closed:
                raise DeviceError("the worker was ended with the program; open it again")
            self._child = self._child or Child(ready=ready)
            return self._child

    def close(self) -> None:
        """End the worker for good, within two seconds whatever it does; what is asked then fails."""
        with self._guard:
            self._closed = True
            child, self._child = self._child, None
        if child is not None:
            child.end()

    def heads(self, paths: Iterable[str], *, timeout_s: float = 30.0) -> dict[str, SoundHead]:
        """Return what sound files say of themselves, by path; what cannot be played says so there."""
        found = self._ask(ReadHeads(paths=tuple(paths)), Heads, timeout_s).heads
        return {one.path: one for one in found}

    def inspect(self, path: Path, *, channel: int = 0, timeout_s: float = 60.0) -> AudioFacts:
        """Return what a sound file is and how loud a channel (from 0) of it is."""
        return self._ask(Inspect(path=str(path), channel=channel), Facts, timeout_s).facts

    def make_clicks(
        self,
        path: Path,
        *,
        sample_rate: int,
        level_dbfs: float,
        clicks: int,
        timeout_s: float = 60.0,
    ) -> ClickTrain:
        """Write a click train to a file and return what is needed to find it again."""
        asked = MakeClicks(
            path=str(path), sample_rate=sample_rate, level_dbfs=level_dbfs, clicks=clicks
        )
        return self._ask(asked, Train, timeout_s).train

    def read_clicks(
        self,
        path: Path,
        train: ClickTrain,
        *,
        arrivals_of: tuple[int, ...] | None = None,
        timeout_s: float = 60.0,
    ) -> tuple[ClickReading, ...]:
        """Return what each channel of a recording heard of a click train, as `ReadClicks` says."""
        asked = ReadClicks(path=str(path), train=train, arrivals_of=arrivals_of)
        return self._ask(asked, Readings, timeout_s).readings

    def find_joints(self, asked: FindJoints, *, timeout_s: float = 60.0) -> Joints:
        """Return where the recordings of a section are joined into those of the whole part."""
        return self._ask(asked, JointsFound, timeout_s).joints

    def write_joined(self, asked: WriteJoined, *, timeout_s: float = 300.0) -> Recorded:
        """Write one return of a drop-in and return what the file holds."""
        return self._ask(asked, JoinedWritten, timeout_s).recorded

    def follow(self, follow: Follow, *, timeout_s: float = 60.0) -> None:
        """Begin to measure captures while they are written; what was followed before is let go."""
        self._ask(follow, Done, timeout_s)

    def close_captures(self, follow_id: int, *, timeout_s: float = 60.0) -> None:
        """Say that followed captures are closed: what is left is measured before `finish` is asked for."""
        self._ask(Close(follow_id=follow_id), Done, timeout_s)

    def finish(self, follow_id: int, *, timeout_s: float = 120.0) -> PassMeasures:
        """Return the measures of followed captures, which must be closed."""
        return self._ask(Finish(follow_id=follow_id), Measured, timeout_s).measures

    def repair(self, path: Path, *, timeout_s: float = 120.0) -> Repaired:
        """Make a capture readable whose writer died."""
        return self._ask(Repair(path=str(path)), Mended, timeout_s).repaired

    def outline(self, path: Path, *, channel: int, timeout_s: float = 60.0) -> Outlines:
        """Return the outline of a channel (from 0) of a sound file, for the eye."""
        return self._ask(Outline(path=str(path), channel=channel), Outlined, timeout_s).outlines

    def closeup(
        self, path: Path, *, channel: int, at_frame: int, frames: int, timeout_s: float = 60.0
    ) -> bytes:
        """Return single samples of a channel (from 0), for the eye, as `Samples.samples` tells."""
        asked = Closeup(path=str(path), channel=channel, at_frame=at_frame, frames=frames)
        return self._ask(asked, Samples, timeout_s).samples

    def compare(
        self,
        di: Path,
        recording: Path,
        *,
        di_channel: int,
        channel: int,
        timeout_s: float = 120.0,
    ) -> Compared:
        """Return how far a channel (from 0) of a recording lies from one of its DI."""
        asked = Compare(
            di_path=str(di), di_channel=di_channel, path=str(recording), channel=channel
        )
        return self._ask(asked, Compared, timeout_s)

    def make_bursts(
        self, path: Path, *, sample_rate: int, level_dbfs: float, timeout_s: float = 60.0
    ) -> Bursts:
        """Write bursts of the set-up tone to a file and return what is needed to find them again."""
        asked = MakeBursts(path=str(path), sample_rate=sample_rate, level_dbfs=level_dbfs)
        return self._ask(asked, BurstsMade, timeout_s).bursts

    def read_bursts(
        self, path: Path, bursts: Bursts, *, timeout_s: float = 60.0
    ) -> tuple[BurstReading, ...]:
        """Return what each channel of a recording heard of bursts."""
        asked = ReadBursts(path=str(path), bursts=bursts)
        return self._ask(asked, BurstReadings, timeout_s).readings

    def read_steady(
        self, path: Path, *, sample_rate: int, hz: float, timeout_s: float = 60.0
    ) -> tuple[float, ...]:
        """Return the level of a steady tone in each fifth of a second of a growing capture, dBFS."""
        asked = ReadSteady(path=str(path), sample_rate=sample_rate, hz=hz)
        return self._ask(asked, SteadyLevels, timeout_s).levels_dbfs

    def read_noise(
        self,
        paths: tuple[Path, ...],
        *,
        sample_rate: int,
        from_frame: int = 0,
        timeout_s: float = 60.0,
    ) -> tuple[NoiseFloor, ...]:
        """Return the noise in each of some captures that may still grow, from a frame on."""
        asked = ReadNoise(
            paths=tuple(map(str, paths)), sample_rate=sample_rate, from_frame=from_frame
        )
        return self._ask(asked, NoiseFloors, timeout_s).floors

    def cut_phrase(
        self,
        di: Path,
        *,
        channel: int,
        from_frame: int,
        frames: int,
        to: Path,
        timeout_s: float = 60.0,
    ) -> AudioFacts:
        """Write a stretch of a DI's channel (from 0) to a new file; return what that is."""
        asked = CutPhrase(
            path=str(di), channel=channel, from_frame=from_frame, frames=frames, to=str(to)
        )
        return self._ask(asked, Facts, timeout_s).facts

    def find_loudest(
        self,
        path: Path,
        *,
        channel: int,
        seconds: float,
        from_frame: int = 0,
        frames: int | None = None,
        timeout_s: float = 60.0,
    ) -> Stretch:
        """Return the loudest stretch of a channel (from 0) of a file, or of some frames of it."""
        asked = FindLoudest(
            path=str(path), channel=channel, seconds=seconds, from_frame=from_frame, frames=frames
        )
        return self._ask(asked, Loudest, timeout_s).stretch

    def read_copy(
        self, sent: Path, back: Path, *, sample_rate: int, round_: Round, timeout_s: float = 60.0
    ) -> CopyBack | None:
        """Return what the last whole cycle brought back; None while there is none."""
        asked = ReadCopy(sent_path=str(sent), path=str(back), sample_rate=sample_rate, round=round_)
        return self._ask(asked, CopyRead, timeout_s).copy

    def read_cycle(
        self, path: Path, *, sample_rate: int, round_: Round, timeout_s: float = 60.0
    ) -> CycleLevels | None:
        """Return how loud the last whole cycle came back; None while there is none."""
        asked = ReadCycle(path=str(path), sample_rate=sample_rate, round=round_)
        return self._ask(asked, CycleRead, timeout_s).cycle

    def compare_edit(
        self,
        raw: Path,
        edited: Path,
        *,
        raw_channel: int,
        channel: int,
        timeout_s: float = 120.0,
    ) -> EditGain:
        """Return by how much a channel (from 0) of an edit is louder than one of its raw DI."""
        asked = CompareEdit(
            raw_path=str(raw), raw_channel=raw_channel, path=str(edited), channel=channel
        )
        return self._ask(asked, EditCompared, timeout_s).edit

    def check_di(self, path: Path, *, channel: int, timeout_s: float = 600.0) -> DiMeasures:
        """Return all of a DI (channel from 0) that will be heard through an amp."""
        asked = CheckDi(path=str(path), channel=channel)
        return self._ask(asked, DiMeasured, timeout_s).measures

    def find_hits(self, path: Path, *, channel: int, timeout_s: float = 600.0) -> HitsFound:
        """Return what a recording is, and where notes, chords or drums begin in a channel (from 0)."""
        return self._ask(FindHits(path=str(path), channel=channel), HitsFound, timeout_s)

    def make_tone(
        self,
        path: Path,
        *,
        sample_rate: int,
        hz: float,
        level_dbfs: float,
        seconds: float,
        timeout_s: float = 60.0,
    ) -> None:
        """Write a sine with ramps to a file."""
        asked = MakeTone(
            path=str(path), sample_rate=sample_rate, hz=hz, level_dbfs=level_dbfs, seconds=seconds
        )
        self._ask(asked, Done, timeout_s)

    def make_count_in(self, asked: MakeCountIn, *, timeout_s: float = 60.0) -> None:
        """Write a count-in to a file."""
        self._ask(asked, Done, timeout_s)

    def compare_sounds(self, asked: CompareSounds, *, timeout_s: float = 60.0) -> SoundsCompared:
        """Return what is different since a stretch of a DI was recorded before."""
        return self._ask(asked, Likened, timeout_s).compared

    def match(self, asked: MatchSounds, *, timeout_s: float = 600.0) -> Matched:
        """Return how loud several sounds are, and what makes them equally loud."""
        return self._ask(asked, SoundsMatched, timeout_s).matched

    def differ(self, asked: Differ, *, timeout_s: float = 300.0) -> Differences:
        """Return what is different between two sounds of a part."""
        return self._ask(asked, Differed, timeout_s).differences

    def hand_sounds(self, asked: HandSounds, *, timeout_s: float = 1200.0) -> HandedSounds:
        """Write files of a hand-over; return what they are, and why some are not there."""
        return self._ask(asked, HandedSounds, timeout_s)

    def hand(self, asked: CompressHanded | ProveHanded, *, timeout_s: float = 1200.0) -> FileDone:
        """Compress or prove one file of a hand-over; return what it is."""
        return self._ask(asked, Handed, timeout_s).done

    def sync_handed(self, asked: SyncHanded, *, timeout_s: float = 3600.0) -> None:
        """Wait until files of a hand-over have reached the disk."""
        self._ask(asked, Done, timeout_s)

    def tell_sound(self, asked: TellSound, *, timeout_s: float = 300.0) -> SoundTold:
        """Return what a sound is over a phrase, and its pictures."""
        return self._ask(asked, Told, timeout_s).told

    def read_photo(self, path: Path, *, timeout_s: float = 60.0) -> PhotoShown:
        """Return a photo upright, small enough for a sheet, with nothing in it but the picture."""
        return self._ask(ReadPhoto(path=str(path)), PhotoRead, timeout_s).photo

    def make_piece(self, asked: MakePiece, *, timeout_s: float = 120.0) -> None:
        """Write a piece of a sound for the listening page."""
        self._ask(asked, Done, timeout_s)

    def _ask(self, asked: Asked, kind: type[_A], timeout_s: float) -> _A:
        answered = self.ask(asked, timeout_s)
        if not isinstance(answered, kind):
            name = type(answered).__name__
            raise DeviceError(f"the worker answered {type(asked).__name__} with {name}: report it")
        return answered

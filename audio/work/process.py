"""The worker's process: one JSON request a line in, one answer a line out, until its input ends.

Started by `audio.work.client` as ``python -m audio.work.process``, with the word ``ready`` where a pass
will follow. Requests are met one after another; one more thread follows the captures of the pass that
is rolling.
"""

from __future__ import annotations

import importlib
import os
import signal
import sys
import threading
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, assert_never

import msgspec

from audio.files.inspect import head, inspect
from audio.files.platform import be_nice, wait_unread
from audio.files.repair import repair
from audio.vocab.answers import (
    Answered,
    BurstReadings,
    BurstsMade,
    CopyRead,
    CycleRead,
    Differed,
    DiMeasured,
    Done,
    EditCompared,
    Facts,
    Failed,
    Handed,
    Heads,
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
from audio.vocab.errors import SecondpassError, UseError
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
    SyncHanded,
    TellSound,
    WriteJoined,
)
from audio.vocab.work import Reply, decode_envelope, encode
from audio.work.bursts import make_bursts, read_recorded, read_steady
from audio.work.clicks import make_clicks, read_recording
from audio.work.count_in import make_count_in
from audio.work.following import Following
from audio.work.loading import LOADING
from audio.work.outlines import closeup, outline
from audio.work.phrases import cut_phrase
from audio.work.tones import make_tone

if TYPE_CHECKING:
    from audio.work.matching import Matching


class Desk:
    """Meets requests; remembers the pass it follows, and what it read of the sounds it matched."""

    def __init__(self) -> None:
        self._followed: tuple[int, Following] | None = None
        self._matching: Matching | None = None

    def answer(self, asked: Asked) -> Answered:
        """Return the answer to one request; whatever goes wrong is an answer, too."""
        try:
            return self._meet(asked)
        except SecondpassError as error:
            return Failed(reason=str(error), use=isinstance(error, UseError))
        except OSError as error:
            what = error.filename or type(asked).__name__
            return Failed(reason=f"{what}: {error.strerror or error}", use=False)
        except Exception as error:  # noqa: BLE001 - the next request must find a worker
            traceback.print_exc()
            what = f"{type(asked).__name__} failed: {type(error).__name__}: {error}"
            return Failed(reason=what, use=False)

    def leave(self) -> None:
        """Let go of the pass that is followed."""
        if self._followed is not None:
            self._followed[1].abandon()
            self._followed = None

    def _meet(self, asked: Asked) -> Answered:  # noqa: C901, PLR0911, PLR0912, PLR0915 - one for each request
        match asked:
            case Inspect():
                return Facts(facts=inspect(Path(asked.path), channel=asked.channel))
            case ReadHeads():
                return Heads(heads=tuple(head(Path(path)) for path in asked.paths))
            case MakeClicks():
                return Train(train=make_clicks(asked))
            case ReadClicks():
                return Readings(readings=read_recording(asked))
            case FindJoints() | WriteJoined():
                return _of_a_join(asked)
            case Follow():
                return self._follow(asked)
            case Close():
                return self._close(asked)
            case Finish():
                return self._finish(asked)
            case Repair():
                return Mended(repaired=repair(Path(asked.path)))
            case Outline():
                return Outlined(outlines=outline(asked))
            case Closeup():
                return Samples(samples=closeup(asked))
            case CutPhrase():
                return Facts(facts=cut_phrase(asked))
            case Compare():
                # The Fourier library behind it takes a moment to load, which no other answer needs.
                with LOADING:
                    from audio.work.comparing import compare  # noqa: PLC0415

                return compare(asked)
            case MakeBursts():
                return BurstsMade(bursts=make_bursts(asked))
            case ReadBursts():
                return BurstReadings(readings=read_recorded(asked))
            case ReadSteady():
                return SteadyLevels(levels_dbfs=read_steady(asked))
            case ReadNoise():
                with LOADING:
                    from audio.work.noise import read_noise  # noqa: PLC0415 - loads scipy

                return NoiseFloors(floors=read_noise(asked))
            case FindLoudest() | ReadCopy() | ReadCycle():
                return _of_a_round(asked)
            case CompareEdit():
                with LOADING:
                    from audio.work.editing import compare_edit  # noqa: PLC0415 - as above

                return EditCompared(edit=compare_edit(asked))
            case CheckDi():
                with LOADING:
                    from audio.work.checking import check_di  # noqa: PLC0415 - as above

                return DiMeasured(measures=check_di(asked))
            case FindHits():
                with LOADING:
                    from audio.work.checking import hits_of  # noqa: PLC0415 - as above

                return hits_of(asked)
            case MakeTone():
                make_tone(asked)
                return Done()
            case MakeCountIn():
                make_count_in(asked)
                return Done()
            case CompareSounds():
                with LOADING:
                    from audio.work.likeness import compare_recorded  # noqa: PLC0415 - as above

                return Likened(compared=compare_recorded(asked))
            case MatchSounds():
                return self._match(asked)
            case MakePiece():
                with LOADING:
                    from audio.work.pieces import make_piece  # noqa: PLC0415 - rarely asked for

                make_piece(asked)
                return Done()
            case Differ():
                with LOADING:
                    from audio.work.differing import differ  # noqa: PLC0415 - as above

                return Differed(differences=differ(asked))
            case HandSounds() | CompressHanded() | ProveHanded() | SyncHanded():
                return _of_a_handover(asked)
            case TellSound() | ReadPhoto():
                return _for_the_sheet(asked)
            case _:
                assert_never(asked)

    def _follow(self, asked: Follow) -> Done:
        self.leave()
        self._followed = (asked.follow_id, Following(asked))
        return Done()

    def _match(self, asked: MatchSounds) -> SoundsMatched:
        with LOADING:
            from audio.work.matching import Matching  # noqa: PLC0415 - loads scipy

        self._matching = self._matching or Matching()
        return SoundsMatched(matched=self._matching.match(asked))

    def _close(self, asked: Close) -> Done:
        """Let what is left be measured; a pass that is not followed is measured when it is finished."""
        if self._followed is not None and self._followed[0] == asked.follow_id:
            self._followed[1].close()
        return Done()

    def _finish(self, asked: Finish) -> Measured:
        measures = None
        if self._followed is not None and self._followed[0] == asked.follow_id:
            following = self._followed[1]
            self._followed = None
            measures = following.finish()
        if measures is None:
            raise UseError("this pass is not being measured: ask to follow its files first")
        return Measured(measures=measures)


def _of_a_join(asked: FindJoints | WriteJoined) -> Answered:
    with LOADING:
        from audio.work.joining import find_joints, write_joined  # noqa: PLC0415 - rarely asked for

    if isinstance(asked, FindJoints):
        return JointsFound(joints=find_joints(asked))
    return JoinedWritten(recorded=write_joined(asked))


def _of_a_handover(asked: HandSounds | CompressHanded | ProveHanded | SyncHanded) -> Answered:
    with LOADING:
        from audio.work import handing  # noqa: PLC0415 - rarely asked for

    match asked:
        case HandSounds():
            return handing.hand_sounds(asked)
        case CompressHanded():
            return Handed(done=handing.compress(asked))
        case ProveHanded():
            return Handed(done=handing.prove(asked))
        case SyncHanded():
            handing.sync(asked)
            return Done()
        case _:
            assert_never(asked)


def _of_a_round(asked: FindLoudest | ReadCopy | ReadCycle) -> Answered:
    with LOADING:
        from audio.work.looping import find_loudest, read_copy, read_cycle  # noqa: PLC0415 - loads scipy

    match asked:
        case FindLoudest():
            return Loudest(stretch=find_loudest(asked))
        case ReadCopy():
            return CopyRead(copy=read_copy(asked))
        case ReadCycle():
            return CycleRead(cycle=read_cycle(asked))
        case _:
            assert_never(asked)


def _for_the_sheet(asked: TellSound | ReadPhoto) -> Answered:
    with LOADING:
        from audio.work.photos import read_photo  # noqa: PLC0415 - rarely asked for
        from audio.work.sheets import tell_sound  # noqa: PLC0415 - loads what draws

    if isinstance(asked, TellSound):
        return Told(told=tell_sound(asked))
    return PhotoRead(photo=read_photo(asked))


def serve(questions: BinaryIO, answers: BinaryIO) -> None:
    """Answer every line of `questions` on `answers`, until it ends or nobody reads any more."""
    desk = Desk()
    for line in questions:
        reply = _reply(desk, line)
        try:
            answers.write(encode(reply))
            answers.flush()
        except OSError:
            break
    desk.leave()


def _prepare() -> None:
    """Load what following a pass needs, while nobody waits for an answer yet."""

    def load() -> None:
        with LOADING:
            importlib.import_module("audio.work.passes")

    threading.Thread(target=load, name="preparing", daemon=True).start()


def _leave_unread(answers: BinaryIO) -> None:
    """End the process when nobody is left to read its answers, whatever it computes meanwhile.

    Nothing is lost by it: what a worker writes stands up to being killed at any moment.
    """

    def wait() -> None:
        if wait_unread(answers.fileno()):
            os._exit(0)

    threading.Thread(target=wait, name="reader", daemon=True).start()


def _reply(desk: Desk, line: bytes) -> Reply:
    try:
        envelope = decode_envelope(line)
    except msgspec.ValidationError as error:
        return Reply(number=-1, answered=Failed(reason=f"no request: {error}", use=False))
    return Reply(number=envelope.number, answered=desk.answer(envelope.asked))


def main() -> None:
    """Serve standard input and output, at low priority, deaf to Ctrl+C: the face decides what ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    be_nice()
    # Whatever a library prints must not land between two answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _leave_unread(answers)
    if sys.argv[1:] == ["ready"]:
        _prepare()
    serve(sys.stdin.buffer, answers)
    # Threads may be in the middle of a file or an import; there is nothing to save.
    os._exit(0)


if __name__ == "__main__":
    main()

"""What a session at the desk tells its face: frozen values, handed over one by one, in order."""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.jobs.talk import Rolling
from audio.plan.blind_result import Comparison
from audio.vocab.blind import SittingNow
from audio.vocab.chain import ChainFile
from audio.vocab.checked import Checked, HitsAsked
from audio.vocab.delay import Delay
from audio.vocab.devices import DeviceList
from audio.vocab.differences import SoundsApart
from audio.vocab.handover import HandedOver, HandoverNow
from audio.vocab.layers import SoundName
from audio.vocab.listening import ListeningNow
from audio.vocab.messages import Counters, Opened
from audio.vocab.opinion import Happening, Opinion
from audio.vocab.plan import PlanNow, RunNow
from audio.vocab.results import AudioFacts, Outlines
from audio.vocab.session_file import SessionFile
from audio.vocab.setup import Live, SetupRecord
from audio.vocab.tempo import TempoRead
from audio.vocab.timing import Doubles
from audio.vocab.variant import Broken, Summary, Variant
from audio.vocab.wiring import Wiring


class Playing(msgspec.Struct, frozen=True, kw_only=True):
    """A pass that an engine without a face still plays and records."""

    part: str
    number: int


class Snapshot(msgspec.Struct, frozen=True, kw_only=True):
    """The session as it is on disk now."""

    folder: str
    """Absolute."""
    file: SessionFile
    wiring: Wiring | None
    wiring_problem: str
    """Why there is no wiring; one sentence."""
    variants: tuple[Summary, ...]
    """By part, then number."""
    broken: tuple[Broken, ...]
    playing: tuple[Playing, ...]
    setups: tuple[SetupRecord, ...] = ()
    """What was measured before the passes, oldest first."""
    chains: tuple[ChainFile, ...] = ()
    """The session's own first, then those of the user's folder whose names it has not, by name."""
    chain_problems: tuple[str, ...] = ()
    """What is wrong in files of chains, a sentence each."""
    opinions: tuple[Opinion, ...] = ()
    """What was said of variants, by part, then number; only of those of which anything was said."""
    opinions_problem: str = ""
    """Why what was said cannot be read; one sentence, empty where it can."""
    plan: PlanNow = PlanNow()
    run: RunNow = RunNow()
    tempos: tuple[TempoRead, ...] = ()
    """What the songs' tempo files say, so that the screen reads none."""


class Ready(msgspec.Struct, frozen=True, kw_only=True):
    """The session stands; what was left unfinished has been judged."""


class Idle(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked is over, however it ended; nothing sounds."""


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """One line of progress."""

    text: str


class Mended(msgspec.Struct, frozen=True, kw_only=True):
    """A pass that an earlier run left unfinished was dealt with."""

    text: str


class StreamOpened(msgspec.Struct, frozen=True, kw_only=True):
    """The stream of a wiring runs; nothing sounds yet."""

    wiring: Wiring
    opened: Opened


class StreamClosed(msgspec.Struct, frozen=True, kw_only=True):
    """There is no stream any more."""

    reason: str = ""
    """What went wrong; empty where it was closed as asked."""


class Claimed(msgspec.Struct, frozen=True, kw_only=True):
    """A pass has its number."""

    part: str
    number: int
    chain: str


class RollBegins(msgspec.Struct, frozen=True, kw_only=True):
    """Something begins to play or to listen."""

    roll: Rolling


class RollEnds(msgspec.Struct, frozen=True, kw_only=True):
    """It is over."""


class ClickDone(msgspec.Struct, frozen=True, kw_only=True):
    """The test click was measured, before a pass or by itself."""

    delay: Delay


class Measuring(msgspec.Struct, frozen=True, kw_only=True):
    """What a step of the set-up shows now."""

    live: Live


class StepDone(msgspec.Struct, frozen=True, kw_only=True):
    """A step of the set-up was measured, and is written."""

    record: SetupRecord


class ListeningStands(msgspec.Struct, frozen=True, kw_only=True):
    """What is listened to has changed, or its loudness is known now."""

    now: ListeningNow


class BlindStands(msgspec.Struct, frozen=True, kw_only=True):
    """A blind sitting has begun, an answer is noted, or it is over."""

    now: SittingNow
    told: tuple[Comparison, ...] = ()
    """What sittings over these sounds have come to, everybody's; empty while this one is open."""


class SoundsRead(msgspec.Struct, frozen=True, kw_only=True):
    """What there is to listen to of a part."""

    part: str
    now: ListeningNow | None
    said: tuple[str, ...] = ()
    """What had to be left out, a line each."""
    problem: str = ""
    """Why there is nothing; one sentence, empty where there is."""


class RunStands(msgspec.Struct, frozen=True, kw_only=True):
    """A run has moved on, or the plan was changed."""

    plan: PlanNow
    run: RunNow


class PassDone(msgspec.Struct, frozen=True, kw_only=True):
    """A pass left a variant."""

    variant: Variant
    fault: str | None
    interrupted: bool


class HandingOver(msgspec.Struct, frozen=True, kw_only=True):
    """A hand-over goes on."""

    now: HandoverNow


class HandOverDone(msgspec.Struct, frozen=True, kw_only=True):
    """A hand-over is over."""

    done: HandedOver | None = None
    """What it holds; None where it was stopped, to be gone on with."""


class Stopped(msgspec.Struct, frozen=True, kw_only=True):
    """It was stopped before anything was recorded that is worth keeping."""


class Trouble(msgspec.Struct, frozen=True, kw_only=True):
    """Something could not be done."""

    text: str
    """What is wrong, where, and the way out."""
    kind: Literal["use", "device"] = "use"


class Disk(msgspec.Struct, frozen=True, kw_only=True):
    """How much the session's disk has left."""

    free_bytes: int


class Counted(msgspec.Struct, frozen=True, kw_only=True):
    """What the callback did so far."""

    counters: Counters


class Devices(msgspec.Struct, frozen=True, kw_only=True):
    """What the system offers."""

    devices: DeviceList


class DiRead(msgspec.Struct, frozen=True, kw_only=True):
    """What a part's newest DI is."""

    part: str
    facts: AudioFacts | None
    problem: str = ""
    """Why it cannot be played; one sentence, empty where it can."""


class DiChecked(msgspec.Struct, frozen=True, kw_only=True):
    """Whether a part's newest DI is ready to be sent."""

    part: str
    asked: HitsAsked
    checked: Checked | None
    problem: str = ""
    """Why it could not be checked; one sentence, empty where it could."""


class HitsCompared(msgspec.Struct, frozen=True, kw_only=True):
    """A part's hits beside those of another part, or of the song's backing track."""

    part: str
    other: str
    """Name of the other part; empty for the backing track."""
    compared: Doubles | None
    shift: int = 0
    """Frame of the part's DI at which the other recording begins, by their time stamps."""
    problem: str = ""
    """Why they could not be compared; one sentence, empty where they could."""


class SoundsCompared(msgspec.Struct, frozen=True, kw_only=True):
    """What is different between two sounds of a part."""

    part: str
    a: SoundName
    b: SoundName
    apart: SoundsApart | None
    problem: str = ""
    """Why they could not be compared; one sentence, empty where they could."""


class VariantRead(msgspec.Struct, frozen=True, kw_only=True):
    """All that is known of a variant, and what it is compared with."""

    part: str
    number: int
    variant: Variant | None
    earlier: Variant | None = None
    """The pass before it of the same part through the same chain, where there is one."""
    problem: str = ""
    """Why it cannot be read; one sentence, empty where it can."""


class HistoryRead(msgspec.Struct, frozen=True, kw_only=True):
    """All that happened to a variant and was said of it."""

    part: str
    number: int
    happened: tuple[Happening, ...]
    """Oldest first."""
    problem: str = ""
    """Why it cannot be read; one sentence, empty where it can."""


class Outlined(msgspec.Struct, frozen=True, kw_only=True):
    """The outline of a file of the session."""

    path: str
    """Relative to the session's folder."""
    outlines: Outlines | None
    problem: str = ""


class Closeup(msgspec.Struct, frozen=True, kw_only=True):
    """Single samples of a file of the session."""

    path: str
    at_frame: int
    samples: bytes
    """Signed 16-bit integers, for the eye only."""


News = (
    Snapshot
    | Ready
    | Idle
    | Said
    | Mended
    | StreamOpened
    | StreamClosed
    | Claimed
    | RollBegins
    | RollEnds
    | ClickDone
    | Measuring
    | StepDone
    | RunStands
    | ListeningStands
    | SoundsRead
    | BlindStands
    | PassDone
    | HandingOver
    | HandOverDone
    | Stopped
    | Trouble
    | Disk
    | Counted
    | Devices
    | DiRead
    | DiChecked
    | HitsCompared
    | SoundsCompared
    | VariantRead
    | HistoryRead
    | Outlined
    | Closeup
)

"""What a face asks of a session at the desk: frozen values in a queue."""

from __future__ import annotations

import msgspec

from audio.vocab import setup
from audio.vocab.balance import Balance
from audio.vocab.blind import Mode, Said
from audio.vocab.chain import Chain
from audio.vocab.checked import HitsAsked
from audio.vocab.handover import HandoverAsked
from audio.vocab.layers import SoundName
from audio.vocab.listening import Steer
from audio.vocab.section import Section
from audio.vocab.wiring import Wiring


class OpenStream(msgspec.Struct, frozen=True, kw_only=True):
    """Open the stream of the session's wiring."""


class Watch(msgspec.Struct, frozen=True, kw_only=True):
    """Open the stream of another wiring, to see its levels; a pass goes through it only once chosen."""

    wiring: Wiring


class CloseStream(msgspec.Struct, frozen=True, kw_only=True):
    """Let go of the device."""


class RunStep(msgspec.Struct, frozen=True, kw_only=True):
    """Measure one step of the set-up."""

    asked: setup.Asked
    chain: str = ""
    """What is plugged in, as the engineer says."""


class RunPass(msgspec.Struct, frozen=True, kw_only=True):
    """Run one pass."""

    part: str
    chain: str
    section: Section | None = None
    """The stretch to be played; the whole DI where left out."""


class Listen(msgspec.Struct, frozen=True, kw_only=True):
    """Let the sounds of a part roll on the listen outputs until it is stopped; nothing is sent."""

    part: str
    steers: tuple[Steer, ...] = ()
    """What was changed before it began, in order."""


class BeginRun(msgspec.Struct, frozen=True, kw_only=True):
    """Begin a run over the plan's lines that are still to do, or go on with one that is held."""

    repeat_redo: bool = False
    """A pass to be done again is repeated once before the run is held."""


class RunLine(msgspec.Struct, frozen=True, kw_only=True):
    """Play the line at which the run stands; a person said go."""

    key: str
    """Of the line whose card the person saw: another one is refused."""


class HoldRun(msgspec.Struct, frozen=True, kw_only=True):
    """Hold the run; nothing sounds before somebody goes on."""

    reason: str = "held by hand"


class EndRun(msgspec.Struct, frozen=True, kw_only=True):
    """End the run; what is left to do stays in the plan."""


class SkipLine(msgspec.Struct, frozen=True, kw_only=True):
    """Leave a line out, or take it in again."""

    key: str
    skipped: bool = True


class AgainLine(msgspec.Struct, frozen=True, kw_only=True):
    """Have a line that is done played once more; what it left stays."""

    key: str


class OrderLines(msgspec.Struct, frozen=True, kw_only=True):
    """Offer the plan's lines in an order made by hand; without keys in the one that replugs least."""

    keys: tuple[str, ...] = ()


class WantPasses(msgspec.Struct, frozen=True, kw_only=True):
    """Add passes to ``plan.yaml``: each of the parts through each of the chains."""

    parts: tuple[str, ...]
    chains: tuple[str, ...]
    section: Section | None = None


class SaveChain(msgspec.Struct, frozen=True, kw_only=True):
    """Write a chain as a new file: of the session, or of the user's own folder."""

    chain: Chain
    own: bool = False


class SayOfVariant(msgspec.Struct, frozen=True, kw_only=True):
    """Note in the journal what somebody says of a variant; what is None is left as it was."""

    part: str
    number: int
    rating: int | None = None
    """1 to 5; 0 takes it back."""
    words: str | None = None
    photo: str | None = None
    called: str | None = None
    """Another name for it; an empty one takes it back."""
    chain: str | None = None
    """Name of the chain it was really made through."""
    discarded: bool | None = None
    balance: Balance | None = None
    """Of its microphones, by the names of their returns."""
    keeper: bool | None = None
    """Whether it is chosen, with the balance that holds then."""
    reason: str | None = None
    """Why it is kept; empty where nobody says so."""


class BeginBlind(msgspec.Struct, frozen=True, kw_only=True):
    """Begin a blind sitting, or go on with the open one of that listener over the same sounds."""

    part: str
    mode: Mode
    sounds: tuple[str, ...]
    """Their keys."""
    listener: str
    planned: int


class AnswerBlind(msgspec.Struct, frozen=True, kw_only=True):
    """Note an answer to a trial of a blind sitting; the first one counts."""

    number: int
    """Of the sitting."""
    trial: int
    said: Said


class EndBlind(msgspec.Struct, frozen=True, kw_only=True):
    """End a blind sitting before all is answered; it is told then, and marked so."""

    number: int


class AcceptFindings(msgspec.Struct, frozen=True, kw_only=True):
    """Note in the journal that the newest revision of a part is sent as it is, whatever is open of it."""

    part: str


class DropIn(msgspec.Struct, frozen=True, kw_only=True):
    """Make a new variant: an old one with a stretch replaced by the variant of a section."""

    part: str
    base: int
    section: int


class HandOver(msgspec.Struct, frozen=True, kw_only=True):
    """Hand the session's keepers over, or all of it, into a folder; gone on with where it was begun."""

    asked: HandoverAsked
    out: str = ""
    """The folder; empty for the next one of the session's own."""


class ChooseWiring(msgspec.Struct, frozen=True, kw_only=True):
    """Save a wiring as a new file of the session and use it from now on, in an open stream at once."""

    wiring: Wiring
    name: str


class StopPlaying(msgspec.Struct, frozen=True, kw_only=True):
    """Stop a pass that an engine without a face still plays; what was recorded is kept."""


class Count(msgspec.Struct, frozen=True, kw_only=True):
    """Ask what the callback did so far."""


Streaming = (
    OpenStream
    | Watch
    | CloseStream
    | RunStep
    | RunPass
    | Listen
    | ChooseWiring
    | StopPlaying
    | Count
)
"""Orders about the stream, and what sounds by itself."""

Asked = (
    OpenStream
    | Watch
    | CloseStream
    | RunStep
    | RunPass
    | Listen
    | ChooseWiring
    | StopPlaying
    | Count
    | BeginRun
    | RunLine
    | HoldRun
    | EndRun
    | SkipLine
    | AgainLine
    | OrderLines
    | WantPasses
    | SaveChain
    | SayOfVariant
    | DropIn
    | BeginBlind
    | AnswerBlind
    | EndBlind
    | AcceptFindings
    | HandOver
)

SOUNDING = (RunStep, RunPass, RunLine, Listen)
"""Orders after which something sounds."""


class LookForDevices(msgspec.Struct, frozen=True, kw_only=True):
    """Ask what the system offers."""


class LookAtDi(msgspec.Struct, frozen=True, kw_only=True):
    """Read a part's newest DI through."""

    part: str


class CheckPart(msgspec.Struct, frozen=True, kw_only=True):
    """Ask whether a part's newest DI is ready to be sent; measured once a revision, then remembered."""

    part: str
    asked: HitsAsked = HitsAsked()
    """What its hits are held against."""


class CompareHits(msgspec.Struct, frozen=True, kw_only=True):
    """Ask how a part's hits lie beside those of another part, or of the song's backing track."""

    part: str
    other: str = ""
    """Name of the other part; the backing track where left out."""


class LookAtSounds(msgspec.Struct, frozen=True, kw_only=True):
    """Ask what there is to listen to of a part."""

    part: str


class CompareSounds(msgspec.Struct, frozen=True, kw_only=True):
    """Ask what is different between two sounds of a part."""

    part: str
    a: SoundName
    """What would have to change."""
    b: SoundName
    """What it is held against."""


class Outline(msgspec.Struct, frozen=True, kw_only=True):
    """Ask for the outline of a file of the session."""

    path: str
    channel: int = 1


class CloseUp(msgspec.Struct, frozen=True, kw_only=True):
    """Ask for single samples of a file of the session."""

    path: str
    at_frame: int
    frames: int
    channel: int = 1


class LookAtVariant(msgspec.Struct, frozen=True, kw_only=True):
    """Ask for all that is known of one variant."""

    part: str
    number: int


class LookAtHistory(msgspec.Struct, frozen=True, kw_only=True):
    """Ask for all that happened to one variant and was said of it."""

    part: str
    number: int


Looked = (
    LookForDevices
    | LookAtDi
    | CheckPart
    | CompareHits
    | LookAtSounds
    | CompareSounds
    | Outline
    | CloseUp
    | LookAtVariant
    | LookAtHistory
)
"""What changes and plays nothing; answered beside a pass."""

"""What face and engine say to each other: frozen values, one JSON object a line.

Frames in a roll are counted from its start: roll frame 0 is the output frame *and* the input frame of
the stream at which the roll begins. Channels count from 0. Levels are dBFS.

Commands go to the engine, events come back. `decode_command` and `decode_event` refuse anything that
is not exactly one of these values (``msgspec.ValidationError``).
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab import strict_json
from audio.vocab.patching import PatchName
from audio.vocab.wiring import Wiring


class Message(
    msgspec.Struct, frozen=True, tag_field="say", tag=True, forbid_unknown_fields=True, kw_only=True
):
    """Base of everything on the pipe; the class name travels in the key ``say``."""


# ------------------------------------------------------------------ parts of a roll


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """One channel of a file, played once, mixed to some outputs."""

    path: str
    channel: int = 0
    at_frame: int = 0
    """Timeline frame at which its first frame plays."""
    from_frame: int = 0
    """First frame of the file that plays."""
    frames: int | None = None
    """How many frames play; to the file's end when left out."""
    gain_db: float = 0.0
    """Applied before rounding to the converter's codes; exactly 1.0 at 0 dB."""
    outputs: tuple[tuple[int, float], ...] = ()
    """(output, linear gain 0 to 1): its column of the mixing product."""
    reaches_send: bool = False
    """Whether it may be routed to what leads to the amp: the send and the loop cable. The DI, the test
    click and the set-up tone say so; a cue never does, and is refused there at any gain but zero."""
    limit_dbfs: float | None = None
    """Peak after `gain_db` that it must not exceed; a louder file stops the roll before it sounds.
    Sources with a limit keep the smallest of them together."""


class Capture(msgspec.Struct, frozen=True, kw_only=True):
    """One WAV file, recorded in place while the roll runs."""

    path: str
    inputs: tuple[int, ...] = ()
    """Interface inputs, from 0, one channel of the file each, in this order."""
    outputs: tuple[int, ...] = ()
    """Outputs as they were sent, further channels of the file."""
    from_frame: int = 0
    """Roll frame of the file's frame 0."""
    depth: Literal[24, 32] = 24
    """24-bit integers, or 32-bit float."""
    time_reference: int = 0
    """``bext`` TimeReference of frame 0."""
    description: str = ""
    """``bext`` Description; ASCII, at most 256 characters."""


class QuietEnd(msgspec.Struct, frozen=True, kw_only=True):
    """End when every one of `inputs` stayed under its level for so long."""

    after_frame: int
    """Roll frame before which the condition is not looked at."""
    inputs: tuple[int, ...]
    under_dbfs: tuple[float, ...]
    """RMS over 50 ms, one for each input."""
    for_frames: int


class DeadEnd(msgspec.Struct, frozen=True, kw_only=True):
    """Stop with a fade when signal goes out and no microphone answers: a dead amp."""

    output: int
    loud_dbfs: float
    """RMS over 50 ms above which the output counts as sounding."""
    inputs: tuple[int, ...]
    under_dbfs: tuple[float, ...]
    """RMS over 50 ms under which an input counts as silent, one for each input."""
    amps: tuple[int, ...] = ()
    """Which amp each input's microphone stands at, counted from 0; all at one where left out. Each amp
    must answer by one of its microphones."""
    for_frames: int
    """Sounding frames in a row, whatever was quiet between them, without one answer."""


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch of the timeline, first frame included, last excluded."""

    start: int
    end: int


# ------------------------------------------------------------------ commands


class Open(Message, frozen=True, kw_only=True):
    """Open the stream of a wiring and stand by; unused outputs carry zeros."""

    wiring: Wiring


class Roll(Message, frozen=True, kw_only=True):
    """Play sources and record captures on one frame counter; queued while another one rolls.

    What is queued starts when that one ended by itself; any other end drops it, and it is refused.
    """

    roll_id: int
    sources: tuple[Source, ...] = ()
    captures: tuple[Capture, ...] = ()
    length_frames: int
    """Roll frame at which the roll ends by itself; with `quiet`, the limit."""
    quiet: QuietEnd | None = None
    dead: DeadEnd | None = None
    loop: Span | None = None
    """Timeline stretch that repeats from the start of the roll on, until `Loop` clears it."""
    from_frame: int = 0
    """Timeline frame that plays first; what begins inside a file there has to be faded in."""
    splice_frames: int = 0
    """Length of the equal-power fade where the timeline loops or jumps; at least 10 ms are taken."""
    record: str | None = None
    """Path of ``roll.json``, written when the roll has ended, whoever is still there to read it."""
    lock: str | None = None
    """Path of a lock file the engine holds while it writes this roll's captures."""


class Stop(Message, frozen=True, kw_only=True):
    """Fade the outputs out (10 ms) now, end the roll there, keep what was recorded."""


class Extend(Message, frozen=True, kw_only=True):
    """Move the end of the current roll; ignored if that frame is past, or the fade at the end has begun."""

    roll_id: int
    length_frames: int


class Loop(Message, frozen=True, kw_only=True):
    """Set or clear the repeating stretch of the current roll, as soon as the play ring allows.

    A timeline that is elsewhere by then goes on at its start.
    """

    roll_id: int
    span: Span | None


class Jump(Message, frozen=True, kw_only=True):
    """Continue the timeline at another frame, as soon as its files are read there and the ring allows."""

    roll_id: int
    to_frame: int


class Gain(Message, frozen=True, kw_only=True):
    """Change the mixing product of the current roll over a short fade."""

    roll_id: int
    gains: tuple[tuple[int, int, float], ...]
    """(source index, output, linear gain); what is not named stays."""
    at_frame: int | None = None
    """Roll frame at which the fade begins; at once when left out or past."""
    ramp_frames: int = 480
    """Length of the fade; at least 10 ms are taken."""
    shape: Literal["linear", "equal power"] = "equal power"


class Plug(Message, frozen=True, kw_only=True):
    """Tell the simulated room which chain is plugged in now; a real device ignores it."""

    chain: str


class Patch(Message, frozen=True, kw_only=True):
    """Tell the simulated room which cables the engineer has plugged; a real device ignores it."""

    patch: PatchName


class Report(Message, frozen=True, kw_only=True):
    """Ask for `Counters`."""


class Close(Message, frozen=True, kw_only=True):
    """Close the stream; the engine stays."""


class Leave(Message, frozen=True, kw_only=True):
    """Close and end the process; a roll in progress is stopped and kept."""


Command = Open | Roll | Stop | Extend | Loop | Jump | Gain | Plug | Patch | Report | Close | Leave

# ------------------------------------------------------------------ events


class Ready(Message, frozen=True, kw_only=True):
    """The engine's process is up."""

    pid: int
    status_path: str
    """File that holds the status block (`audio.vocab.status`)."""


class Opened(Message, frozen=True, kw_only=True):
    """The stream runs."""

    sample_rate: int
    block_frames: int
    inputs: int
    outputs: int
    sample_format: Literal["int32", "float32"]
    paced: bool
    """False when the simulated room runs as fast as it can."""


class Refused(Message, frozen=True, kw_only=True):
    """A command that could not be obeyed; nothing changed."""

    reason: str
    """One sentence: what is wrong and the way out."""
    roll_id: int | None = None
    use: bool = False
    """True where the engineer's input is at fault, not the device."""


class Started(Message, frozen=True, kw_only=True):
    """A roll began."""

    roll_id: int
    stream_frame: int
    """Stream frame of roll frame 0."""


class Dropout(msgspec.Struct, frozen=True, kw_only=True):
    """A place at which frames were lost, or may have been."""

    at_frame: int
    """Roll frame (input side) at or after which the loss was noticed."""
    kind: Literal["input overflow", "output underflow", "starved", "overrun", "clock step"]
    frames: int | None = None
    """How many frames are missing, where that is known."""


class Recorded(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one capture."""

    path: str
    frames: int
    audio_sha256: str
    """Of the data chunk's bytes, hashed while they were written."""
    peak: tuple[float, ...]
    """Largest absolute sample of each channel, linear."""
    clipped_samples: tuple[int, ...]
    """Samples at full scale, each channel."""


EndReason = Literal[
    "complete",
    "quiet",
    "stopped",
    "dead",
    "disk",
    "slow disk",
    "device",
    "starved",
    "unfit",
    "closed",
]
"""``complete``: reached its length; ``quiet``: `QuietEnd`; ``dead``: `DeadEnd`; ``disk``: a file could
not be written; ``slow disk``: it could not be written as fast as it was recorded, and what was recorded
until then is whole; ``device``: the device went away; ``starved``: a source could not be read in time;
``unfit``: a source holds what must not be sent, and it was not."""


class Ended(Message, frozen=True, kw_only=True):
    """A roll ended; also the content of ``roll.json``."""

    roll_id: int
    reason: EndReason
    stream_frame: int
    """Stream frame of roll frame 0."""
    frames: int
    """Roll frames that were recorded."""
    recorded: tuple[Recorded, ...] = ()
    dropouts: tuple[Dropout, ...] = ()
    send_clipped: int = 0
    """Frames of sources that had to be clipped to full scale."""
    clock_ppm: float | None = None
    """Frames counted against the system's clock, parts per million; none when too short to say."""
    clock_plus_minus_ppm: float | None = None
    note: str = ""
    """What the system said, or which source it was; of a roll that went on, which cue fell silent."""

    @property
    def went_on(self) -> bool:
        """Whether it ended by itself: nothing and nobody cut it short."""
        return self.reason in {"complete", "quiet"}


class Behind(Message, frozen=True, kw_only=True):
    """The disk does not keep up: the roll was stopped, and `Ended` comes when all of it is written."""

    roll_id: int


class Counters(Message, frozen=True, kw_only=True):
    """What the callback did since the stream was opened."""

    callbacks: int
    flagged: int
    share_median: float
    """Time in the callback as a share of the period."""
    share_p999: float
    share_worst: float


class Fault(Message, frozen=True, kw_only=True):
    """The stream is gone; captures are closed and the engine will end."""

    reason: str


class Closed(Message, frozen=True, kw_only=True):
    """The stream was closed as asked."""


Event = Ready | Opened | Refused | Started | Behind | Ended | Counters | Fault | Closed

_encoder = msgspec.json.Encoder()
_commands = msgspec.json.Decoder(Command)
_events = msgspec.json.Decoder(Event)


def encode(message: Message) -> bytes:
    """Return a message as one line of JSON, newline included."""
    return _encoder.encode(message) + b"\n"


def decode_command(line: bytes) -> Command:
    """Return the command in one line of JSON; raise `msgspec.ValidationError` for anything else."""
    command: Command = strict_json.decode(_commands, line)
    return command


def decode_event(line: bytes) -> Event:
    """Return the event in one line of JSON; raise `msgspec.ValidationError` for anything else."""
    event: Event = strict_json.decode(_events, line)
    return event

"""What a face asks of a session at the desk: frozen values in a queue."""

from __future__ import annotations

import msgspec

from audio.vocab import setup
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


class ChooseWiring(msgspec.Struct, frozen=True, kw_only=True):
    """Save a wiring as a new file of the session and use it from now on, in an open stream at once."""

    wiring: Wiring
    name: str


class StopPlaying(msgspec.Struct, frozen=True, kw_only=True):
    """Stop a pass that an engine without a face still plays; what was recorded is kept."""


class Count(msgspec.Struct, frozen=True, kw_only=True):
    """Ask what the callback did so far."""


Asked = OpenStream | Watch | CloseStream | RunStep | RunPass | ChooseWiring | StopPlaying | Count

SOUNDING = (RunStep, RunPass)
"""Orders after which something is sent."""


class LookForDevices(msgspec.Struct, frozen=True, kw_only=True):
    """Ask what the system offers."""


class LookAtDi(msgspec.Struct, frozen=True, kw_only=True):
    """Read a part's newest DI through."""

    part: str


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


Looked = LookForDevices | LookAtDi | Outline | CloseUp | LookAtVariant
"""What changes and plays nothing; answered beside a pass."""

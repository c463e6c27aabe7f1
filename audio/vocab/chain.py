"""A chain as it is set: pedals in order with their knobs, the amps, the microphones on them.

Values only; `audio.vocab.chain_file` reads and writes them. Settings are kept as they were written, a knob
at ``2:30`` as well as one at ``7`` or ``just past noon``: nobody here knows what a knob does.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from audio.vocab.names import twin_key


class Pedal(msgspec.Struct, frozen=True, kw_only=True):
    """One pedal; its name is its own within a chain."""

    name: str
    knobs: dict[str, str] = {}
    """Knobs and switches in the order written, each as it was written."""
    moves: bool = False
    """Modulates by itself (tremolo, chorus, rotary): no two takes of it are alike at the same place."""
    note: str = ""


class AmpAsSet(msgspec.Struct, frozen=True, kw_only=True):
    """One amp."""

    name: str = ""
    """As the wiring's returns name it; may be empty where there is only one."""
    input: str = ""
    knobs: dict[str, str] = {}
    loop: tuple[Pedal, ...] = ()
    """Pedals in its effects loop, in order."""
    speaker: str = ""
    tap: str = ""
    """The tap of its output transformer, such as ``16 ohm``."""
    note: str = ""


class MicAsSet(msgspec.Struct, frozen=True, kw_only=True, rename={"return_name": "return"}):
    """One microphone and what it goes through, up to its return."""

    return_name: str
    """The wiring's name of the return."""
    mic: str = ""
    place: str = ""
    """Where it stands, in words and distances."""
    preamp: str = ""
    gain: str = ""
    pad: str = ""
    filters: str = ""
    outboard: str = ""


class Chain(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that makes the sound, whole: what another chain gave it is in it."""

    name: str
    pedals: tuple[Pedal, ...] = ()
    """In the order the signal runs; none is the bare path."""
    amps: tuple[AmpAsSet, ...] = ()
    mics: tuple[MicAsSet, ...] = ()
    photos: tuple[str, ...] = ()
    """File names; the program never opens them."""
    note: str = ""
    like: str = ""
    """Name of the chain it extends; empty where it stands on its own."""


ChangeKind = Literal["new", "moved", "out", "turn"]
"""Put in; somewhere else in the order, or in another loop or socket; taken out; set otherwise."""


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One thing a hand has to do between two chains."""

    kind: ChangeKind
    at: Literal["pedal", "amp", "mic"]
    name: str
    """Of the pedal, the amp or the return."""
    what: str = ""
    """For ``turn``: the knob or setting; for ``moved``: where it goes, such as ``behind fuzz``."""
    was: str = ""
    now: str = ""


class ChainFile(msgspec.Struct, frozen=True, kw_only=True):
    """A chain that lies in a file."""

    chain: Chain
    file: str
    """Relative to the session's folder; absolute where it lies in the user's own folder."""
    own: bool = False
    """It lies in the user's own folder, for all sessions."""


class Chains(msgspec.Struct, frozen=True, kw_only=True):
    """All chains there are for a session."""

    found: tuple[ChainFile, ...]
    """The session's own first, then those of the user's folder whose names it has not, each by name."""
    problems: tuple[str, ...]
    """What is wrong in files, one sentence each."""

    def named(self, name: str) -> Chain | None:
        """Return the chain of a name, as capitals do not matter; None where it has no file."""
        key = twin_key(name)
        return next((one.chain for one in self.found if twin_key(one.chain.name) == key), None)

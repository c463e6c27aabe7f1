"""What the room does to the send: values that travel to the room's process as JSON."""

from __future__ import annotations

import msgspec

from audio.vocab.patching import PatchName


class Path(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One way from an output of the device to one of its inputs; ways into one input add up."""

    output: int
    """From 1, as on the front of an interface."""
    input: int
    delay_frames: float = 0.0
    """Whole: frames are copied. Fractional: a windowed sinc of 64 taps, so at least 32."""
    gain: float = 1.0
    inverted: bool = False
    drive: float = 0.0
    """Linear gain into an asymmetric saturation; 0 leaves it out."""
    cabinet: bool = False
    """A closed-back loudspeaker, minimum phase: its first arrival is `delay_frames`."""
    noise_rms: float = 0.0
    """White, Gaussian, linear."""
    patches: tuple[PatchName, ...] = ()
    """Patches in which it is there; in all of them when left out."""

    @property
    def is_wire(self) -> bool:
        """Whether every frame comes back bit for bit."""
        coloured = self.cabinet or self.drive or self.noise_rms or self.inverted
        return not coloured and self.gain == 1.0 and float(self.delay_frames).is_integer()


class Hum(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Mains in one input: a fundamental and four multiples."""

    input: int
    hz: float = 50.0
    rms: float = 1e-3
    """Linear, of all lines together."""
    patches: tuple[PatchName, ...] = ()
    """Patches in which it is there; in all of them when left out."""


class RoomSpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The whole room: a duplex device called `name`."""

    paths: tuple[Path, ...]
    hums: tuple[Hum, ...] = ()
    name: str = "reamp-room"
    outputs: int = 4
    inputs: int = 4
    seed: int = 1


class Ready(msgspec.Struct, frozen=True, kw_only=True):
    """The line the room's process prints when it runs."""

    rate: int
    period: int

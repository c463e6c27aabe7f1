"""The wiring: which device, which output feeds the reamp box, which inputs carry microphones.

Channels count from 1 here, as on the front of an interface. Messages and arrays count from 0; the
conversion happens where jobs make rolls.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from audio.vocab.air import ROOM_CELSIUS

AlignTo = Literal["di", "live", "original"]
Depth = Literal[24, 32]


class PortAudioDevice(msgspec.Struct, frozen=True, tag_field="kind", tag="portaudio"):
    """A device of the system, found by host and name, never by index."""

    host: str
    """PortAudio host API name, such as ``JACK Audio Connection Kit`` or ``ALSA``."""
    name: str
    """Device name as `secondpass devices` prints it."""


class Microphone(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One microphone of the simulated room."""

    input: int
    """Interface input, from 1."""
    distance_cm: float = 5.0
    """Path through the air, centimetres; sets delay (in air of 20 °C); level only with `near_field`."""
    cabinet: str = "closed back"
    """Name of a member of the room's cabinet family, or ``none`` for a plain path."""
    gain_db: float = -6.0
    """Gain from the cabinet to the converter, decibels."""
    inverted: bool = False
    """Whether this microphone is wired with the opposite polarity."""
    second_amp: bool = False
    """Whether it stands at the second amplifier."""
    near_field: bool = False
    """Whether distance is heard: less level and less bass further away, as against 5 cm."""


class Bell(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A tone control behind the amplifier of the simulated room: one bell-shaped lift or dip."""

    hz: float = 3000.0
    db: float = 0.0
    """Gain at its middle, decibels."""
    q: float = 1.0
    """Middle over width; the width is that between the points of half the decibels."""


class Amp(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The amplifier of the simulated room."""

    drive_db: float = 12.0
    """Gain into the saturation, decibels; ``0`` with `clean` set is a plain path."""
    asymmetry: float = 0.2
    """0 (odd harmonics only) to 1; adds even-order distortion."""
    clean: bool = False
    """Pass the signal on unchanged: no saturation at all."""
    bell: Bell | None = None
    """Tone control behind it; none when left out."""


class ReampBox(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The reamp box of the simulated room, between the send and the first pedal."""

    gain_db: float = 0.0
    """How far its trim stands from right, decibels: at 0 the amp sees what the guitar gave it."""
    one_leg_dead: bool = False
    """Whether one leg of the balanced line to it is dead: half the voltage arrives."""
    highs_hz: float | None = None
    """Corner of a first-order loss of highs behind it, hertz: a long cable on its instrument output."""
    inverted: bool = False


class DiBox(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The DI input of the simulated room that recorded the parts: box, pad and preamp."""

    input: int = 1
    """Interface input, from 1; what else is in it is pulled while a patch is plugged there."""
    gain_db: float = 0.0
    """How far pad and gain stand from where they stood when the parts were recorded, decibels."""
    noise_dbfs: float = -100.0
    """RMS of its noise while the reamp box is plugged into it, full band."""
    inverted: bool = False


class Hum(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Mains hum in every microphone of the simulated room."""

    hz: float = 50.0
    level_dbfs: float = -90.0


class SimulatedDevice(
    msgspec.Struct, frozen=True, tag_field="kind", tag="simulated", forbid_unknown_fields=True
):
    """The device without hardware: an interface and a room with known truth."""

    pace: Literal["clock", "free"] = "clock"
    """``clock`` runs in real time, ``free`` as fast as the machine can."""
    inputs: int = 8
    outputs: int = 8
    seed: int = 1
    """Seed of every random thing in the room."""
    converter_frames: float = 131.37
    """Output and input converters together, frames, may be fractional; one block of the interface's
    buffer comes on top, as nothing can be captured in the block it is sent in."""
    amp: Amp = Amp()
    second_amp: Amp | None = None
    """A second amplifier fed by the same pedals; none when left out."""
    reamp: ReampBox = ReampBox()
    di_box: DiBox = DiBox()
    microphones: tuple[Microphone, ...] = (Microphone(input=2),)
    noise_dbfs: float = -84.0
    """RMS of the noise at each microphone input, full band."""
    hum: Hum | None = None
    crosstalk_db: float | None = None
    """Level of the send in every microphone input before the air, decibels; none when left out."""
    chains: dict[str, tuple[dict[str, Any], ...]] = {}
    """Pedals in order for each chain name; a name that is not listed has no pedal in it."""
    faults: tuple[dict[str, Any], ...] = ()
    """Faults on request; their words are known to the simulated room alone."""


class Return(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One interface input with one microphone on it."""

    name: str
    input: int
    amp: str = ""
    """Which amp its microphone stands at, where there are several at once."""


class Cue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What people hear at the listen outputs while a pass plays; nothing of it reaches the send."""

    backing_db: float | None = None
    """Gain of the song's backing track, dB, −60 to 0; None plays none."""
    count_in_bars: int = 0
    """Bars counted in before the music, 0 to 4."""
    count_in_dbfs: float = -20.0
    """Peak of the count-in, dBFS, −60 to −6."""


class Loop(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A cable that stays between an output and an input; measured in every roll."""

    output: int
    input: int


class Click(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where the test click starts and what it never exceeds, peak dBFS."""

    start_dbfs: float = -40.0
    ceiling_dbfs: float = -12.0


class Wiring(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Everything that is fixed while the cables stay where they are."""

    name: str
    device: PortAudioDevice | SimulatedDevice
    sample_rate: int
    """Frames a second, 44 100 to 192 000."""
    send_output: int
    """Interface output that feeds the reamp box, from 1 (``send: {output: N}`` in the file)."""
    returns: tuple[Return, ...]
    reference: str
    """Name of the return by which a pass is placed in time."""
    block_frames: int | None = None
    """Frames of one callback; on JACK the server's period rules. 512 when left out."""
    witness_input: int | None = None
    """Interface input that records the send itself (``witness: {input: N}`` in the file)."""
    loop: Loop | None = None
    send_full_scale_dbu: float | None = None
    """Level of a full-scale sine at the send, as the interface's manual says
    (``send: {output: N, full_scale_dbu: 18}`` in the file)."""
    listen_outputs: tuple[int, ...] = ()
    """Where people hear; never overlaps the send (``listen: {outputs: [..]}`` in the file)."""
    cue: Cue | None = None
    """What they hear there during a pass; None is nothing."""
    align_to: AlignTo = "di"
    depth: Depth = 24
    click: Click = Click()
    tail_s: float = 12.0
    """Longest tail, seconds."""
    room_celsius: float = ROOM_CELSIUS
    """Temperature of the air between amp and microphones, degrees, −20 to 50: what turns a delay into a
    distance."""

    @property
    def inputs_needed(self) -> int:
        """Number of the highest input in use."""
        more = [self.witness_input or 0, self.loop.input if self.loop else 0]
        return max([r.input for r in self.returns] + more)

    @property
    def outputs_needed(self) -> int:
        """Number of the highest output in use."""
        return max(self.send_output, self.loop.output if self.loop else 0, *self.listen_outputs, 0)

    @property
    def amps(self) -> tuple[str, ...]:
        """Names of the amps that play at once, in the order of their first microphones."""
        return tuple(dict.fromkeys(one.amp for one in self.returns))

    def beside(self, one: Return) -> Return:
        """Return the return that one is compared with: the reference, or the first of its own amp's."""
        reference = self.reference_return
        if one.amp == reference.amp:
            return reference
        return next(other for other in self.returns if other.amp == one.amp)

    @property
    def reference_at(self) -> int:
        """Index of the return named by `reference`."""
        return [r.name for r in self.returns].index(self.reference)

    @property
    def reference_return(self) -> Return:
        """The return named by `reference`."""
        return self.returns[self.reference_at]

"""A wiring while it is chosen: rows with values that step left and right."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field
from typing import Any, Literal

import msgspec

from audio.vocab.devices import DeviceList
from audio.vocab.errors import UseError
from audio.vocab.wiring import Cue, Loop, PortAudioDevice, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_file import parse_wiring
from audio.vocab.wiring_text import wiring_text
from tui.present.cue import BACKING_STEPS, CAUTION, COUNT_IN_STEPS
from tui.stepping import stepped

RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)

Role = Literal["not used", "return", "reference", "witness"]
ROLES: tuple[Role, ...] = ("not used", "return", "witness")
"""What an input may be step by step; which return is the reference is said by itself."""

MOST = 64
"""Channels of a device that are shown."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A device to choose, with its channels."""

    device: PortAudioDevice | SimulatedDevice
    inputs: int
    outputs: int

    @property
    def words(self) -> str:
        """How it is called."""
        if isinstance(self.device, SimulatedDevice):
            return "simulated room"
        return f"{self.device.name} · {self.device.host}"


@dataclass(slots=True)
class Draft:
    """The wiring as it stands on the screen; nothing of it is used before it is saved."""

    base: Wiring | None
    """The session's, whose click, tail and depth stay, and on its own device the block, too."""
    sample_rate: int
    choices: list[Choice] = field(default_factory=list)
    at: int = 0
    """Which device."""
    send: int = 1
    listen: tuple[int, ...] = ()
    loop: Loop | None = None
    cue: Cue = field(default_factory=Cue)
    """What people hear during a pass; kept while nobody listens, and not wired then."""
    roles: dict[int, Role] = field(default_factory=dict)
    names: dict[int, str] = field(default_factory=dict)
    amps: dict[int, str] = field(default_factory=dict)
    """Which amp a return's microphone stands at, where there are several."""
    note: str = ""
    """What the newest step changed elsewhere."""

    def __post_init__(self) -> None:
        """Begin with the session's own device: it is there before the system was asked."""
        self.choices = self.choices or _own(self.base)
        self._begin()

    @property
    def choice(self) -> Choice | None:
        """The device that is chosen."""
        return self.choices[self.at] if self.choices else None

    def offer(self, devices: DeviceList) -> None:
        """Take what the system offers; the session's own device comes first."""
        chosen = self.choice
        found = _own(self.base)
        for one in devices.devices:
            device = PortAudioDevice(host=one.host, name=one.name)
            if one.full_duplex and all(device != other.device for other in found):
                found.append(
                    Choice(
                        device=device, inputs=min(one.inputs, MOST), outputs=min(one.outputs, MOST)
                    )
                )
        found = [_with_channels(one, devices) for one in found]
        self.choices = found
        self.at = next(
            (i for i, one in enumerate(found) if chosen and one.device == chosen.device), 0
        )
        if chosen is None:
            self._begin()

    def _begin(self) -> None:
        """Take the session's wiring where its device is chosen, else a first guess for the device."""
        base, choice = self.base, self.choice
        self.roles, self.names, self.amps = {}, {}, {}
        self.note, self.cue = "", Cue()
        if base is not None and choice is not None and base.device == choice.device:
            self.send, self.listen, self.loop = base.send_output, base.listen_outputs, base.loop
            self.cue = base.cue or Cue()
            for one in base.returns:
                self.roles[one.input] = "reference" if one.name == base.reference else "return"
                self.names[one.input] = one.name
                self.amps[one.input] = one.amp
            if base.witness_input:
                self.roles[base.witness_input] = "witness"
            return
        outputs = choice.outputs if choice else 1
        self.send = min(3, outputs)
        self.listen = (1, 2) if outputs >= 3 else ()
        self.loop = None

    # ------------------------------------------------------------ steps

    def step_device(self, step: int) -> None:
        """Choose another device."""
        if self.choices:
            at = stepped(range(len(self.choices)), self.at, step)
            if at != self.at:
                self.at = at
                self._begin()

    def step_rate(self, step: int) -> None:
        """Choose another rate."""
        self.note = ""
        at = RATES.index(self.sample_rate) if self.sample_rate in RATES else 1
        self.sample_rate = stepped(RATES, at, step)

    def step_send(self, step: int) -> None:
        """Choose another output for the send; people never listen there."""
        self.note = ""
        outputs = self.choice.outputs if self.choice else 1
        self.send = min(max(self.send + step, 1), max(outputs, 1))
        if self.send in self.listen:
            self.listen = ()
            self.note = f"nobody listens any more: output {self.send} is the send now"
        if self.loop is not None and self.loop.output == self.send:
            self.loop = None
            self.note = "the loop cable is not wired any more: its output is the send now"

    def step_listen(self, step: int) -> None:
        """Choose where people hear: nowhere, or a pair without the send and without the loop."""
        self.note = ""
        outputs = self.choice.outputs if self.choice else 0
        taken = {self.send, self.loop.output if self.loop else 0}
        pairs: list[tuple[int, ...]] = [()]
        pairs += [(n, n + 1) for n in range(1, outputs, 2) if taken.isdisjoint((n, n + 1))]
        at = pairs.index(self.listen) if self.listen in pairs else 0
        self.listen = stepped(pairs, at, step)

    def step_backing(self, step: int) -> None:
        """Choose how loud the song's backing track is heard during a pass, or that it is not."""
        at = _nearest(self.cue.backing_db)
        self._cue(msgspec.structs.replace(self.cue, backing_db=stepped(BACKING_STEPS, at, step)))

    def step_count_in(self, step: int) -> None:
        """Choose how many bars are counted in."""
        bars = stepped(COUNT_IN_STEPS, self.cue.count_in_bars, step)
        self._cue(msgspec.structs.replace(self.cue, count_in_bars=bars))

    def _cue(self, cue: Cue) -> None:
        if not self.listen:
            self.note = "nobody would hear it: choose listen outputs first"
            return
        was_off = self.wired_cue is None
        self.cue, self.note = cue, ""
        if was_off and self.wired_cue is not None:
            self.note = CAUTION

    @property
    def wired_cue(self) -> Cue | None:
        """The cue as it will be wired: none where nothing of it plays, or nobody listens."""
        plays = self.cue.backing_db is not None or self.cue.count_in_bars
        return self.cue if plays and self.listen else None

    def step_loop(self, step: int) -> None:
        """Choose which cable stays: none, or one from an output to the input of the same number."""
        self.note = ""
        choice = self.choice
        top = min(choice.inputs, choice.outputs) if choice else 0
        free = [
            Loop(output=n, input=n)
            for n in range(1, top + 1)
            if n != self.send and n not in self.listen and self.role(n) == "not used"
        ]
        cables: list[Loop | None] = [None, *free]
        at = cables.index(self.loop) if self.loop in cables else 0
        self.loop = stepped(cables, at, step)

    def role(self, number: int) -> Role:
        """Return what an input is."""
        return self.roles.get(number, "not used")

    def step_role(self, number: int, step: int) -> None:
        """Make an input something else; there is at most one witness."""
        now = self.role(number)
        at = ROLES.index("return" if now == "reference" else now)
        self._become(number, stepped(ROLES, at, step))

    def refer(self, number: int) -> None:
        """Make an input the reference: the return by which a pass is placed in time."""
        self._become(number, "reference")

    def _become(self, number: int, role: Role) -> None:
        self.note = ""
        if role in ("reference", "witness"):
            for other, its in list(self.roles.items()):
                if its == role and other != number:
                    self.roles[other] = "return" if role == "reference" else "not used"
                    self.note = f"the {role} moved here from input {other}"
        if self.role(number) == "reference" and role not in ("reference", "return"):
            self.note = "no reference is marked: the first return will place the passes"
        if role != "return" or self.role(number) != "reference":
            self.roles[number] = role
        if role != "not used" and self.loop is not None and self.loop.input == number:
            self.loop = None
            self.note = "the loop cable is not wired any more: its input is used here"

    # ------------------------------------------------------------ the wiring

    def problem(self) -> str:
        """Return what is missing, and the way out; empty when it can be saved."""
        if self.choice is None:
            return "no audio device is there; connect one and press r, or start its server"
        if not self._returns():
            return "no input is a return yet; go to the input a microphone is on and press →"
        return ""

    def refused(self, name: str) -> str | None:
        """Return why this wiring could not be saved under a name, None when it can."""
        try:
            parse_wiring(wiring_text(self.wiring(name)), where="the wiring")
        except UseError as error:
            return str(error).partition("\n")[0]
        return None

    def name_problem(self, number: int, name: str) -> str | None:
        """Return why the microphone of an input cannot be called so, None when it can."""
        tried = copy(self)
        tried.names = self.names | {number: name}
        return tried.refused("tonight")

    def wiring(self, name: str) -> Wiring:
        """Return the wiring; the first return is the reference where none was marked."""
        returns = self._returns()
        marked = [self._name(n) for n, role in self.roles.items() if role == "reference"]
        return self._made(name, returns, marked[0] if marked else returns[0].name)

    def watching(self) -> Wiring:
        """Return a wiring that hears every input of the device, to see where signal arrives."""
        choice = self.choice
        if choice is None:
            raise ValueError("there is no device to listen to")
        returns = tuple(Return(name=f"in {n}", input=n) for n in range(1, choice.inputs + 1))
        wiring = self._made("listening", returns, returns[0].name)
        return msgspec.structs.replace(wiring, witness_input=None, loop=None, cue=None)

    def _made(self, name: str, returns: tuple[Return, ...], reference: str) -> Wiring:
        choice = self.choice
        if choice is None:
            raise ValueError("there is no device to wire")
        witness = next((n for n, role in self.roles.items() if role == "witness"), None)
        kept: dict[str, Any] = {}
        if self.base is not None:
            keys = ["depth", "click", "tail_s", "align_to", "room_celsius"]
            keys += ["block_frames"] if self.base.device == choice.device else []
            same_send = (self.base.device, self.base.send_output) == (choice.device, self.send)
            keys += ["send_full_scale_dbu"] if same_send else []
            kept = {key: getattr(self.base, key) for key in keys}
        return Wiring(
            name=name,
            device=choice.device,
            sample_rate=self.sample_rate,
            send_output=self.send,
            returns=returns,
            reference=reference,
            witness_input=witness,
            loop=self.loop,
            listen_outputs=self.listen,
            cue=self.wired_cue,
            **kept,
        )

    def _returns(self) -> tuple[Return, ...]:
        wired = sorted(n for n, role in self.roles.items() if role in ("return", "reference"))
        return tuple(Return(name=self._name(n), input=n, amp=self.amps.get(n, "")) for n in wired)

    def _name(self, number: int) -> str:
        return self.names.get(number, f"mic {number}")


def _nearest(backing_db: float | None) -> int:
    """Return the step a gain of the backing track stands at, or next to."""
    if backing_db is None:
        return 0
    gains = [one for one in BACKING_STEPS if one is not None]
    return 1 + min(range(len(gains)), key=lambda i: abs(gains[i] - backing_db))


def _own(base: Wiring | None) -> list[Choice]:
    if base is None:
        return []
    device = base.device
    if isinstance(device, SimulatedDevice):
        return [Choice(device=device, inputs=device.inputs, outputs=device.outputs)]
    return [Choice(device=device, inputs=base.inputs_needed, outputs=base.outputs_needed)]


def _with_channels(choice: Choice, devices: DeviceList) -> Choice:
    """Return a choice with the channels the system says it has."""
    for one in devices.devices:
        if PortAudioDevice(host=one.host, name=one.name) == choice.device:
            return Choice(
                device=choice.device, inputs=min(one.inputs, MOST), outputs=min(one.outputs, MOST)
            )
    return choice

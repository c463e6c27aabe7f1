"""A room to set up in: an amp with two microphones, a DI input, a witness, and what may be wrong there.

Gains are chosen so that a right send comes back into the DI input at 0 dB.
"""

from __future__ import annotations

from typing import Literal

from audio.vocab.patching import AMP_HEARS, PatchName
from jackroom.spec import Hum, Path

State = Literal[
    "right",
    "hum at 50",
    "hum at 60",
    "leak",
    "monitor leak",
    "wrong input",
    "send 6 dB hot",
    "one leg dead",
    "inverted microphone",
    "dead microphone",
]

SEND = 3
DI, CLOSE, FAR, WITNESS = 1, 2, 3, 4
"""Inputs of the four; the DI input hears nothing but noise in the normal patch."""

CLOSE_FRAMES, FAR_FRAMES, WIRE_FRAMES = 131.37, 277.61, 100
HUM_RMS = 10.0 ** (-50.0 / 20.0)
LIFT = 10.0 ** (-30.0 / 20.0)
"""What the ground lift leaves of a hum."""
LEAK = 10.0 ** (-40.0 / 20.0)
MONITOR_LEAK = 10.0 ** (-12.0 / 20.0)
MIXER_FRAMES = 300
"""How much later than the send the monitor mix brings it to the witness."""
BOX_PATH, LEAK_PATH = 4, 8
"""Numbers of the path from the box into the DI input, and of either leak, for who turns their knobs."""
NOISE_RMS = 10.0 ** (-84.0 / 20.0)

_AMP: tuple[PatchName, ...] = tuple(sorted(AMP_HEARS))


def room_in(state: State) -> dict[str, tuple[Path, ...] | tuple[Hum, ...]]:
    """Return ``paths`` and ``hums`` of a `RoomSpec` of four inputs in that state."""
    send = {"send 6 dB hot": 10.0 ** (6.0 / 20.0), "one leg dead": 0.5}.get(state, 1.0)
    close = Path(
        output=SEND,
        input=DI if state == "wrong input" else CLOSE,
        delay_frames=CLOSE_FRAMES,
        gain=0.4,
        drive=4.0 * send,
        cabinet=True,
        patches=_AMP,
    )
    far = Path(
        output=SEND,
        input=FAR,
        delay_frames=FAR_FRAMES,
        gain=0.0 if state == "dead microphone" else 0.3,
        inverted=state == "inverted microphone",
        drive=4.0 * send,
        cabinet=True,
        patches=_AMP,
    )
    return {
        "paths": (close, far, *_cables(send), *_hiss(), *_leak(state)),
        "hums": _hums(state),
    }


def _cables(send: float) -> tuple[Path, ...]:
    witness, boxed, straight = (
        (WITNESS, send, (*_AMP, "unplugged")),
        (DI, send, ("box to DI input",)),
        (DI, 1.0, ("send to input",)),
    )
    return tuple(
        Path(output=SEND, input=number, delay_frames=WIRE_FRAMES, gain=gain, patches=patches)
        for number, gain, patches in (witness, boxed, straight)
    )


def _hiss() -> tuple[Path, ...]:
    """Return the noise of the preamps, which no cable ends."""
    return tuple(
        Path(output=SEND, input=number, gain=0.0, noise_rms=NOISE_RMS) for number in (CLOSE, FAR)
    )


def _leak(state: State) -> tuple[Path, ...]:
    if state == "leak":
        return (Path(output=SEND, input=DI, delay_frames=WIRE_FRAMES, gain=LEAK, patches=_AMP),)
    if state == "monitor leak":
        late = WIRE_FRAMES + MIXER_FRAMES
        return (
            Path(output=SEND, input=WITNESS, delay_frames=late, gain=MONITOR_LEAK, patches=_AMP),
        )
    return ()


def _hums(state: State) -> tuple[Hum, ...]:
    if state not in {"hum at 50", "hum at 60"}:
        return ()
    hz = 50.0 if state == "hum at 50" else 60.0
    return tuple(
        Hum(input=number, hz=hz, rms=rms, patches=patches)
        for number in (CLOSE, FAR)
        for rms, patches in ((HUM_RMS, ("amp", "plugged")), (HUM_RMS * LIFT, ("lifted",)))
    )

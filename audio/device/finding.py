"""Which of the devices the system lists is the one a wiring names; pure."""

from __future__ import annotations

from collections.abc import Sequence

from audio.device.hosts import JACK
from audio.vocab.devices import DeviceFacts
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.wiring import PortAudioDevice, Wiring

NO_JACK_SERVER = (
    "no JACK server answers; start one first: jackd or PipeWire's, on Debian, apt install jackd2"
)


def find(named: PortAudioDevice, *, hosts: Sequence[str], devices: Sequence[DeviceFacts]) -> int:
    """Return the place in `devices` of the one a wiring names.

    Names must be the same; where none is, the only one that differs in case alone is taken.

    Parameters
    ----------
    named
        Host and name, as the wiring has them.
    hosts
        Every host of the system.
    devices
        Every device of the system.

    Returns
    -------
    int
        Index into `devices` of a device that plays and records.

    Raises
    ------
    UseError
        If host or device is not there, is there twice, or does not play and record on one clock.
    """
    host = _host(named.host, hosts)
    there = [i for i, d in enumerate(devices) if d.host == host]
    name = _match(named.name, [devices[i].name for i in there])
    if name is None:
        offer = _offer([devices[i] for i in there])
        raise UseError(f"no device on {host} is called {named.name!r}; {offer}")
    found = [i for i in there if devices[i].name == name]
    duplex = [i for i in found if devices[i].full_duplex]
    if not duplex:
        raise UseError(_one_way([devices[i] for i in found]))
    if len(duplex) > 1:
        raise UseError(f"{len(duplex)} devices on {host} are called {name!r}; unplug all but one")
    return duplex[0]


def check_channels(wiring: Wiring, facts: DeviceFacts) -> None:
    """Raise `UseError` with both numbers where a wiring uses a channel the device does not have."""
    for word, needed, has in (
        ("input", wiring.inputs_needed, facts.inputs),
        ("output", wiring.outputs_needed, facts.outputs),
    ):
        if needed > has:
            raise UseError(
                f"the wiring uses {word} {needed}, but {facts.name!r} has {has} {word}s; change the wiring"
            )


def _host(named: str, hosts: Sequence[str]) -> str:
    host = _match(named, hosts)
    if host is not None:
        return host
    if named.casefold() == JACK.casefold():
        raise DeviceError(NO_JACK_SERVER)
    there = ", ".join(hosts) or "none"
    raise UseError(f"this system has no audio host called {named!r}; it has: {there}")


def _match(wanted: str, names: Sequence[str]) -> str | None:
    if wanted in names:
        return wanted
    close = {n for n in names if n.casefold() == wanted.casefold()}
    return close.pop() if len(close) == 1 else None


def _offer(there: Sequence[DeviceFacts]) -> str:
    names = ", ".join(repr(d.name) for d in there if d.full_duplex)
    return f"it offers: {names}" if names else "it offers none that both plays and records"


def _one_way(found: Sequence[DeviceFacts]) -> str:
    name = found[0].name
    if any(d.inputs for d in found) and any(d.outputs for d in found):
        return (
            f"{name!r} is an input device and an output device with a clock each, and two clocks drift "
            "apart; name one device that both plays and records"
        )
    if not (found[0].inputs or found[0].outputs):
        return (
            f"PortAudio sees no channels on {name!r}; on JACK, rename a client whose name holds signs such "
            "as ( ) [ ] + *"
        )
    does, lacks = ("records", "play") if found[0].inputs else ("plays", "record")
    return (
        f"{name!r} only {does}; name one device that can {lacks} too, because two devices run on "
        "two clocks"
    )

"""From a wiring to the device it names, opened."""

from __future__ import annotations

from audio.device.port import Device
from audio.vocab.wiring import SimulatedDevice, Wiring


def open_device(wiring: Wiring) -> Device:
    """Return the device of a wiring, opened and silent.

    Each kind is loaded only when it is asked for: the simulated room runs where PortAudio is missing, and
    loading PortAudio touches the system's audio.

    Parameters
    ----------
    wiring
        Valid, as the wiring's loader returns it.

    Returns
    -------
    Device
        Plays silence until it is started; the caller closes it. A `UseError` says what the wiring names
        that the system does not have, a `DeviceError` which library, server or device is missing.
    """
    if isinstance(wiring.device, SimulatedDevice):
        from audio.device.simulated.device import SimulatedRoom  # noqa: PLC0415 - see above

        return SimulatedRoom(wiring)
    from audio.device.portaudio import PortAudioDevice  # noqa: PLC0415 - see above

    return PortAudioDevice(wiring.device, wiring)

"""What the system offers, asked in a fresh process: ``python -m audio.device.listing``.

PortAudio freezes its list when it is loaded and may take a process down with it, so nobody asks it in
a process of his own. Prints one JSON object, `audio.vocab.devices.DeviceList`, and exits 0 also where
there is only a reason.
"""

from __future__ import annotations

import sys

import msgspec

from audio.vocab.devices import DeviceList
from audio.vocab.errors import DeviceError

NO_DEVICE = (
    "PortAudio finds no audio device; connect an interface or start a JACK server (package jackd2)"
)


def look() -> DeviceList:
    """Return the system's devices, or the reason why there are none."""
    try:
        from audio.device.portaudio import list_devices  # noqa: PLC0415 - raises where PortAudio is missing

        devices = list_devices()
    except DeviceError as error:
        return DeviceList(reason=str(error))
    return DeviceList(devices=devices, reason="" if devices else NO_DEVICE)


def main() -> None:
    """Print the list as one line of JSON."""
    sys.stdout.buffer.write(msgspec.json.encode(look()) + b"\n")


if __name__ == "__main__":
    main()

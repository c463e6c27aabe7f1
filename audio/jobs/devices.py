"""What the system offers, asked of a fresh child: audio libraries freeze their lists when loaded."""

from __future__ import annotations

import subprocess

import msgspec

from audio.vocab import strict_json
from audio.vocab.children import command, environment
from audio.vocab.devices import DeviceList
from audio.vocab.errors import DeviceError

LIMIT_S = 15.0


def list_devices() -> DeviceList:
    """Ask what the system offers.

    Returns
    -------
    DeviceList
        The system's devices, or why there are none.

    Raises
    ------
    DeviceError
        If asking takes the child down or takes too long.
    """
    try:
        asked = subprocess.run(  # noqa: S603 - this program's own module
            command("audio.device.listing"),
            capture_output=True,
            timeout=LIMIT_S,
            check=True,
            env=environment(),
        )
        return strict_json.decode(msgspec.json.Decoder(DeviceList), asked.stdout)
    except subprocess.TimeoutExpired as error:
        text = f"the audio system did not answer within {LIMIT_S:.0f} s; check its driver or server"
        raise DeviceError(text) from error
    except (subprocess.CalledProcessError, msgspec.ValidationError) as error:
        raise DeviceError(
            "asking the audio system for its devices failed; check its driver or server"
        ) from error

"""What differs between the host systems behind PortAudio: sample format, block size, names.

Only JACK has been run; the other rows follow PortAudio's sources and documentation (read).
"""

from __future__ import annotations

from dataclasses import dataclass

from audio.device.port import SampleFormat

JACK = "JACK Audio Connection Kit"
"""PortAudio's name for it; PipeWire's JACK server answers under the same name."""


@dataclass(frozen=True, slots=True)
class HostRule:
    """How a stream is opened on one host."""

    sample_format: SampleFormat
    why: str
    server_period: bool = False
    """True where the server's period rules and any other block size would add delay."""


_RULES = {
    JACK: HostRule("float32", "a JACK server carries floats throughout", server_period=True),
    "ALSA": HostRule(
        "int32", "the converter takes integers; PortAudio's floats are dithered and scaled"
    ),
    "ASIO": HostRule("int32", "the driver's buffers are integers"),
    "Windows WDM-KS": HostRule("int32", "the kernel's buffers are integers"),
    "Core Audio": HostRule("float32", "the system's buffers are floats, exact for 24 bits"),
}

_MIXED = HostRule(
    "float32", "a sound server that mixes in floats stands between us and the converter"
)


def rule_for(host: str) -> HostRule:
    """Return how a stream is opened on the host PortAudio calls `host`."""
    return _RULES.get(host, _MIXED)

"""What the system offers: devices as `secondpass devices` prints them."""

from __future__ import annotations

import msgspec


class DeviceFacts(msgspec.Struct, frozen=True, kw_only=True):
    """One device, named as a wiring names it."""

    host: str
    name: str
    inputs: int
    """Channels it can record at most."""
    outputs: int
    """Channels it can play at most."""
    default_rate: float
    """Frames a second it runs at when nobody asks for another; on JACK the only one."""

    @property
    def full_duplex(self) -> bool:
        """Whether it plays and records on one clock, as a pass needs."""
        return self.inputs > 0 and self.outputs > 0


class DeviceList(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the system offers, or why it offers nothing."""

    devices: tuple[DeviceFacts, ...] = ()
    reason: str = ""
    """One sentence: what is missing and the way out; empty when there are devices."""

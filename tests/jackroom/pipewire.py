"""A private PipeWire in place of JACK, without hardware, session bus or session manager.

Clients find its own libjack through the loader's path, as ``pw-jack`` does it (Debian: pipewire and
pipewire-jack). Its dummy driver gives the clock; nobody connects anything but the clients themselves.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from jackroom.server import DIES_WITH_US, TESTS, Server, end

LIBRARIES = "/usr/${LIB}/pipewire-0.3/jack"
"""Where ``pw-jack`` finds libjack; the loader knows what ``${LIB}`` is."""

_CONFIG = """
context.properties = {{
    core.daemon = true
    core.name = pipewire-0
    support.dbus = false
    default.clock.rate = {rate}
    default.clock.allowed-rates = [ {rate} ]
    default.clock.quantum = {period}
    default.clock.min-quantum = 32
    default.clock.max-quantum = 8192
}}
context.spa-libs = {{ support.* = support/libspa-support }}
context.modules = [
    {{ name = libpipewire-module-rt args = {{ nice.level = -11 rt.prio = 60 }}
       flags = [ ifexists nofail ] }}
    {{ name = libpipewire-module-protocol-native }}
    {{ name = libpipewire-module-metadata }}
    {{ name = libpipewire-module-spa-node-factory }}
    {{ name = libpipewire-module-client-node }}
    {{ name = libpipewire-module-access args = {{ }} }}
    {{ name = libpipewire-module-adapter }}
    {{ name = libpipewire-module-link-factory }}
]
context.objects = [
    {{ factory = metadata args = {{ metadata.name = default }} }}
    {{ factory = metadata args = {{ metadata.name = settings }} }}
    {{ factory = spa-node-factory args = {{
        factory.name = support.node.driver node.name = Dummy-Driver node.group = pipewire.dummy
        priority.driver = 20000 }} }}
    {{ factory = spa-node-factory args = {{
        factory.name = support.node.driver node.name = Freewheel-Driver priority.driver = 19000
        node.group = pipewire.freewheel node.freewheel = true }} }}
]
"""


class PipeWire(Server):
    """A server as `jackroom.rig` takes it."""

    def start(self, *, rate: int, period: int) -> None:
        """Start it; one with the same folder must have ended before."""
        config = Path(self.env["PIPEWIRE_RUNTIME_DIR"]) / "room.conf"
        config.write_text(_CONFIG.format(rate=rate, period=period))
        self.process = subprocess.Popen(
            [*DIES_WITH_US, "pipewire", "-c", str(config)],
            env=self.env, stdin=subprocess.DEVNULL, stdout=self.log, stderr=self.log,
            start_new_session=True,
        )  # fmt: skip


@contextmanager
def pipewire_server(*, rate: int, period: int, log: IO[bytes]) -> Iterator[Server]:
    """Yield a `Server` that answers as JACK does."""
    with tempfile.TemporaryDirectory(prefix="secondpass-pw-") as folder:
        env = os.environ | {
            "PIPEWIRE_RUNTIME_DIR": folder,
            "XDG_RUNTIME_DIR": folder,
            "LD_LIBRARY_PATH": LIBRARIES,
            "JACK_NO_START_SERVER": "1",
            "PYTHONPATH": os.pathsep.join([str(TESTS), str(TESTS.parent)]),
        }
        server = PipeWire("pipewire-0", env, -1, log)
        server.start(rate=rate, period=period)
        try:
            yield server
        finally:
            end(server.process)

"""The room's process: a JACK client that other clients take for an interface.

Run as ``python -m jackroom.room_client SERVER SPEC_JSON``. Prints a `Ready` line, then obeys one command
a line on standard input; ends with its input or with the server.

======================  =================================================
``period N``            the server runs in periods of so many frames
``unplug PORT``         every cable is taken out of a port of the room
``plug SOURCE PORT``    a cable is put in, both ports by their full names
``vanish PORT...``      ports of the room go away
``patch NAME...``       the room's own cables are plugged so
``turn N GAIN``         path N of the spec, from 1, gets another gain
======================  =================================================
"""

from __future__ import annotations

import gc
import os
import sys
import threading
import time

import jack
import msgspec

from audio.vocab.patching import PatchName
from jackroom.paths import Paths
from jackroom.spec import Ready, RoomSpec

ANSWER_WITHIN_S = 10.0


def connect(name: str, server: str) -> jack.Client:
    """Return a client of `server`, waiting until it has come up; `jack.JackOpenError` if it never does."""
    give_up = time.monotonic() + ANSWER_WITHIN_S
    while True:
        try:
            return jack.Client(name, use_exact_name=True, no_start_server=True, servername=server)
        except jack.JackOpenError:
            if time.monotonic() > give_up:
                raise
            time.sleep(0.02)


def install(client: jack.Client, spec: RoomSpec) -> Paths:
    """Register the ports an interface would have, and let the room answer on them."""
    paths = Paths(spec, rate=client.samplerate)
    flags = {"is_physical": True, "is_terminal": True}
    sent = [client.inports.register(f"playback_{i + 1}", **flags) for i in range(spec.outputs)]
    returned = [client.outports.register(f"capture_{i + 1}", **flags) for i in range(spec.inputs)]

    def process(_frames: int) -> None:
        paths.run([p.get_array() for p in sent], [p.get_array() for p in returned])

    client.set_process_callback(process)
    return paths


def say(line: str) -> None:
    """Send one line to whoever started this process."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def obey(client: jack.Client, paths: Paths) -> None:
    """Carry out the commands on standard input until it ends."""
    for line in sys.stdin:
        match line.split():
            case ["period", frames]:
                client.blocksize = int(frames)
            case ["unplug", port]:
                unplug(client, port)
            case ["plug", source, to]:
                client.connect(source, to)
            case ["vanish", *ports]:
                for port in ports:
                    client.get_port_by_name(f"{client.name}:{port}").unregister()
            case ["patch", *words]:
                paths.patch(msgspec.convert(" ".join(words), PatchName))
            case ["turn", number, gain]:
                paths.turn(int(number), float(gain))
            case _:
                message = f"unknown command: {line!r}"
                raise ValueError(message)
        say("done")


def unplug(client: jack.Client, port: str) -> None:
    """Take every cable out of a port of the room, as a patch bay's user would."""
    there = client.get_port_by_name(f"{client.name}:{port}")
    for other in client.get_all_connections(there):
        client.disconnect(*((other, there) if there.is_input else (there, other)))


def main() -> None:
    """Run the room."""
    server, text = sys.argv[1:]
    spec = msgspec.json.decode(text, type=RoomSpec)
    jack.set_error_function(lambda _message: None)
    client = connect(spec.name, server)
    paths = install(client, spec)
    client.set_shutdown_callback(
        lambda *_: os._exit(0)
    )  # nothing is left to close with the server gone
    gc.collect()
    gc.freeze()
    with client:
        ready = Ready(rate=client.samplerate, period=client.blocksize)
        say(msgspec.json.encode(ready).decode())
        listener = threading.Thread(target=obey, args=(client, paths))
        listener.start()
        listener.join()


if __name__ == "__main__":
    main()

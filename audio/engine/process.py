"""The engine's process: commands in on standard input, events out on standard output.

Started as ``python -m audio.engine.process`` so that nothing of the face is loaded here. It ignores
Ctrl+C (the face decides what that means), and when the face dies it finishes a roll that keeps a
record, stops any other, and leaves.
"""

from __future__ import annotations

import gc
import os
import queue
import shutil
import signal
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import msgspec

from audio.engine.desk import Desk, Garbled, Gone
from audio.files.platform import memory_folder
from audio.vocab.messages import Command, Ended, Event, Leave, Ready, decode_command, encode
from audio.vocab.status import StatusWriter

SWITCH_INTERVAL_S = 0.001
"""How long another thread may keep the interpreter from the callback."""


class Outlet:
    """The pipe to the face; once it is broken, nothing more is said."""

    def __init__(self, pipe: BinaryIO) -> None:
        self._pipe = pipe
        self._lock = threading.Lock()
        self._broken = False

    def send(self, event: Event) -> None:
        """Write one event."""
        with self._lock:
            if self._broken:
                return
            try:
                self._pipe.write(encode(event))
                self._pipe.flush()
            except OSError:
                self._broken = True


def _claim_stdout() -> BinaryIO:
    """Keep the real standard output for events; whatever libraries print goes to standard error."""
    mine = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return mine


def listened(pipe: BinaryIO) -> Iterator[Command | Garbled | Gone]:
    """Yield what the face says, line after line, and at the end that it is gone.

    Parameters
    ----------
    pipe
        Read to its end.

    Yields
    ------
    Command or Garbled or Gone
        `Garbled` in the place of a line that is no command.
    """
    for line in pipe:
        try:
            yield decode_command(line)
        except msgspec.ValidationError as error:
            yield Garbled(str(error))
    yield Gone()


def _listen(inbox: queue.SimpleQueue[Command | Ended | Gone | Garbled]) -> None:
    for heard in listened(sys.stdin.buffer):
        inbox.put(heard)


def main() -> None:
    """Run until told to leave, until the face is gone and nothing is left to finish, or until a fault."""
    outlet = Outlet(_claim_stdout())
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    folder = Path(tempfile.mkdtemp(prefix="secondpass-engine-", dir=memory_folder()))
    status_path = folder / "status"
    desk = Desk(send=outlet.send, status=StatusWriter(status_path))
    signal.signal(signal.SIGTERM, lambda *_: desk.inbox.put(Leave()))
    threading.Thread(target=_listen, args=(desk.inbox,), name="pipe", daemon=True).start()
    gc.collect()
    gc.freeze()
    outlet.send(Ready(pid=os.getpid(), status_path=str(status_path)))
    try:
        desk.run()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        # A hanging audio library would keep a normal exit waiting for ever.
        os._exit(0)


if __name__ == "__main__":
    main()

"""The amp room's side of the second terminal: what the desk does, go and stop, and which card drives.

A card that hears nothing says so: it never goes on showing a state that may have passed.
"""

from __future__ import annotations

import selectors
import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Self

import msgspec

from audio.files import peer
from audio.session import layout
from audio.session.folder import open_session
from audio.vocab.card import (
    MOST_TOLD_BYTES,
    VERSION,
    AnyPressed,
    AnyTold,
    CardState,
    Drive,
    Go,
    Hello,
    Here,
    Lines,
    NotTaken,
    Role,
    Shown,
    Stop,
    decode_told,
    encode,
)
from audio.vocab.errors import DeviceError, SecondpassError, UseError

SILENCE_S = 3.0
"""Three missed signs of life: the desk hangs, or its machine does."""

RETRY_S = 1.0
"""Between two tries to reach a desk that is gone."""

_READ_BYTES = 65536

_ENDED = "the program at the desk has ended"
_SILENT = "the program at the desk does not answer"


class Lost(msgspec.Struct, frozen=True, kw_only=True):
    """Nobody knows what the desk does now, nor whether anything sounds."""

    reason: str


CardNews = Role | Shown | NotTaken | Lost


class CardClient:
    """A connection to the program that has a session open; made again by itself when it breaks.

    `start` begins to listen; what was pressed can be sent before. The desk takes it for a card once it has
    said `here`, which must be said once a second from then on.

    Parameters
    ----------
    folder
        The session's folder.
    silence_s
        Seconds without a line after which the desk counts as lost.
    retry_s
        Seconds between two tries to reach it again.

    Raises
    ------
    UseError
        If no program has the session open, it is another user's or speaks another version, or the
        folder is no session.
    DeviceError
        If the program does not answer.
    """

    def __init__(
        self,
        folder: Path,
        *,
        silence_s: float = SILENCE_S,
        retry_s: float = RETRY_S,
    ) -> None:
        self._folder = folder.absolute()
        self._silence_s = silence_s
        self._retry_s = retry_s
        self._closing = threading.Event()
        self._wire: _Wire | None = _Wire(self._folder, within_s=silence_s)
        self._thread: threading.Thread | None = None
        self._new = True  # until the first connection has broken

    def start(self, heard: Callable[[CardNews], None]) -> None:
        """Call `heard` with every piece of news from now on, in order, from a thread of its own."""
        self._heard = heard
        self._thread = threading.Thread(target=self._run, name="card", daemon=True)
        self._thread.start()

    def go(self, number: int) -> bool:
        """Ask for what picture `number` named as next; return whether it could be sent."""
        return self._send(Go(number=number, at_s=time.monotonic()))

    def stop(self) -> bool:
        """Ask for a stop; return whether it could be sent."""
        return self._send(Stop())

    def drive(self) -> bool:
        """Ask to be the card whose go starts passes; return whether that could be sent."""
        return self._send(Drive(at_s=time.monotonic()))

    def here(self) -> bool:
        """Give a sign of life; return whether it could be sent."""
        return self._send(Here(new=self._new))

    def close(self) -> None:
        """Part from the desk, which goes on; a second time does nothing."""
        self._closing.set()
        wire, thread = self._wire, self._thread
        if wire and thread:
            wire.end()
        elif wire:
            wire.close()
        if thread and threading.current_thread() is not thread:
            thread.join()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _send(self, message: AnyPressed) -> bool:
        wire = self._wire
        return wire is not None and wire.send(encode(message))

    def _run(self) -> None:
        while not self._closing.is_set():
            wire = self._wire
            reason = self._listen(wire) if wire else self._reach()
            if reason and not self._closing.is_set():
                self._heard(Lost(reason=reason))
                self._closing.wait(self._retry_s)

    def _listen(self, wire: _Wire) -> str:
        """Hand news on until the desk is gone; return why. One that only hangs is listened to further."""
        try:
            while not self._closing.is_set():
                told = wire.read(self._silence_s)
                if not told:
                    self._heard(Lost(reason=_SILENT))
                for one in told:
                    if not isinstance(one, Hello):
                        self._heard(one)
        except OSError:
            return _ENDED
        finally:
            self._new = False  # from here on it finds the desk by itself, and nobody may be looking
            self._wire = None
            wire.close()
        return ""

    def _reach(self) -> str:
        try:
            self._wire = _Wire(self._folder, within_s=self._silence_s)
        except SecondpassError as error:
            return str(error)
        if self._closing.is_set():  # `close` may have come before there was a wire to end
            self._wire.end()
        return ""


def read_card(folder: Path, *, within_s: float = 5.0) -> CardState:
    """Return what the program that has a session open does now; fails as `CardClient` does.

    Parameters
    ----------
    folder
        The session's folder.
    within_s
        Longest wait between two lines, seconds.

    Returns
    -------
    CardState
        The newest state.

    Raises
    ------
    DeviceError
        If the program does not answer, or ends.
    """
    until = time.monotonic() + within_s
    wire = _Wire(folder.absolute(), within_s=within_s)
    try:
        while (left := until - time.monotonic()) > 0:
            for told in wire.read(left):
                if isinstance(told, Shown):
                    return told.state
    except OSError as error:
        raise DeviceError(f"{folder}: {_ENDED}; open the session again") from error
    finally:
        wire.close()
    raise DeviceError(f"{folder}: {_SILENT}; look at the desk")


class _Wire:
    """One connection whose other end has said who it is."""

    def __init__(self, folder: Path, *, within_s: float) -> None:
        self._socket = _connected(folder, within_s=within_s)
        self._lines = Lines(longest=MOST_TOLD_BYTES)
        self._waiting: list[AnyTold] = []
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._socket, selectors.EVENT_READ)
        try:
            self._greet(folder, within_s=within_s)
        except BaseException:
            self.close()
            raise

    def read(self, within_s: float) -> list[AnyTold]:
        """Return what was told, nothing if nothing came in time; `OSError` if the desk is gone."""
        if self._waiting:
            told, self._waiting = self._waiting, []
            return told
        if not self._selector.select(within_s):
            return []
        try:
            data = self._socket.recv(_READ_BYTES)
        except BlockingIOError:
            return []
        if not data:
            raise ConnectionResetError
        try:
            told = [decode_told(line) for line in self._lines.feed(data)]
        except (ValueError, msgspec.MsgspecError) as error:
            raise ConnectionAbortedError from error
        return told or self.read(within_s)

    def send(self, line: bytes) -> bool:
        """Return whether the system took a line whole; from any thread, without waiting."""
        try:
            return self._socket.send(line) == len(line)
        except OSError:
            return False

    def end(self) -> None:
        """Make a `read` in another thread return."""
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Let go of the connection."""
        self._selector.close()
        self._socket.close()

    def _greet(self, folder: Path, *, within_s: float) -> None:
        try:
            told = self.read(within_s)
        except OSError as error:
            raise DeviceError(
                f"{folder}: the program that has the session open turns this card away; close a card "
                "that is open elsewhere, or look at the desk"
            ) from error
        if not told:
            raise DeviceError(f"{folder}: {_SILENT}; look at the desk")
        hello, *self._waiting = told
        if not isinstance(hello, Hello) or hello.version != VERSION:
            raise UseError(
                f"{folder}: the program at the desk is another version of secondpass; "
                "start the same one on both sides"
            )


def _connected(folder: Path, *, within_s: float) -> socket.socket:
    try:
        return peer.connect(layout.card_socket(folder), within_s=within_s)
    except PermissionError as error:
        raise UseError(
            f"{folder}: another user has the session open, or owns it; run the card as that user"
        ) from error
    except (FileNotFoundError, ConnectionRefusedError, NotADirectoryError) as error:
        open_session(folder)  # says what is wrong with the folder itself
        raise UseError(
            f"{folder}: no program has the session open; open it with `secondpass open {folder}`"
        ) from error
    except OSError as error:
        raise DeviceError(f"{folder}: {_SILENT} ({error}); look at the desk") from error

"""Which cables of an audio server lead to and from our stream, and whether they still do.

On JACK, and on PipeWire in its place, cables are software: anyone may pull or put one while the stream
runs, an interface that is unplugged takes its own along, and PortAudio tells none of it: blocks go on
coming, silent. So the cables are looked up when the stream is open, and compared ever after.

Knows the client library (libjack) and nothing of PortAudio but the names of the ports it registers.
"""

from __future__ import annotations

import ctypes
import re
from typing import Any, NamedTuple

_NO_START_SERVER = 0x01
"""``JackNoStartServer`` of jack/types.h."""

_OWN_PORT = re.compile(r"(?P<kind>in|out)_(?P<number>\d+)$")
"""PortAudio numbers its ports from 0 (pa_jack.c)."""

_NAME = b"secondpass-patch"

Cables = frozenset[tuple[str, str]]
"""Pairs of full port names, from where sound leaves to where it arrives."""


class Change(NamedTuple):
    """What became of the cables: those pulled and those put."""

    pulled: tuple[tuple[str, str], ...]
    put: tuple[tuple[str, str], ...]

    def sentence(self, *, client: str) -> str:
        """Say the first of them as an engineer patches, channels from 1; the pulled ones come first.

        Parameters
        ----------
        client
            Name of the stream's own client.

        Returns
        -------
        str
            What is wrong, without the way out.
        """
        source, to = (self.pulled or self.put)[0]
        is_now = "is not connected to" if self.pulled else "is now connected to"
        any_more = " any more" if self.pulled else ""
        others = len(self.pulled) + len(self.put) - 1
        more = f", and {others} more changed" if others else ""
        return (
            "the audio server's patch changed under the stream:"
            f" {_channel(source, client)} {is_now} {_channel(to, client)}{any_more}{more}"
        )


def compare(before: Cables, now: Cables) -> Change | None:
    """Return what changed from one look to another, None where nothing did."""
    if before == now:
        return None
    return Change(_in_order(before - now), _in_order(now - before))


def _in_order(cables: Cables) -> tuple[tuple[str, str], ...]:
    def natural(cable: tuple[str, str]) -> list[tuple[int, str]]:
        return [
            (int(piece or 0), "") if piece.isdigit() else (0, piece)
            for piece in re.split(r"(\d+)", " ".join(cable))
        ]

    return tuple(sorted(cables, key=natural))


def _channel(port: str, client: str) -> str:
    """Return how a person calls a port: our own by its channel, others by their name."""
    own = _OWN_PORT.fullmatch(port.removeprefix(f"{client}:"))
    if own is None or not port.startswith(f"{client}:"):
        return repr(port)
    word = "input" if own["kind"] == "in" else "output"
    return f"{word} {int(own['number']) + 1}"


class Patch:
    """The cables of one stream, as they were when this was made.

    `OSError` where the client library is missing or no server answers.

    Parameters
    ----------
    client
        Name of the stream's client on the server, all of whose cables are watched.
    fed
        Further places nobody else may feed, counted from 0 among the client's outputs: where the
        send's cable ends, nothing else may arrive.
    """

    def __init__(self, client: str, *, fed: tuple[int, ...]) -> None:
        self._library = _library()
        self._name = client
        self._handle = self._library.jack_client_open(_NAME, _NO_START_SERVER, None)
        if not self._handle:
            raise OSError("no JACK server answers")
        self._before = self._own()
        guarded = {f"{client}:out_{number}" for number in fed}
        self._ends = frozenset(to for source, to in self._before if source in guarded)
        self._before |= self._arriving()
        self._seen: Change | None = None

    def changed(self) -> str | None:
        """Return what changed, without the way out, or None; for a server that is known to run.

        Told at the look after the one that saw it: an interface that leaves takes its ports one by one.
        """
        seen, self._seen = self._seen, self._look()
        if seen is None:
            return None
        change = self._seen or seen
        far = {port for cable in change.pulled for port in cable if not self._is_own(port)}
        gone = sorted(port.rpartition(":")[0] for port in far if not self._exists(port))
        if gone:
            return f"{gone[0]!r} left the audio server, or took ports away"
        return change.sentence(client=self._name)

    def _look(self) -> Change | None:
        return compare(self._before, self._own() | self._arriving())

    def close(self) -> None:
        """Let go of the server; may hang where it is gone."""
        handle, self._handle = self._handle, None
        if handle:
            self._library.jack_client_close(handle)

    def _own(self) -> Cables:
        found: set[tuple[str, str]] = set()
        pattern = f"^{re.escape(self._name)}:".encode()
        ports = self._library.jack_get_ports(self._handle, pattern, None, ctypes.c_ulong(0))
        for port in self._names(ports):
            own = _OWN_PORT.fullmatch(port.removeprefix(f"{self._name}:"))
            if own is not None:
                others = self._connected(port)
                out = own["kind"] == "out"
                found |= {(port, other) if out else (other, port) for other in others}
        return frozenset(found)

    def _is_own(self, port: str) -> bool:
        return port.startswith(f"{self._name}:")

    def _exists(self, port: str) -> bool:
        return bool(self._library.jack_port_by_name(self._handle, port.encode()))

    def _arriving(self) -> Cables:
        return frozenset((other, end) for end in self._ends for other in self._connected(end))

    def _connected(self, port: str) -> list[str]:
        handle = self._library.jack_port_by_name(self._handle, port.encode())
        if not handle:
            return []
        return self._names(self._library.jack_port_get_all_connections(self._handle, handle))

    def _names(self, array: Any) -> list[str]:
        """Return the strings of an array that a null pointer ends, and free it."""
        found = []
        if array:
            for one in array:
                if one is None:
                    break
                found.append(one.decode(errors="replace"))
            self._library.jack_free(array)
        return found


def _library() -> Any:
    """Return libjack with its functions declared (jack/jack.h); PortAudio has loaded it already."""
    library = ctypes.CDLL("libjack.so.0")
    pointer, text, names = ctypes.c_void_p, ctypes.c_char_p, ctypes.POINTER(ctypes.c_char_p)
    for function, result, takes in (
        ("jack_client_open", pointer, (text, ctypes.c_int, pointer)),
        ("jack_client_close", ctypes.c_int, (pointer,)),
        ("jack_get_ports", names, (pointer, text, text, ctypes.c_ulong)),
        ("jack_port_by_name", pointer, (pointer, text)),
        ("jack_port_get_all_connections", names, (pointer, pointer)),
        ("jack_free", None, (pointer,)),
    ):
        declared = getattr(library, function)
        declared.restype, declared.argtypes = result, list(takes)
    return library

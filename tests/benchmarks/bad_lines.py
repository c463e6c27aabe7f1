"""Lines on the pipes of engine and worker, and on the card's socket."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import msgspec
import report  # noqa: F401 - makes the tests' own rooms importable
from bad_json import extremes
from bad_kind import Kind, Refused, Wrong
from unit.session_cases import WIRING

from audio.engine.desk import Garbled, Gone
from audio.engine.process import listened
from audio.vocab import answers, card, messages, requests, work
from audio.work.process import serve

_WORDS = (
    *(b'"say": "Open"', b'"say": "Roll"', b'"say": "Ended"', b'"number": 7', b"null", b"[]", b"{}"),
    *(b'"press": "Go"', b'"press": "Stop"', b'"tell": "Hello"', b'"tell": "Shown"', b"\\u001b[2J"),
    *(b'"asked": {"type": "Inspect"', b'"path": "/dev/zero"', b'"path": "/"', b'"path": ""'),
    *(b'"path": "\\u0000"', b'"path": "sound.wav"', b'"channel": -1', b'"frames": 0', b"1e300"),
)
_MORE = work.Envelope(number=4711, asked=requests.Outline(path="no such file", channel=0))


def kinds() -> tuple[Kind, ...]:
    """Return this file's kinds."""
    return (
        _line("engine: lines it gets", _commands, _engine_lines),
        _line("engine: lines it says", _decoding(messages.decode_event), _event_lines),
        _line("worker: lines it gets", _serve, _worker_lines),
        _line("worker: lines it says", _decoding(work.decode_reply), _reply_lines),
        _line(
            "card: lines the desk gets",
            _fed(card.MOST_PRESSED_BYTES, card.decode_pressed),
            _presses,
        ),
        _line("card: lines the card gets", _fed(card.MOST_TOLD_BYTES, card.decode_told), _told),
    )


def _line(name: str, read: Callable[[Path], None], seeds: Callable[[], list[bytes]]) -> Kind:
    return Kind(
        *(name, "line", read, seeds, extremes, _WORDS),
        refusals=(msgspec.DecodeError, ValueError),
        names_file=False,
    )


def _decoding(decode: Callable[[bytes], object]) -> Callable[[Path], None]:
    def read(path: Path) -> None:
        try:
            decode(path.read_bytes())
        except msgspec.DecodeError:
            raise
        except Exception as error:
            raise Wrong(f"not refused as documented: {type(error).__name__}: {error}") from error

    return read


def _fed(longest: int, decode: Callable[[bytes], object]) -> Callable[[Path], None]:
    """Feed the bytes as a socket gives them, in pieces."""

    def read(path: Path) -> None:
        data, lines = path.read_bytes(), card.Lines(longest=longest)
        for at in range(0, len(data), 4096):
            for line in lines.feed(data[at : at + 4096]):
                decode(line)

    return read


def _commands(path: Path) -> None:
    """Let the engine listen; whatever it was told, it hears the next line and the end of the pipe."""
    data = path.read_bytes() + b"\n" + messages.encode(messages.Report())
    heard = list(listened(io.BytesIO(data)))
    if heard[-2] != messages.Report() or not isinstance(heard[-1], Gone):
        raise Wrong(f"the next command was not heard: {heard[-2:]!r}")
    said = [one.why for one in heard if isinstance(one, Garbled)]
    if said:
        raise Refused(said[0])


def _serve(path: Path) -> None:
    """Let the worker serve; whatever it was asked, it answers the next request."""
    replies = io.BytesIO()
    serve(io.BytesIO(path.read_bytes() + b"\n" + work.encode(_MORE)), replies)
    *before, last = [work.decode_reply(line) for line in replies.getvalue().splitlines()]
    if last.number != 4711 or not isinstance(last.answered, answers.Failed):
        raise Wrong("the next request was not answered")
    for reply in before:
        if isinstance(reply.answered, answers.Failed):
            if " failed: " in reply.answered.reason:
                raise Wrong(reply.answered.reason)
            raise Refused(reply.answered.reason)


def _engine_lines() -> list[bytes]:
    capture = messages.Capture(path="/tmp/a.wav", inputs=(1,), depth=24)  # noqa: S108 - never made
    source = messages.Source(path="di.wav", outputs=((2, 1.0),))
    quiet = messages.QuietEnd(after_frame=9, inputs=(1,), under_dbfs=(-60.0,), for_frames=480)
    roll = messages.Roll(
        roll_id=1, sources=(source,), captures=(capture,), length_frames=4800, quiet=quiet
    )
    gain = messages.Gain(roll_id=1, gains=((0, 2, 0.5),))
    plugged = messages.Plug(chain="fuzz"), messages.Patch(patch="box to DI input")
    said = (messages.Open(wiring=WIRING), roll, messages.Stop(), gain, *plugged)
    return [messages.encode(one).rstrip(b"\n") for one in said]


def _event_lines() -> list[bytes]:
    lost = messages.Dropout(at_frame=4000, kind="starved", frames=512)
    said = (
        messages.Ready(pid=1, status_path="/dev/shm/x"),  # noqa: S108 - never made
        messages.Refused(reason="no such device"),
        messages.Ended(roll_id=1, reason="disk", stream_frame=0, frames=9, dropouts=(lost,)),
        messages.Fault(reason="gone"),
    )
    return [messages.encode(one).rstrip(b"\n") for one in said]


def _worker_lines() -> list[bytes]:
    """Return requests that only read."""
    asked = (
        requests.Inspect(path="line", channel=0),
        requests.Outline(path="line", channel=0),
        requests.Closeup(path="line", channel=0, at_frame=0, frames=100),
        requests.Compare(di_path="line", di_channel=0, path="line", channel=0),
    )
    return [work.encode(work.Envelope(number=1, asked=one)).rstrip(b"\n") for one in asked]


def _reply_lines() -> list[bytes]:
    answered = (
        answers.Done(),
        answers.Failed(reason="no", use=True),
        answers.Samples(samples=b"abcd"),
    )
    return [work.encode(work.Reply(number=1, answered=one)).rstrip(b"\n") for one in answered]


def _presses() -> list[bytes]:
    return [card.encode(card.Go(number=3, at_s=12.5)), card.encode(card.Stop())]


def _told() -> list[bytes]:
    state = card.CardState(session="x", word="stand by", sounding=False, countdown_s=3.0)
    told = (card.Hello(version=1), card.Shown(number=1, state=state), card.NotTaken(reason="no"))
    return [b"".join(map(card.encode, told)), *map(card.encode, told)]

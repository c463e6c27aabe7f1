"""What crosses the pipes: one JSON object a line, decoded to the same value or refused."""

import json
import typing
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab import messages, work
from audio.vocab.answers import Answered
from audio.vocab.messages import Command, Event, Roll, decode_command, decode_event, encode
from audio.vocab.requests import Asked
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import read_wiring
from audio.vocab.work import Envelope, Reply, decode_envelope, decode_reply

EXAMPLES = sorted((Path(__file__).parents[2] / "configs" / "wirings").glob("*.yaml"))

finite = st.floats(allow_nan=False, allow_infinity=False)
leaves: dict[object, st.SearchStrategy[object]] = {
    int: st.integers(-(2**63), 2**63 - 1),
    float: finite,
    str: st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    bool: st.booleans(),
    bytes: st.binary(max_size=8),
    type(None): st.none(),
    Wiring: st.sampled_from(EXAMPLES).map(read_wiring),
}


def values(kind: object) -> st.SearchStrategy[object]:
    """Return a strategy for any value of a type that a message may hold."""
    if kind in leaves:
        return leaves[kind]
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin is typing.Literal:
        return st.sampled_from(args)
    if origin is tuple and args[-1] is Ellipsis:
        return st.lists(values(args[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*[values(arg) for arg in args])
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        fields = {f.name: values(f.type) for f in msgspec.structs.fields(kind)}
        return st.builds(kind, **fields)
    if args:
        return st.one_of([values(arg) for arg in args])
    raise TypeError(f"no strategy for {kind}")


def members(union: object) -> list[type[msgspec.Struct]]:
    return list(typing.get_args(union))


@given(st.sampled_from(members(Command)).flatmap(values))
def test_every_command_is_one_line_and_comes_back_the_same(command: messages.Message) -> None:
    line = encode(command)
    assert line.count(b"\n") == 1
    assert line.endswith(b"\n")
    assert decode_command(line) == command


@given(st.sampled_from(members(Event)).flatmap(values))
def test_every_event_is_one_line_and_comes_back_the_same(event: messages.Message) -> None:
    line = encode(event)
    assert line.count(b"\n") == 1
    assert decode_event(line) == event


@given(st.sampled_from(members(Asked)).flatmap(values), st.integers(0, 2**31))
def test_every_question_to_the_worker_comes_back_the_same(asked: object, number: int) -> None:
    envelope = Envelope(number=number, asked=asked)
    line = work.encode(envelope)
    assert line.count(b"\n") == 1
    assert decode_envelope(line) == envelope


@given(st.sampled_from(members(Answered)).flatmap(values), st.integers(0, 2**31))
def test_every_answer_of_the_worker_comes_back_the_same(answered: object, number: int) -> None:
    reply = Reply(number=number, answered=answered)
    line = work.encode(reply)
    assert line.count(b"\n") == 1
    assert decode_reply(line) == reply


@given(st.sampled_from(members(Command)).flatmap(values))
def test_a_line_is_json_to_a_general_reader(command: messages.Message) -> None:
    # The standard library's reader, RFC 8259.
    read = json.loads(encode(command))
    assert read["say"] == type(command).__name__
    assert read.keys() - {"say"} <= set(command.__struct_fields__)


def test_commands_and_events_are_told_apart() -> None:
    for command in members(Command):
        line = json.dumps({"say": command.__name__}).encode()
        with pytest.raises(msgspec.ValidationError, match="Invalid value"):
            decode_event(line)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (b'{"say": "Dance"}', "Invalid value 'Dance'"),
        (b"{}", "missing required field `say`"),
        (b"[]", "Expected `object`"),
        (b'{"say": "Stop", "now": true}', "unknown field `now`"),
        (b'{"say": "Roll", "roll_id": 1}', "length_frames"),
        (b'{"say": "Roll", "roll_id": "1", "length_frames": 1}', "Expected `int`"),
        (b'{"say": "Roll", "roll_id": 1.5, "length_frames": 1}', "Expected `int`"),
        (b'{"say": "Roll", "roll_id": true, "length_frames": 1}', "Expected `int`"),
        (b'{"say": "Roll", "roll_id": 1, "length_frames": null}', "Expected `int`"),
        (b'{"say": "Gain", "gains": [[0, 1]]}', "length 3"),
        (b'{"say": "Gain", "gains": [], "shape": "log"}', "Invalid enum value"),
    ],
)
def test_anything_else_is_refused_with_the_reason(line: bytes, says: str) -> None:
    with pytest.raises(msgspec.ValidationError, match=says):
        decode_command(line)


@pytest.mark.parametrize("line", [b"", b"{", b'{"say": "Stop"}{', b"\xff\n", b'{"say": "Sto'])
def test_a_torn_line_is_refused(line: bytes) -> None:
    with pytest.raises(msgspec.DecodeError):
        decode_command(line)
    with pytest.raises(msgspec.DecodeError):
        decode_event(line)


@given(st.binary(max_size=60))
def test_no_bytes_do_anything_but_decode_or_be_refused(line: bytes) -> None:
    for decode in (decode_command, decode_event, decode_envelope, decode_reply):
        with pytest.raises(msgspec.MsgspecError):
            decode(line)


def test_messages_cannot_be_changed() -> None:
    roll = Roll(roll_id=1, length_frames=48000)
    with pytest.raises(AttributeError, match="immutable"):
        roll.roll_id = 2  # type: ignore[misc]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_wiring_can_be_opened_over_the_pipe(path: Path) -> None:
    opened = messages.Open(wiring=read_wiring(path))
    assert decode_command(encode(opened)) == opened

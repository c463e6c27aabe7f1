"""Faults that mutated files once found: each is refused in one sentence, soon, and nothing is lost."""

import io
import json
import os
from pathlib import Path

import msgspec
import numpy as np
import pytest
import soundfile
from unit.session_cases import order, variant

from audio.engine.desk import Garbled, Gone
from audio.engine.process import listened
from audio.files import chunks
from audio.files.inspect import inspect
from audio.files.source import open_sound
from audio.files.text import read_whole
from audio.session import journal, records
from audio.session.model import parse_session
from audio.vocab import strict_yaml
from audio.vocab.answers import Failed
from audio.vocab.card import decode_pressed
from audio.vocab.errors import UseError
from audio.vocab.messages import Report, decode_event, encode
from audio.vocab.order import Order
from audio.vocab.requests import Outline
from audio.vocab.strict_yaml import MOST_PROBLEMS, Problems, load, read_text
from audio.vocab.variant import Variant
from audio.vocab.work import Envelope, decode_reply
from audio.vocab.work import encode as encode_work
from audio.work.process import serve

DEEP = b'{"a":' * 60_000
NO_TEXT = b'{"\xff": 1}'
STEERING = b'{"say": "Stop", "\\u001b[2J\\n": 1}'


# ------------------------------------------------------------------ YAML


@pytest.mark.parametrize(
    "text",
    ['a: "\\UFFFFFFFF"', 'a: "\\U00110000"', "%YAML " + "1" * 5000 + ".1\n---\na: 1"],
)
def test_a_number_the_yaml_scanner_cannot_hold_is_a_mistake_with_a_line(text: str) -> None:
    with pytest.raises(UseError, match=r"f\.yaml, line 1: .*too large; write the character itself"):
        load(text, problems=Problems("f.yaml"))


@pytest.mark.parametrize("text", ["\x1b" * 400_000, "\x07\n" * 200_000, "- &a x\n" * 60_000])
def test_a_file_with_a_mistake_everywhere_says_some_of_them(text: str) -> None:
    with pytest.raises(UseError) as caught:
        load(text, problems=Problems("f.yaml"))
    assert str(caught.value).count("\n") < MOST_PROBLEMS


def test_a_file_of_too_many_values_is_refused_before_it_is_read_through(monkeypatch) -> None:
    monkeypatch.setattr(strict_yaml, "MOST_VALUES", 40)
    with pytest.raises(UseError, match="line 40: over 40 values"):  # the list itself is one
        load("- a\n" * 41 + "\t", problems=Problems("f.yaml"))


def test_a_key_of_any_length_is_repeated_in_short() -> None:
    with pytest.raises(UseError) as caught:
        parse_session(f"format: 1\nname: a\n{'k' * 900}: 1\n", where="session.yaml")
    assert "unknown key" in str(caught.value)
    assert len(str(caught.value)) < 300


# ------------------------------------------------------------------ JSON


@pytest.mark.parametrize("line", [DEEP, NO_TEXT, b"[" * 200_000, b"\xff"])
def test_a_journal_line_that_is_no_json_at_all_hides_no_other(tmp_path: Path, line: bytes) -> None:
    good = b'{"at": "2026-11-25T12:00:00+01:00", "event": "judged"}\n'
    (tmp_path / "journal.jsonl").write_bytes(good + line + b"\n" + good)
    assert [entry.event for entry in journal.read(tmp_path)] == ["judged", "judged"]


@pytest.mark.parametrize("content", [DEEP, NO_TEXT, b'{"format": "\\u001b[2J"}', b"[" * 200_000])
@pytest.mark.parametrize("name", ["order", "roll", "variant"])
def test_a_record_that_is_no_json_at_all_is_one_plain_sentence(
    tmp_path: Path, name: str, content: bytes
) -> None:
    (tmp_path / f"{name}.json").write_bytes(content)
    with pytest.raises(UseError, match=f"{name}.json .*restore it from a copy") as caught:
        getattr(records, f"read_{name}")(tmp_path)
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    "outside", ["/etc/passwd", "../../other/x.wav", "C:\\x.wav", "", ".", "passes/\x1b/a.wav"]
)
def test_a_record_that_names_a_file_outside_its_session_is_damaged(
    tmp_path: Path, outside: str
) -> None:
    put(tmp_path, msgspec.structs.replace(order(), paths=(outside,)))
    with pytest.raises(UseError, match="does not lie in the session's folder"):
        records.read_order(tmp_path)
    di = msgspec.structs.replace(variant().di, path=outside)
    put(tmp_path, msgspec.structs.replace(variant(), di=di))
    with pytest.raises(UseError, match="does not lie in the session's folder"):
        records.read_variant(tmp_path)


def test_an_order_that_contradicts_itself_is_damaged(tmp_path: Path) -> None:
    for changed, says in (
        ({"paths": ()}, "not as many"),
        ({"opening_click": order().opening_click * 2}, "not as many"),
        ({"wiring": msgspec.structs.replace(order().wiring, reference="x")}, "none of its returns"),
        ({"wiring": msgspec.structs.replace(order().wiring, sample_rate=0)}, "sample rate of 0"),
    ):
        put(tmp_path, msgspec.structs.replace(order(), **changed))
        with pytest.raises(UseError, match=says):
            records.read_order(tmp_path)


def put(folder: Path, record: Order | Variant) -> None:
    name = "order" if isinstance(record, Order) else "variant"
    (folder / f"{name}.json").write_bytes(msgspec.json.encode(record))


# ------------------------------------------------------------------ pipes


@pytest.mark.parametrize("line", [DEEP, NO_TEXT, STEERING, b"\xff"])
def test_the_engine_hears_on_after_a_line_that_is_no_command(line: bytes) -> None:
    garbled, report, gone = listened(io.BytesIO(line + b"\n" + encode(Report())))
    assert isinstance(garbled, Garbled)
    assert garbled.why.isprintable()
    assert report == Report()
    assert isinstance(gone, Gone)


@pytest.mark.parametrize("line", [DEEP, NO_TEXT, STEERING, b"\xff"])
def test_the_worker_answers_on_after_a_line_that_is_no_request(line: bytes) -> None:
    more = encode_work(Envelope(number=7, asked=Outline(path="no such file", channel=0)))
    answers = io.BytesIO()
    serve(io.BytesIO(line + b"\n" + more), answers)
    first, second = [decode_reply(answer) for answer in answers.getvalue().splitlines()]
    assert first.number == -1
    assert isinstance(first.answered, Failed)
    assert first.answered.reason.isprintable()
    assert second.number == 7


@pytest.mark.parametrize("line", [DEEP, NO_TEXT, STEERING, b"\xff"])
def test_every_line_that_is_none_is_refused_in_one_way(line: bytes) -> None:
    for decode in (decode_event, decode_reply, decode_pressed):
        with pytest.raises(msgspec.ValidationError) as caught:
            decode(line)
        assert str(caught.value).isprintable()


# ------------------------------------------------------------------ sound


def wav(path: Path, *, rate: int, channels: int) -> Path:
    """Write a WAV whose header then claims another rate and number of channels."""
    soundfile.write(path, np.zeros(3000), 48_000, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    at = data.find(b"fmt ") + 8
    data[at + 2 : at + 4] = channels.to_bytes(2, "little")
    data[at + 4 : at + 8] = rate.to_bytes(4, "little")
    data[at + 12 : at + 14] = (2 * channels & 0xFFFF).to_bytes(2, "little")
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("rate", "channels", "says"),
    [
        (2**31 - 1, 1, "2147483647 frames a second"),
        (48_000, 1000, "1000 channels"),
        (48_000, 65_535, "not a sound file|channels"),
    ],
)
def test_a_header_that_claims_what_no_sound_has_is_refused_before_room_is_made_for_it(
    tmp_path: Path, rate: int, channels: int, says: str
) -> None:
    with pytest.raises(UseError, match=says):
        open_sound(wav(tmp_path / "x.wav", rate=rate, channels=channels))


def test_a_sample_far_beyond_full_scale_is_told_with_its_place(tmp_path: Path) -> None:
    samples = np.zeros(1000)
    samples[480] = 1e200
    soundfile.write(tmp_path / "x.wav", samples, 48_000, subtype="DOUBLE")
    with pytest.raises(UseError, match=r"far louder than any sound at frame 480 \(0\.010 s\)"):
        inspect(tmp_path / "x.wav")


def test_an_rf64_cut_off_in_its_sizes_has_none() -> None:
    head = b"RF64\xff\xff\xff\xffWAVEds64\x1c\0\0\0\1\2\3"
    assert [chunk.name for chunk in chunks.walk(io.BytesIO(head))] == [b"ds64"]
    assert chunks.claimed_frames(io.BytesIO(head)) is None


# ------------------------------------------------------------------ what is no file


def test_a_pipe_in_the_place_of_a_file_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "journal.jsonl")
    for read in (read_whole, read_text, open_sound):
        with pytest.raises(UseError, match="a device or a pipe"):
            read(tmp_path / "journal.jsonl")
    with pytest.raises(UseError, match="a device or a pipe"):
        journal.read(tmp_path)


def test_a_message_shows_hidden_characters_as_escapes() -> None:
    said = str(UseError("f\x1b[2J\u202e\x9b.wav is no sound\nsecond line"))
    assert said == "f\\x1b[2J\\x202e\\x9b.wav is no sound\nsecond line"
    assert json.loads(json.dumps(said)) == said

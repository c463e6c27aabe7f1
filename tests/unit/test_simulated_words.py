"""Pedals and faults whose words do not fit are refused with one sentence."""

from __future__ import annotations

import re
from typing import Any

import pytest
from msgspec.structs import replace
from simulated_wirings import SILENT, plain, room, wiring

from audio.device.simulated.faults import LASTING, SUDDEN
from audio.device.simulated.pedals.chain import KINDS
from audio.device.simulated.room import Room
from audio.vocab.errors import UseError
from audio.vocab.wiring import Loop, PortAudioDevice

PEDALS = [
    ({}, "chains, 'a', pedal 2: the key 'kind' is missing; write one of 'drive', 'gate'"),
    ({"kind": "flanger"}, "no kind 'flanger' is known; write one of 'drive', 'gate'"),
    ({"kind": 7}, "no kind 7 is known"),
    (
        {"kind": "echo", "feedbak": 0.4},
        "no word 'feedbak' is known there; the words are 'ms', 'feedback'",
    ),
    (
        {"kind": "tuner", "note": "a"},
        "no word 'note' is known there; the words are none but 'kind'",
    ),
    ({"kind": "echo", "ms": 0.0}, "'ms' is 0.0, write a number from 1 to 5000"),
    ({"kind": "echo", "ms": "450"}, "'ms' is '450', write a number"),
    ({"kind": "echo", "feedback": 1.0}, "'feedback' is 1.0, write a number from 0 to 0.98"),
    ({"kind": "tremolo", "depth": True}, "'depth' is True, write a number from 0 to 1"),
    ({"kind": "tremolo", "hz": float("nan")}, "'hz' is nan, write a number"),
    ({"kind": "gate", "threshold_db": None}, "'threshold_db' is None, write a number"),
    ({"kind": "chorus", "delay_ms": [1]}, r"'delay_ms' is [1], write a number"),
]

FAULTS = [
    ({}, "faults, fault 1: the key 'kind' is missing; write one of 'dead cable', 'standby'"),
    ({"kind": "fire"}, "no kind 'fire' is known; write one of"),
    ({"kind": "lost frames", "at_s": 1}, "the word 'frames' is missing; add it"),
    ({"kind": "lost frames", "frames": 10}, "it needs a moment; add 'at_s' or 'after_sound_s'"),
    ({"kind": "lost frames", "frames": 1.5, "at_s": 1}, "'frames' is 1.5, write a whole number"),
    (
        {"kind": "lost frames", "frames": 9, "at_s": 1, "flag": 0},
        "'flag' is 0, write true or false",
    ),
    ({"kind": "disappear"}, "it needs a moment"),
    ({"kind": "disappear", "from_s": 1.0}, "no word 'from_s' is known there; the words are 'at_s'"),
    ({"kind": "hum", "at_s": 1.0}, "no word 'at_s' is known there"),
    (
        {"kind": "hum", "from_s": 1.0, "after_sound_s": 1.0},
        "'from_s' and 'after_sound_s' exclude each other; keep one",
    ),
    ({"kind": "hum", "from_s": -1.0}, "'from_s' is -1.0, write a number from 0"),
    ({"kind": "hum", "chain": "b"}, "no chain 'b' in device.chains; add it there"),
    ({"kind": "hum", "chain": ""}, "'chain' is '', write a name"),
    ({"kind": "swapped inputs"}, "the word 'inputs' is missing"),
    ({"kind": "swapped inputs", "inputs": [2, 2]}, "write a list of two different inputs"),
    ({"kind": "swapped inputs", "inputs": [0, 2]}, "write a list of two different inputs"),
    ({"kind": "swapped inputs", "inputs": 2}, "write a list of two different inputs"),
    ({"kind": "swapped inputs", "inputs": [2, 9]}, "input 9 is beyond the device's 8"),
    ({"kind": "clipping input"}, "the word 'input' is missing"),
    ({"kind": "clipping input", "input": 9}, "input 9 is beyond the device's 8"),
    ({"kind": "inverted microphone", "input": 0}, "'input' is 0, write a whole number from 1"),
    ({"kind": "feedback", "gain_db": 3.0}, "'gain_db' is 3.0, write a number from -80 to -0.1"),
    ({"kind": "wrong clock"}, "the word 'ppm' is missing"),
]


def one_sentence(message: str) -> bool:
    return message.endswith(".") and "\n" not in message and len(message) < 500


@pytest.mark.parametrize(("pedal", "message"), PEDALS)
def test_a_pedal_that_does_not_fit_is_refused_where_it_stands(
    pedal: dict[str, Any], message: str
) -> None:
    with pytest.raises(UseError, match=re.escape(message)) as refused:
        room(rate=48_000, chains={"a": ({"kind": "tuner"}, pedal)}, **SILENT)
    assert one_sentence(str(refused.value))


@pytest.mark.parametrize(("fault", "message"), FAULTS)
def test_a_fault_that_does_not_fit_is_refused_where_it_stands(
    fault: dict[str, Any], message: str
) -> None:
    with pytest.raises(UseError, match=re.escape(message)) as refused:
        room(rate=48_000, chains={"a": ()}, faults=(fault,), **SILENT)
    assert one_sentence(str(refused.value))


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_pedal_works_with_no_more_than_its_kind(kind: str) -> None:
    room(rate=44_100, chains={"a": ({"kind": kind},)}, **SILENT).plug("a")


def test_every_fault_is_known_by_one_name() -> None:
    assert not set(LASTING) & set(SUDDEN)


@pytest.mark.parametrize(
    ("rest", "message"),
    [
        ({"microphones": (plain(2), plain(2))}, "input 2 has two cables in it"),
        ({"witness": 2}, "input 2 has two cables in it"),
        ({"loop": Loop(output=8, input=2)}, "input 2 has two cables in it"),
        ({"inputs": 4, "microphones": (plain(6),)}, "device.inputs is 4, but input 6 is in use"),
        ({"outputs": 2}, "device.outputs is 2, but output 3 is in use; write 3 or more"),
    ],
)
def test_a_wiring_that_cannot_be_plugged_is_refused(rest: dict[str, Any], message: str) -> None:
    with pytest.raises(UseError, match=re.escape(message)) as refused:
        room(rate=48_000, **{**SILENT, **rest})
    assert one_sentence(str(refused.value))


def test_a_real_device_has_no_simulated_room() -> None:
    real = replace(wiring(rate=48_000), device=PortAudioDevice(host="ALSA", name="x"))
    with pytest.raises(UseError, match=r"device\.kind is not 'simulated'"):
        Room(real)

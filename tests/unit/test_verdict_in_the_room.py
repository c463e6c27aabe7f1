"""The click's verdict on what the simulated room brings back, its planted fault known to the test only."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from audio.device.simulated.room import Room
from audio.measure.clicks import read_clicks
from audio.signals.click import click_train
from audio.verdict.clicks import Heard, explain
from audio.vocab.wiring import SimulatedDevice, Wiring
from audio.vocab.wiring_file import parse_wiring
from demo import content

LEVEL_DBFS = -18.0


def demo_wiring() -> Wiring:
    file = content() / "wiring.yaml"
    return parse_wiring(file.read_text(encoding="utf-8"), where=file.name)


def listen(*faults: dict[str, Any], chain: str = "bare path", **chains: Any) -> Heard:
    wiring = demo_wiring()
    assert isinstance(wiring.device, SimulatedDevice)
    device = replace(wiring.device, faults=faults, chains={**wiring.device.chains, **chains})
    wiring = replace(wiring, device=device)
    room = Room(wiring)
    room.plug(chain)
    rate = wiring.sample_rate
    clicks, train = click_train(rate=rate, level_dbfs=LEVEL_DBFS, clicks=3)
    sent = np.zeros((len(clicks), device.outputs))
    sent[:, wiring.send_output - 1] = clicks
    room.process(np.zeros((rate // 20, device.outputs)))
    back = room.process(sent)
    readings = {i + 1: read_clicks(back[:, i], train) for i in range(device.inputs)}
    return Heard(wiring=wiring, readings=readings, level_dbfs=LEVEL_DBFS, ceiling_dbfs=LEVEL_DBFS)


@pytest.mark.parametrize("chain", ["bare path", "crunch", "fuzz into delay", "tremolo"])
def test_a_healthy_chain_raises_nothing_to_redo_or_look_at(chain: str) -> None:
    assert [f for f in explain(listen(chain=chain)) if f.weight != "good"] == []


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        ({"kind": "standby"}, "nothing-came-back"),
        ({"kind": "dead cable", "input": 2}, "return-silent"),
        ({"kind": "swapped inputs", "inputs": [2, 7]}, "wrong-input"),
        ({"kind": "swapped inputs", "inputs": [2, 3]}, "reference-not-first"),
        ({"kind": "clipping input", "input": 2, "gain_db": 60}, "click-clipped"),
    ],
)
def test_a_planted_fault_gets_its_word_and_no_other(fault: dict[str, Any], code: str) -> None:
    assert [f.code for f in explain(listen(fault)) if f.weight != "good"] == [code]


def test_a_muted_tuner_is_among_the_causes_named() -> None:
    found = explain(listen(chain="tuning", tuning=({"kind": "tuner"},)))
    assert [f.code for f in found] == ["nothing-came-back"]
    assert "tuner muted" in found[0].advice


def test_hum_over_a_dead_amp_is_told_as_hum() -> None:
    found = explain(listen({"kind": "hum", "level_dbfs": -25.0}, {"kind": "standby"}))
    assert [f.code for f in found] == ["only-hum"]
    assert "close (50 Hz, −25 dBFS)" in found[0].text


def test_a_return_monitored_into_the_send_is_noticed() -> None:
    codes = {f.code for f in explain(listen({"kind": "feedback"}))}
    assert codes & {"fed-back", "repeats-early"}


def test_a_vibrato_is_called_a_moving_chain() -> None:
    found = explain(listen(chain="seasick", seasick=({"kind": "vibrato"},)))
    assert {f.code for f in found} & {"chain-moves", "clicks-contradict"}


def test_a_long_echo_is_no_feedback() -> None:
    found = explain(listen(chain="repeats", repeats=({"kind": "echo", "ms": 120.0, "mix": 0.8},)))
    assert found == ()

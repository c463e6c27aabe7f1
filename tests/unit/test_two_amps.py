"""Two amps at once: microphones compared within one amp, what lies between the amps told and kept."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace
from simulated_wirings import SEND, played
from verdict_cases import CLICK, LOUD_DBFS, NOISE_DBFS, RATE, WIRING, click, ended, order, recorded

from audio.device.simulated.room import Room
from audio.engine.conditions import Conditions
from audio.jobs.rolls import dead_amp
from audio.measure.clicks import read_clicks
from audio.signals.click import click_train
from audio.verdict.microphones import amps_apart, extra_delays, upside_down
from audio.verdict.passes import judge
from audio.vocab.air import speed_of_sound_m_s
from audio.vocab.order import Order
from audio.vocab.results import PassMeasures
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_file import parse_wiring
from audio.vocab.wiring_text import wiring_text

TWO = (
    Return(name="left close", input=2, amp="left"),
    Return(name="left room", input=3, amp="left"),
    Return(name="right close", input=4, amp="right"),
    Return(name="right room", input=5, amp="right"),
)
BOTH = replace(WIRING, returns=TWO, reference="left close", witness_input=None)


def clicked(*delays: float) -> Order:
    readings = tuple(click(delay_frames=one) for one in delays)
    return order(wiring=BOTH, opening_click=readings, paths=("a", "b", "c", "d"))


def measures(*levels: list[float]) -> PassMeasures:
    di = [LOUD_DBFS] * len(levels[0])
    return PassMeasures(
        window_frames=2400, di_levels_dbfs=tuple(di), returns=tuple(recorded(one) for one in levels)
    )


def test_the_amp_of_a_return_is_written_and_read_back() -> None:
    assert parse_wiring(wiring_text(BOTH), where="the wiring") == BOTH
    assert BOTH.amps == ("left", "right")
    assert [BOTH.beside(one).name for one in TWO] == [
        "left close",
        "left close",
        "right close",
        "right close",
    ]


def test_microphones_are_compared_with_their_own_amp_only() -> None:
    one = clicked(1000.0, 1140.0, 1084.0, 1364.0)
    assert extra_delays(one) == (0.0, 140.0, 0.0, 280.0)
    (apart,) = amps_apart(one)
    assert (apart.code, apart.weight) == ("amps-apart", "good")
    assert apart.text == "right answers 1.75 ms after left, and stays so in the files."  # 84 / 48
    assert amps_apart(order()) == []


def test_an_amp_that_is_upside_down_as_a_whole_is_no_microphone_that_is() -> None:
    fine = [-20.0] * 40
    turned = (CLICK, CLICK, click(polarity="inverted"), click(polarity="inverted"))
    one = order(wiring=BOTH, opening_click=turned, paths=("a", "b", "c", "d"))
    assert upside_down(one, measures(fine, fine, fine, fine)) == []
    mixed = (*turned[:3], CLICK)
    one = order(wiring=BOTH, opening_click=mixed, paths=("a", "b", "c", "d"))
    (finding,) = upside_down(one, measures(fine, fine, fine, fine))
    assert finding.text.startswith("right close comes back upside down against right room")


def test_an_amp_that_falls_silent_is_told_as_an_amp() -> None:
    fine, dead = [-20.0] * 80, [-20.0] * 40 + [NOISE_DBFS] * 40
    one = replace(clicked(1131.4, 1150.0, 1140.0, 1160.0), di=replace(order().di, frames=80 * 2400))
    judged = judge(one, ended(one), measures(fine, fine, dead, dead), ())
    silent = next(one for one in judged.findings if one.code == "silent-from")
    stopped = judge(one, ended(one, reason="dead"), measures(fine, fine, dead, dead), ())
    told = next(one for one in stopped.findings if one.code == "dead-amp")
    assert "nothing on right close and right room answered from 0:02 on" in told.text
    assert silent.text == "right close and right room silent from 0:02: cable, fuse or standby."
    assert "speaker" in silent.advice


@pytest.mark.parametrize(("silent", "stops"), [((4, 5), True), ((2, 3), True), ((3, 5), False)])
def test_sending_stops_before_either_amp_that_does_not_answer(
    silent: tuple[int, ...], stops: bool
) -> None:
    end = dead_amp(BOTH, (-70.0,) * 4, loudest_dbfs=-10.0)
    watch = Conditions(rate=RATE, inputs=6, outputs=3, quiet=None, dead=end)
    block = np.full((3 * RATE, 9), 0.1, dtype=np.float32)
    block[:, [number - 1 for number in silent]] = 0.0
    due = watch.feed(block)
    assert (due is not None) == stops
    if due is not None:
        assert (due.reason, due.frame) == ("dead", RATE)


def test_through_the_room_each_amp_has_its_own_sound_and_its_own_distance() -> None:
    """Distances by the speed of sound of ISO 9613-1 at 20 °C, as the room is told."""
    cm = (5.0, 105.0, 65.0, 265.0)
    device = SimulatedDevice(
        amp=Amp(drive_db=6.0),
        second_amp=Amp(drive_db=30.0),
        microphones=tuple(
            Microphone(input=one.input, distance_cm=far, second_amp=one.amp == "right")
            for one, far in zip(TWO, cm, strict=True)
        ),
        noise_dbfs=-100.0,
        converter_frames=200.0,
    )
    wiring = Wiring(
        name="two amps",
        device=device,
        sample_rate=RATE,
        send_output=SEND,
        returns=TWO,
        reference="left close",
    )
    sent, train = click_train(rate=RATE, level_dbfs=-20.0, clicks=8)
    heard = played(Room(wiring), sent)
    readings = tuple(read_clicks(heard[:, one.input - 1], train) for one in TWO)
    one = order(wiring=wiring, opening_click=readings, paths=("a", "b", "c", "d"))
    metre = RATE / speed_of_sound_m_s(20.0)
    assert extra_delays(one) == pytest.approx((0.0, metre, 0.0, 2.0 * metre), abs=0.5)
    (apart,) = amps_apart(one)
    assert apart.text.startswith(f"right answers {1000 * 0.6 * metre / RATE:.1f}")
    loud = [float(np.sqrt(np.mean(heard[:, r.input - 1] ** 2))) for r in TWO]
    assert loud[2] > 1.5 * loud[0]  # the second one is driven harder

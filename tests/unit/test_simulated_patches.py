"""Reamp box, DI input and the cables between them in the simulated room."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from scipy.signal import bilinear, freqz
from simulated_wirings import SILENT, line_db, plain, played, pulse, rms_db, room, sine

from audio.device.simulated.room import Room
from audio.vocab.errors import UseError
from audio.vocab.patching import PatchName
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import DiBox, ReampBox

RATE = 48_000
START = 512 + 131
DI = 4


def wired(patch: PatchName = "amp", **rest: Any) -> Room:
    rest = {"di_box": DiBox(input=DI), "converter_frames": 131.0, **SILENT, **rest}
    one = room(rate=RATE, **rest)
    one.patch(patch)
    return one


def tone(seconds: float = 0.5, peak: float = 0.25) -> np.ndarray[Any, np.dtype[np.float64]]:
    return sine(300.0, rate=RATE, seconds=seconds, peak=peak)


def heard_by_di(one: Room, signal: Any = None) -> Any:
    """What the DI input holds of a tone, the round trip removed."""
    return played(one, tone() if signal is None else signal)[START:, DI - 1]


# ------------------------------------------------------------------ where the cables lead


@pytest.mark.parametrize(
    ("patch", "microphone", "witness", "di"),
    [
        ("amp", True, True, False),
        ("plugged", True, True, False),
        ("lifted", True, True, False),
        ("unplugged", False, True, False),
        ("box to DI input", False, False, True),
        ("send to input", False, False, True),
    ],
)
def test_what_is_sent_arrives_where_the_cables_lead_and_the_truth_says_so(
    patch: PatchName, microphone: bool, witness: bool, di: bool
) -> None:
    one = wired(patch, witness=5)
    heard = played(one, tone())
    for number, arrives in ((2, microphone), (5, witness), (DI, di), (7, False)):
        assert one.truth(number).connected is arrives
        assert bool(heard[:, number - 1].any()) is arrives
        if arrives:
            assert np.array_equal(heard[START:, number - 1], tone()[:-START])
            assert one.truth(number).delay_frames == START


def test_a_patch_holds_from_the_next_block_on_and_the_old_cable_leaves_nothing_behind() -> None:
    one = wired("box to DI input")
    played(one, tone(1024 / RATE))
    one.patch("amp")
    between = played(one, np.zeros(1024))
    assert not between[512:, DI - 1].any()
    one.patch("box to DI input")
    heard = played(one, pulse(2048))[:, DI - 1]
    assert np.flatnonzero(heard).tolist() == [START]


def test_a_patched_cable_takes_what_else_is_in_the_input_out() -> None:
    one = wired("send to input", di_box=DiBox(input=2), microphones=(plain(2), plain(3)))
    assert np.array_equal(played(one, tone())[START:, 1], tone()[:-START])
    one.patch("amp")
    played(one, np.zeros(1024))
    assert np.array_equal(played(one, tone())[START:, 1], tone()[:-START])


def test_an_echo_goes_on_in_the_amp_when_the_box_is_taken_from_it() -> None:
    one = wired(chains={"echo": ({"kind": "echo", "ms": 100.0, "mix": 0.5},)})
    one.plug("echo")
    played(one, np.concatenate((np.zeros(1024), pulse(1024))))
    one.patch("box to DI input")
    assert played(one, np.zeros(9600))[START:, 1].any()
    one.patch("unplugged")
    played(one, np.zeros(START))
    assert not played(one, np.zeros(9600))[:, 1].any()


# ------------------------------------------------------------------ levels


@pytest.mark.parametrize(
    ("box", "di", "expected_db"),
    [
        ({}, {}, 0.0),
        ({"gain_db": 6.0}, {}, 6.0),
        ({"gain_db": -3.3}, {}, -3.3),
        ({"one_leg_dead": True}, {}, -6.0206),
        ({"gain_db": 2.0, "one_leg_dead": True}, {"gain_db": -10.0}, -14.0206),
    ],
)
def test_the_di_hears_trim_leg_and_its_own_gain(
    box: dict[str, Any], di: dict[str, Any], expected_db: float
) -> None:
    one = wired("box to DI input", reamp=ReampBox(**box), di_box=DiBox(input=DI, **di))
    heard, sent = heard_by_di(one), tone()[:-START]
    assert rms_db(heard) - rms_db(sent) == pytest.approx(expected_db, abs=1e-3)
    assert np.allclose(heard, sent * ratio_from_db(rms_db(heard) - rms_db(sent)), atol=1e-12)


@pytest.mark.parametrize("number", [2, 5])
def test_amp_and_witness_hear_the_box_and_not_the_di_inputs_gain(number: int) -> None:
    box = ReampBox(gain_db=6.0, one_leg_dead=True)
    one = wired(witness=5, reamp=box, di_box=DiBox(input=DI, gain_db=-20.0))
    heard = played(one, tone())[START:, number - 1]
    assert rms_db(heard) - rms_db(tone()[:-START]) == pytest.approx(-0.0206, abs=1e-3)


def test_a_straight_cable_knows_neither_box() -> None:
    one = wired(
        "send to input",
        reamp=ReampBox(gain_db=6.0, one_leg_dead=True, highs_hz=3000.0, inverted=True),
        di_box=DiBox(input=DI, gain_db=-20.0, inverted=True),
    )
    assert np.array_equal(heard_by_di(one), tone()[:-START])
    assert one.truth(DI).inverted is False


def test_a_hotter_box_drives_the_amp_harder() -> None:
    def third_db(gain_db: float) -> float:
        rest = {"noise_dbfs": -200.0, "converter_frames": 131.0}
        one = room(rate=RATE, reamp=ReampBox(gain_db=gain_db), **rest)
        heard = played(one, tone(1.0, peak=0.1))[9600:, 1]
        return line_db(heard, 900.0, rate=RATE) - line_db(heard, 300.0, rate=RATE)

    assert third_db(6.0) > third_db(0.0) + 3.0


@pytest.mark.parametrize(
    ("box", "di"), [(False, False), (True, False), (False, True), (True, True)]
)
def test_either_box_may_turn_the_polarity(box: bool, di: bool) -> None:
    one = wired(
        "box to DI input",
        witness=5,
        reamp=ReampBox(inverted=box),
        di_box=DiBox(input=DI, inverted=di),
    )
    assert one.truth(DI).inverted is (box != di)
    assert np.sign(heard_by_di(one, pulse(2048))[0]) == (-1.0 if box != di else 1.0)
    one.patch("amp")
    heard = played(one, pulse(2048))
    assert one.truth(2).inverted is one.truth(5).inverted is box
    assert np.sign(heard[START, [1, 4]]).tolist() == [-1.0 if box else 1.0] * 2


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_a_long_cable_loses_highs_as_a_first_order_filter_does(rate: int) -> None:
    one = room(
        rate=rate,
        reamp=ReampBox(highs_hz=6000.0),
        di_box=DiBox(input=DI),
        converter_frames=131.0,
        **SILENT,
    )
    one.patch("box to DI input")
    heard = played(one, pulse(8192))[START:, DI - 1] / 0.5
    hz = np.arange(heard.size // 2 + 1) * rate / heard.size
    # Its analogue prototype, by a general library's bilinear transform tuned to the same corner.
    corner = 2.0 * rate * np.tan(np.pi * 6000.0 / rate)
    expected = freqz(*bilinear([corner], [1.0, corner], fs=rate), worN=hz, fs=rate)[1]
    assert np.max(np.abs(np.fft.rfft(heard) - expected)) < 1e-9
    at_corner = np.abs(np.fft.rfft(heard))[np.argmin(np.abs(hz - 6000.0))]
    assert 20.0 * np.log10(at_corner) == pytest.approx(-3.01, abs=0.02)


def test_a_trim_that_is_turned_while_it_plays_is_heard_by_everything_behind_the_box() -> None:
    turn = {"kind": "send trim", "gain_db": -6.0, "from_s": 0.25}
    signal = tone()
    gains = np.where(np.arange(signal.size) < 12_000, ratio_from_db(6.0), 1.0)
    expected = (signal * gains)[:-START]
    for patch, numbers in (("amp", (2, 5)), ("box to DI input", (DI,))):
        one = wired(patch, witness=5, reamp=ReampBox(gain_db=6.0), faults=(turn,))
        heard = played(one, signal)[START:]
        for number in numbers:
            assert np.allclose(heard[:, number - 1], expected, rtol=0.0, atol=1e-12)


# ------------------------------------------------------------------ noise


@pytest.mark.parametrize(
    ("patch", "level_dbfs"), [("box to DI input", -70.0), ("send to input", -118.0)]
)
def test_the_di_box_hisses_while_it_is_patched_and_a_cable_adds_the_converters_noise(
    patch: PatchName, level_dbfs: float
) -> None:
    one = wired(patch, noise_dbfs=-84.0, di_box=DiBox(input=DI, noise_dbfs=-70.0))
    assert rms_db(played(one, np.zeros(RATE))[:, DI - 1]) == pytest.approx(level_dbfs, abs=0.2)


def test_what_the_di_hears_does_not_depend_on_the_size_of_blocks() -> None:
    def heard(block: int) -> Any:
        one = wired(
            "box to DI input",
            noise_dbfs=-84.0,
            converter_frames=131.37,
            reamp=ReampBox(gain_db=3.0, highs_hz=8000.0),
            faults=({"kind": "send trim", "gain_db": 2.0, "from_s": 0.03},),
        )
        return played(one, tone(0.1), block=block)

    assert np.max(np.abs(heard(512) - heard(96))) < 1e-12


def test_a_di_input_beyond_the_interface_is_refused() -> None:
    with pytest.raises(UseError, match=re.escape("device.inputs is 4, but input 6 is in use")):
        room(rate=RATE, inputs=4, di_box=DiBox(input=6), **SILENT)


# ------------------------------------------------------------------ what hums, and its cure

LOOP = {"kind": "ground loop", "hz": 60.0, "level_dbfs": -40.0}


@pytest.mark.parametrize(
    ("patch", "level_dbfs"),
    [
        ("amp", -40.0),
        ("plugged", -40.0),
        ("lifted", -70.0),
        ("unplugged", None),
        ("box to DI input", None),
        ("send to input", None),
    ],
)
def test_a_ground_loop_is_there_while_the_amp_is_plugged_and_the_lift_takes_it_down(
    patch: PatchName, level_dbfs: float | None
) -> None:
    heard = played(wired(patch, noise_dbfs=-150.0, faults=(LOOP,)), np.zeros(RATE))[512:, 1]
    if level_dbfs is None:
        assert not heard.any()
    else:
        assert rms_db(heard) == pytest.approx(level_dbfs, abs=0.05)
        assert line_db(heard, 60.0, rate=RATE) > line_db(heard, 50.0, rate=RATE) + 30.0


@pytest.mark.parametrize("lift_cures_db", [0.0, 12.0])
def test_a_lift_cures_as_much_as_is_said(lift_cures_db: float) -> None:
    fault = LOOP | {"lift_cures_db": lift_cures_db}
    heard = played(wired("lifted", faults=(fault,)), np.zeros(RATE))[512:, 1]
    assert rms_db(heard) == pytest.approx(-40.0 - lift_cures_db, abs=0.05)


def test_the_amps_own_hum_has_no_cure_among_the_cables_and_adds_to_a_loops_power() -> None:
    own = {"kind": "hum", "hz": 60.0, "level_dbfs": -50.0}
    for patch in ("plugged", "unplugged", "lifted"):
        heard = played(wired(patch, faults=(own,)), np.zeros(RATE))[512:, 1]
        assert rms_db(heard) == pytest.approx(-50.0, abs=0.05)
    both = [
        rms_db(played(wired(seed=seed, faults=(own, LOOP)), np.zeros(RATE))[512:, 1])
        for seed in range(8)
    ]
    assert np.mean(both) == pytest.approx(-39.59, abs=1.0)  # powers add, phases are any
    assert max(both) - min(both) > 0.5


def test_a_ground_loop_may_be_in_one_input_alone() -> None:
    one = wired(microphones=(plain(2), plain(3)), faults=(LOOP | {"input": 3},))
    heard = played(one, np.zeros(RATE))[512:]
    assert not heard[:, 1].any()
    assert rms_db(heard[:, 2]) == pytest.approx(-40.0, abs=0.05)

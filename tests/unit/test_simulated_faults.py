"""Every fault of the simulated room, and the moment at which it begins."""

from __future__ import annotations

import re
import threading
from typing import Any

import numpy as np
import pytest
from needs import needs_samples
from simulated_wirings import (
    SILENT,
    guitar,
    line_db,
    plain,
    played,
    pulse,
    rms_db,
    room,
    sine,
    wiring,
)

from audio.device.simulated.device import SimulatedRoom
from audio.device.simulated.inputs import LARGEST
from audio.device.simulated.room import Room
from audio.vocab.errors import UseError
from audio.vocab.wiring import DiBox

RATE = 48_000
START = 512 + 131


def faulty(*faults: dict[str, Any], **rest: Any) -> Room:
    rest = {"microphones": (plain(2), plain(3)), "converter_frames": 131.0, **SILENT, **rest}
    return room(rate=RATE, faults=faults, **rest)


def tone(seconds: float = 1.0, peak: float = 0.5) -> np.ndarray[Any, np.dtype[np.float64]]:
    return sine(300.0, rate=RATE, seconds=seconds, peak=peak)


@pytest.mark.parametrize("kind", ["dead cable", "standby"])
def test_a_dead_send_is_heard_by_no_microphone_from_its_moment_on(kind: str) -> None:
    one = faulty({"kind": kind, "from_s": 0.5})
    signal = tone()
    heard = played(one, signal)
    assert np.array_equal(heard[START : 24_000 + START, 1], signal[:24_000])
    assert not heard[24_000 + START :, 1:3].any()
    assert one.truth(2).connected is one.truth(3).connected is False


def test_a_dead_microphone_cable_leaves_the_other_microphone() -> None:
    one = faulty({"kind": "dead cable", "input": 3, "from_s": 0.5})
    heard = played(one, tone())
    assert not heard[24_000:, 2].any()
    assert heard[23_990:24_000, 2].any()
    assert np.array_equal(heard[START:, 1], tone()[:-START])
    assert (one.truth(2).connected, one.truth(3).connected) == (True, False)


def test_a_dead_cable_leaves_witness_and_noise() -> None:
    one = faulty({"kind": "dead cable"}, witness=5, noise_dbfs=-80.0)
    heard = played(one, tone())
    assert rms_db(heard[:, 1]) == pytest.approx(-80.0, abs=0.1)
    assert rms_db(heard[START:, 4]) == pytest.approx(-9.03, abs=0.1)


def test_swapped_inputs_exchange_what_they_hear() -> None:
    microphones = (plain(2), plain(3, distance_cm=343.2))
    one = faulty({"kind": "swapped inputs", "inputs": [2, 3]}, microphones=microphones)
    heard = played(one, pulse(2048))
    assert heard[START + 480, 1] == heard[START, 2] == 0.5
    assert one.truth(2).delay_frames == START + 480
    assert one.truth(3).delay_frames == START


def test_inputs_swapped_with_a_free_one_hear_nothing() -> None:
    one = faulty({"kind": "swapped inputs", "inputs": [2, 7]})
    heard = played(one, tone(0.1))
    assert not heard[:, 1].any()
    assert heard[:, 6].any()
    assert one.truth(2).connected is False


def test_a_clipping_input_clips_at_full_scale() -> None:
    heard = played(faulty({"kind": "clipping input", "input": 2, "gain_db": 20.0}), tone(peak=0.2))
    assert np.count_nonzero(heard[:, 1] == LARGEST) > 1000
    assert np.count_nonzero(heard[:, 1] == -1.0) > 1000
    assert np.max(np.abs(heard[:, 2])) < 0.21


def test_an_inverted_microphone_is_inverted_and_the_truth_says_so() -> None:
    one = faulty({"kind": "inverted microphone", "input": 3})
    heard = played(one, pulse(1024))
    assert (heard[START, 1], heard[START, 2]) == (0.5, -0.5)
    assert (one.truth(2).inverted, one.truth(3).inverted) == (False, True)


@pytest.mark.parametrize("which", [None, 3])
def test_hum_is_added_to_all_microphones_or_to_one(which: int | None) -> None:
    words = {} if which is None else {"input": which}
    heard = played(
        faulty({"kind": "hum", "hz": 60.0, "level_dbfs": -30.0, **words}), np.zeros(96_000)
    )
    assert rms_db(heard[:, 2]) == pytest.approx(-30.0, abs=0.1)
    assert line_db(heard[:, 2], 60.0, rate=RATE) > line_db(heard[:, 2], 50.0, rate=RATE) + 30.0
    assert heard[:, 1].any() == (which is None)


def test_feedback_brings_the_return_again_and_again() -> None:
    one = faulty({"kind": "feedback", "gain_db": -6.0})
    heard = played(one, pulse(8 * START))[:, 1]
    arrivals = np.flatnonzero(np.abs(heard) > 1e-6)
    assert arrivals[0] == START
    # What is mixed back passes the room without the interface's buffer, plus the mixer's 128 frames.
    assert set(np.diff(arrivals)) == {131 + 128}
    assert heard[arrivals[1]] / heard[arrivals[0]] == pytest.approx(10 ** (-6.0 / 20.0))


def test_feedback_over_unity_grows_to_full_scale_and_no_further() -> None:
    one = faulty({"kind": "feedback", "gain_db": -0.5}, microphones=(plain(2, gain_db=6.0),))
    heard = played(one, pulse(96_000, height=0.01))[:, 1]
    assert np.max(np.abs(heard)) == pytest.approx(1.0, abs=1e-6)


@needs_samples()
def test_after_sound_counts_from_the_first_playing_and_not_from_clicks() -> None:
    clicks = np.zeros(2 * RATE)
    for at in (9600, 21_600, 36_000, 52_800, 67_200):
        clicks[at : at + 96] = sine(2000.0, rate=RATE, seconds=0.002, peak=0.5)[:96]
    signal, rate = guitar(rms_dbfs=-18.0, seconds=2.0)
    one = room(
        rate=rate,
        converter_frames=131.0,
        faults=({"kind": "dead cable", "after_sound_s": 1.0},),
        **SILENT,
    )
    heard = played(one, np.concatenate((clicks, signal)))[START:, 1]
    alive = np.flatnonzero(heard)
    # Playing begins within the 50 ms in which the recording does.
    assert alive[-1] / rate == pytest.approx(clicks.size / rate + 1.0, abs=0.11)


def test_a_fault_of_a_chain_is_there_only_while_that_chain_is_plugged_in() -> None:
    one = faulty({"kind": "dead cable", "chain": "bad"}, chains={"bad": (), "good": ()})
    assert played(one, pulse(1024))[START, 1] == 0.5
    one.plug("bad")
    assert not played(one, pulse(1024))[START:, 1].any()
    one.plug("good")
    played(one, np.zeros(1024))
    assert played(one, pulse(1024))[START, 1] == 0.5


def test_a_fault_of_a_chain_waits_for_the_playing_through_that_chain() -> None:
    one = faulty({"kind": "dead cable", "chain": "bad", "after_sound_s": 0.5}, chains={"bad": ()})
    played(one, tone(2.0))
    one.plug("bad")
    played(one, np.zeros(RATE))
    heard = np.flatnonzero(played(one, tone(1.0))[START:, 1])
    assert heard[-1] / RATE == pytest.approx(0.5, abs=0.06)


def test_a_fault_of_one_time_is_there_only_when_its_chain_is_plugged_in_for_that_time() -> None:
    fault = {"kind": "dead cable", "chain": "bad", "time": 2}
    one = faulty(fault, chains={"bad": (), "good": ()})
    alive = []
    for chain in ("bad", "bad", "bad", "good", "bad"):
        one.plug(chain)
        played(one, np.zeros(1024))
        alive.append(bool(played(one, pulse(1024))[START:, 1].any()))
    assert alive == [True, False, True, True, True]


def test_a_fault_of_one_time_that_waits_for_playing_waits_for_that_of_its_time() -> None:
    fault = {"kind": "dead cable", "chain": "bad", "time": 2, "after_sound_s": 0.5}
    one = faulty(fault, chains={"bad": ()})
    for _ in range(2):
        one.plug("bad")
        played(one, np.zeros(RATE))
        heard = np.flatnonzero(played(one, tone(1.0))[START:, 1])
    assert heard[-1] / RATE == pytest.approx(0.5, abs=0.06)


def test_a_time_without_a_chain_is_refused() -> None:
    with pytest.raises(UseError, match="'time' counts how often its chain is plugged in"):
        faulty({"kind": "standby", "time": 2})


def test_quiet_playing_never_starts_a_fault_that_waits_for_playing() -> None:
    one = faulty({"kind": "dead cable", "after_sound_s": 0.0})
    played(one, tone(1.0, peak=0.04))  # −31 dBFS RMS
    assert one.truth(2).connected


def test_without_a_moment_a_fault_is_there_from_the_first_frame() -> None:
    heard = played(faulty({"kind": "hum", "level_dbfs": -30.0}), np.zeros(64), block=64)
    assert np.count_nonzero(heard[:, 1]) >= 63


def test_a_level_of_an_input_changes_all_that_comes_through_it_from_its_moment_on() -> None:
    fault = {"kind": "level", "input": 2, "gain_db": -20.0, "from_s": 0.5}
    heard = played(faulty(fault, noise_dbfs=-60.0), np.zeros(RATE))
    assert rms_db(heard[:24_000, 1]) == pytest.approx(-60.0, abs=0.2)
    assert rms_db(heard[24_000:, 1]) == pytest.approx(-80.0, abs=0.2)
    assert rms_db(heard[24_000:, 2]) == pytest.approx(-60.0, abs=0.2)


def test_a_level_of_no_input_is_the_amps_and_leaves_the_noise_alone() -> None:
    fault = {"kind": "level", "gain_db": 6.0, "from_s": 0.5}
    signal = tone(peak=0.2)
    heard = played(faulty(fault), signal)[:, 1:3]
    gains = np.where(np.arange(signal.size) < 24_000, 1.0, 10.0 ** (6.0 / 20.0))
    assert np.allclose(heard[START:], (signal * gains)[:-START, None], rtol=0.0, atol=1e-12)
    quiet = played(faulty({"kind": "level", "gain_db": 20.0}, noise_dbfs=-60.0), np.zeros(RATE))
    assert rms_db(quiet[:, 1]) == pytest.approx(-60.0, abs=0.2)


@pytest.mark.parametrize("which", [None, 3])
def test_noise_is_added_to_all_microphones_or_to_one(which: int | None) -> None:
    words = {} if which is None else {"input": which}
    heard = played(
        faulty({"kind": "noise", "level_dbfs": -40.0, "from_s": 0.5, **words}), np.zeros(2 * RATE)
    )
    assert not heard[:24_000].any()
    assert rms_db(heard[24_000:, 2]) == pytest.approx(-40.0, abs=0.2)
    assert heard[:, 1].any() == (which is None)
    if which is None:
        assert abs(np.corrcoef(heard[24_000:, 1], heard[24_000:, 2])[0, 1]) < 0.02


def test_noise_is_the_same_however_the_signal_is_cut_into_blocks() -> None:
    fault = {"kind": "noise", "level_dbfs": -40.0, "from_s": 0.013}
    once, again = (played(faulty(fault), np.zeros(4096), block=size) for size in (512, 96))
    assert once[:, 1].any()
    assert np.array_equal(once, again)


def test_crosstalk_arrives_before_the_air_at_its_level_whatever_the_amp_does() -> None:
    microphones = (plain(2, distance_cm=343.2), plain(3))
    leak = {"kind": "crosstalk", "level_db": -40.0, "input": 2}
    heard = played(faulty(leak, {"kind": "standby"}, microphones=microphones), pulse(2048))
    assert np.flatnonzero(heard[:, 1]).tolist() == [START]
    assert heard[START, 1] == pytest.approx(0.005)
    assert not heard[:, 2].any()


def test_crosstalk_reaches_an_input_that_nobody_wired_and_the_witness() -> None:
    leaks = ({"kind": "crosstalk", "level_db": -20.0, "input": n, "from_s": 0.0} for n in (7, 5))
    one = faulty(*leaks, witness=5)
    heard = played(one, pulse(2048))
    assert np.flatnonzero(heard[:, 6]).tolist() == [START]
    assert heard[START, 6] == pytest.approx(0.05)
    assert heard[START, 4] == pytest.approx(0.55)
    assert heard[START, 1] == 0.5


def test_an_unwired_input_and_the_di_input_can_be_swapped_with_any_other() -> None:
    swaps = ({"kind": "swapped inputs", "inputs": [2, 7]},)
    one = faulty(*swaps, di_box=DiBox(input=7))
    heard = played(one, pulse(2048))
    assert (heard[START, 1], heard[START, 6]) == (0.0, 0.5)
    assert (one.truth(2).connected, one.truth(7).connected) == (False, True)
    one.patch("box to DI input")
    heard = played(one, pulse(2048))
    assert (heard[START, 1], heard[START, 6]) == (0.5, 0.0)
    assert (one.truth(2).connected, one.truth(7).connected) == (True, False)


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize(("family_hz", "lines"), [(1000, 20), (8000, 2)])
def test_a_whine_is_its_familys_lines_to_20_khz_and_nothing_else(
    rate: int, family_hz: int, lines: int
) -> None:
    fault = {"kind": "whine", "family_hz": family_hz, "level_dbfs": -50.0}
    one = room(rate=rate, faults=(fault,), converter_frames=131.0, **SILENT)
    heard = played(one, np.zeros(rate))[:, 1]
    assert rms_db(heard) == pytest.approx(-50.0, abs=0.01)
    # A second holds whole turns of every line, so a transform without a window has them bin by bin.
    power = np.abs(np.fft.rfft(heard)) ** 2
    there = family_hz * np.arange(1, lines + 1)
    assert power[there].sum() / power.sum() == pytest.approx(1.0, abs=1e-9)
    fall = 10.0 * np.log10(power[there[1]] / power[there[0]])
    assert fall == pytest.approx(-6.02, abs=0.05)


@pytest.mark.parametrize("which", [None, 7])
def test_a_whine_is_in_all_microphones_or_in_the_input_that_is_named(which: int | None) -> None:
    words = {} if which is None else {"input": which}
    heard = played(faulty({"kind": "whine", "from_s": 0.5, **words}), np.zeros(RATE))
    assert not heard[:24_000].any()
    loud = [number for number in range(1, 9) if heard[:, number - 1].any()]
    assert loud == ([2, 3] if which is None else [which])


LEAK = {"kind": "monitor leak", "level_db": -12.0, "turned_db": -140.0}


@pytest.mark.parametrize("hz", [300.0, 440.0])
def test_a_monitor_knob_that_is_turned_changes_what_the_witness_hears_of_a_steady_tone(
    hz: float,
) -> None:
    one = faulty(LEAK | {"turned_at_s": 0.5}, witness=5)
    heard = played(one, sine(hz, rate=RATE, seconds=1.0, peak=0.25))[:, 4]
    # A loop of the room without its buffer and of the mixer's 128 frames: a geometric series.
    turn = 2.0 * np.pi * hz * (131 + 128) / RATE
    expected = -20.0 * np.log10(abs(1.0 - 10.0 ** (-12.0 / 20.0) * np.exp(-1j * turn)))
    before, after = heard[14_400:24_000], heard[33_600:43_200]
    assert rms_db(before) - rms_db(after) == pytest.approx(expected, abs=0.01)
    assert abs(expected) > 0.5
    assert rms_db(after) == pytest.approx(20.0 * np.log10(0.25) - 3.01, abs=0.01)


def test_a_monitor_leak_is_there_all_along_until_its_knob_is_turned_some_time_after_playing() -> (
    None
):
    one = faulty(LEAK | {"after_sound_s": 0.5, "input": 3}, witness=5)
    quiet = played(one, pulse(2048))[:, 4]
    assert np.flatnonzero(np.abs(quiet) > 1e-6)[:2].tolist() == [START, START + 131 + 128]
    heard = played(one, tone(1.0))[:, 4]
    assert abs(rms_db(heard[9600:19_200]) - rms_db(heard[28_800:38_400])) > 0.5


def test_a_monitor_leak_of_an_input_that_hears_nothing_of_the_send_moves_nothing() -> None:
    one = faulty(LEAK | {"input": 7, "turned_at_s": 0.1}, witness=5)
    assert np.array_equal(played(one, tone(0.2))[START:, 4], tone(0.2)[:-START])


def test_flat_tops_stop_at_their_ceiling_and_no_sample_reaches_full_scale() -> None:
    fault = {"kind": "flat tops", "ceiling_dbfs": -6.0, "input": 2}
    heard = played(faulty(fault), tone(peak=0.8))
    ceiling = 10.0 ** (-6.0 / 20.0)
    assert np.max(np.abs(heard[:, 1])) == ceiling
    assert np.count_nonzero(heard[:, 1] == ceiling) > 1000
    assert np.max(np.abs(heard[:, 2])) == pytest.approx(0.8, abs=1e-3)


def test_a_slip_of_less_than_none_loses_input_and_all_that_follows_is_early() -> None:
    one = faulty({"kind": "slip", "frames": -37, "at_s": 0.1})
    assert one.truth(2).delay_frames == START + 37
    signal = tone(0.2)
    before = played(one, signal[:4800])
    (due,) = one.faults.sudden(one.frame)
    one.slip(due.words["frames"])
    assert one.truth(2).delay_frames == START
    heard = np.concatenate((before, played(one, signal[4800:])))[:, 1]
    assert np.array_equal(heard[START + 37 : 4800], signal[: 4800 - START - 37])
    assert np.array_equal(heard[4800:], signal[4800 - START : -START])


def test_input_can_be_lost_over_the_whole_device_even_when_a_block_is_shorter() -> None:
    device = SimulatedRoom(
        wiring(
            rate=RATE,
            block=64,
            pace="free",
            faults=({"kind": "slip", "frames": -200, "at_s": 0.01},),
            **SILENT,
        )
    )
    heard: list[float] = []
    full = threading.Event()

    def block(indata: Any, outdata: Any, frames: int, *_: object) -> None:
        at = len(heard)
        heard.extend((indata[:, 1] >> 8).tolist())
        outdata[:] = 0
        outdata[:, 2] = (1 + at + np.arange(frames, dtype=np.int32)) << 8
        if len(heard) >= 4096:
            full.set()

    device.start(block, lambda _: len(heard) < 4096)
    assert full.wait(10.0)
    device.close()
    assert device.error is None
    late = np.arange(4096) + 1 - np.array(heard)
    assert set(late[1024:].tolist()) == {round(device.truth(2).delay_frames)}


@pytest.mark.parametrize(
    ("fault", "message"),
    [
        ({"kind": "slip", "frames": 0, "at_s": 1.0}, "a slip of 0 frames is none"),
        ({"kind": "level"}, "the word 'gain_db' is missing"),
        ({"kind": "level", "gain_db": 60.0}, "'gain_db' is 60.0, write a number from -80 to 40"),
        (
            {"kind": "noise", "level_dbfs": 1.0},
            "'level_dbfs' is 1.0, write a number from -140 to 0",
        ),
        ({"kind": "noise", "input": 9}, "input 9 is beyond the device's 8"),
        ({"kind": "whine", "family_hz": 2000}, "'family_hz' is 2000, write 1000 or 8000"),
        ({"kind": "whine", "input": 9}, "input 9 is beyond the device's 8"),
        ({"kind": "ground loop", "lift_cures_db": -3.0}, "write a number from 0 to 140"),
        ({"kind": "monitor leak", "turned_db": 3.0}, "the knob needs a moment; add 'turned_at_s'"),
        ({"kind": "monitor leak", "from_s": 3.0}, "no word 'from_s' is known there"),
        ({"kind": "send trim"}, "the word 'gain_db' is missing"),
        ({"kind": "crosstalk", "db": -30.0}, "no word 'db' is known there"),
        (
            {"kind": "crosstalk", "level_db": 6.0},
            "'level_db' is 6.0, write a number from -140 to 0",
        ),
        (
            {"kind": "flat tops", "ceiling_dbfs": 0.0},
            "'ceiling_dbfs' is 0.0, write a number from -60 to -0.1",
        ),
    ],
)
def test_words_beyond_their_bounds_are_refused_where_they_stand(
    fault: dict[str, Any], message: str
) -> None:
    with pytest.raises(UseError, match=re.escape(message)):
        faulty(fault)

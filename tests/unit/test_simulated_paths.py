"""Delay, level, noise and exactness of the simulated room's paths."""

from __future__ import annotations

import hypothesis
import hypothesis.strategies as st
import numpy as np
import pytest
from needs import needs_samples
from simulated_wirings import (
    SILENT,
    delay_of,
    guitar,
    line_db,
    plain,
    played,
    pulse,
    rms_db,
    room,
    sine,
)

from audio.device.simulated.filters import SINC_LATENCY, fractional_kernel
from audio.vocab.errors import UseError
from audio.vocab.wiring import Amp, Hum, Loop, Microphone

RATES = (44_100, 48_000, 96_000, 192_000)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("converter_frames", [131.37, 200.5, 97.001, 64.0])
@pytest.mark.parametrize("distance_cm", [0.0, 5.0, 123.4])
def test_a_plain_path_is_late_by_block_converters_and_air(
    rate: int, converter_frames: float, distance_cm: float
) -> None:
    one = room(
        rate=rate,
        microphones=(plain(distance_cm=distance_cm),),
        converter_frames=converter_frames,
        **SILENT,
    )
    # 343.2 m/s: ISO 9613-1, reference value for dry air at 20 °C.
    expected = 512 + converter_frames + distance_cm / 34_320.0 * rate
    heard = played(one, pulse(4096))[:, 1]
    assert one.truth(2).delay_frames == pytest.approx(expected, abs=1e-9)
    assert delay_of(heard, rate=rate) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("rate", [44_100, 48_000])
@pytest.mark.parametrize("fraction", [0.001, 0.25, 0.5, 0.73, 0.999])
def test_a_fractional_delay_errs_by_less_than_100_db_up_to_20_khz(
    rate: int, fraction: float
) -> None:
    turn = 2.0 * np.pi * np.linspace(0.0, 20_000.0, 500) / rate
    taps = fractional_kernel(fraction)
    spectrum = np.exp(-1j * np.outer(turn, np.arange(taps.size))) @ taps
    error = np.abs(spectrum - np.exp(-1j * turn * (SINC_LATENCY + fraction)))
    assert 20.0 * np.log10(error.max()) < -100.0


@pytest.mark.parametrize("block", [64, 512, 1024])
def test_one_block_of_buffer_is_part_of_the_round_trip(block: int) -> None:
    one = room(rate=48_000, block=block, converter_frames=64.0, **SILENT)
    assert int(np.argmax(played(one, pulse(2048))[:, 1])) == block + 64


def test_a_whole_plain_path_returns_24_bit_codes_as_they_were() -> None:
    one = room(rate=48_000, converter_frames=131.0, **SILENT)
    codes = np.random.default_rng(5).integers(-(2**23), 2**23, 5000)
    heard = played(one, codes * 2.0**-23)[:, 1] * 2.0**23
    delay = round(one.truth(2).delay_frames)
    assert np.array_equal(heard[delay:], codes[:-delay])
    assert not heard[:delay].any()


def test_a_plain_path_of_a_metre_of_air_is_whole_at_343_2_frames_a_millimetre() -> None:
    # 343.2 cm take 10 ms: 480 frames at 48 kHz (speed of sound of ISO 9613-1).
    one = room(
        rate=48_000, converter_frames=100.0, microphones=(plain(distance_cm=343.2),), **SILENT
    )
    heard = played(one, pulse(2048))[:, 1]
    assert np.flatnonzero(heard).tolist() == [512 + 100 + 480]


@pytest.mark.parametrize("chain", ["", "late"])
def test_witness_and_loop_are_late_by_the_converters_alone_whatever_is_plugged(chain: str) -> None:
    one = room(
        rate=48_000,
        witness=5,
        loop=Loop(output=8, input=8),
        chains={"late": ({"kind": "digital", "ms": 3.0}, {"kind": "drive"})},
        **SILENT,
    )
    one.plug(chain)
    sent = np.zeros((2048, 8))
    sent[0, [2, 7]] = 0.5, 0.25
    heard = one.process(sent)
    assert delay_of(heard[:, 4], rate=48_000) == pytest.approx(512 + 131.37, abs=1e-3)
    assert np.allclose(heard[:, 4], 2.0 * heard[:, 7], atol=1e-15)
    assert one.truth(5).delay_frames == one.truth(8).delay_frames == 512 + 131.37


def test_loop_and_send_do_not_leak_into_each_other() -> None:
    one = room(rate=48_000, loop=Loop(output=8, input=8), **SILENT)
    assert not played(one, pulse(2048), output=8)[:, 1].any()
    assert not played(one, pulse(2048))[1600:, 7].any()


def test_gain_and_inversion_of_a_microphone_are_those_of_the_wiring() -> None:
    one = room(
        rate=48_000,
        converter_frames=64.0,
        microphones=(plain(gain_db=-6.0, inverted=True),),
        **SILENT,
    )
    heard = played(one, pulse(1024))[:, 1]
    assert heard[576] == pytest.approx(-0.5 * 10 ** (-6.0 / 20.0), rel=1e-12)
    assert one.truth(2).inverted is True


def test_crosstalk_arrives_with_the_converters_before_the_air() -> None:
    one = room(
        rate=48_000,
        converter_frames=100.0,
        crosstalk_db=-60.0,
        microphones=(plain(distance_cm=343.2),),
        **SILENT,
    )
    heard = played(one, pulse(2048))[:, 1]
    assert heard[612] == pytest.approx(0.5e-3, rel=1e-9)
    assert heard[1092] == pytest.approx(0.5, rel=1e-9)


def test_noise_has_the_level_of_the_wiring_and_is_another_one_at_each_input() -> None:
    one = room(rate=48_000, microphones=(plain(2), plain(3)), noise_dbfs=-70.0)
    heard = played(one, np.zeros(96_000))
    assert rms_db(heard[:, 1]) == pytest.approx(-70.0, abs=0.1)
    assert rms_db(heard[:, 2]) == pytest.approx(-70.0, abs=0.1)
    assert abs(np.corrcoef(heard[:, 1], heard[:, 2])[0, 1]) < 0.02


def test_an_input_without_a_cable_hisses_at_118_db_below_full_scale() -> None:
    one = room(rate=48_000)
    assert rms_db(played(one, np.zeros(48_000))[:, 6]) == pytest.approx(-118.0, abs=0.2)
    assert one.truth(7).connected is False


def test_noise_is_white() -> None:
    heard = played(room(rate=48_000, noise_dbfs=-60.0), np.zeros(96_000))[:, 1]
    power = np.abs(np.fft.rfft(heard)) ** 2
    octaves = [power[a:b].mean() for a, b in ((100, 6000), (6000, 24_000), (24_000, 48_000))]
    assert max(octaves) / min(octaves) < 1.1


def test_no_noise_at_all_from_150_db_down() -> None:
    assert not played(room(rate=48_000, noise_dbfs=-150.0), np.zeros(4096)).any()


@pytest.mark.parametrize("hz", [50.0, 60.0, 49.97])
def test_hum_has_its_level_its_lines_and_stronger_odd_ones(hz: float) -> None:
    one = room(rate=48_000, hum=Hum(hz=hz, level_dbfs=-50.0), **SILENT)
    heard = played(one, np.zeros(96_000))[:, 1]
    lines = [line_db(heard, hz * n, rate=48_000) for n in range(1, 6)]
    assert rms_db(heard) == pytest.approx(-50.0, abs=0.1)
    assert lines[0] > lines[2] > lines[1]
    assert lines[4] > lines[3] > line_db(heard, hz * 2.5, rate=48_000) + 20.0


def test_a_converter_too_fast_for_the_rooms_arithmetic_is_refused_with_the_least_delay() -> None:
    with pytest.raises(
        UseError, match=r"converter_frames is 20\.5, too short.*write 39\.5 or more"
    ):
        room(rate=48_000, converter_frames=20.5, **SILENT)
    with pytest.raises(UseError, match=r"write 87\.25 or more"):
        room(rate=48_000, converter_frames=50.25)
    room(rate=48_000, converter_frames=87.25)


@pytest.mark.parametrize("rate", [48_000, 192_000])
def test_two_rooms_of_one_seed_are_alike_and_of_two_seeds_are_not(rate: int) -> None:
    signal = sine(220.0, rate=rate, seconds=0.1, peak=0.3)
    first, again, other = (
        played(room(rate=rate, seed=seed, hum=Hum()), signal) for seed in (1, 1, 2)
    )
    assert np.array_equal(first, again)
    assert not np.array_equal(first[:, 1], other[:, 1])


EVERYTHING = (
    {"kind": "gate"},
    {"kind": "compressor"},
    {"kind": "drive"},
    {"kind": "wah"},
    {"kind": "inverting buffer"},
    {"kind": "digital", "ms": 1.4},
    {"kind": "tremolo"},
    {"kind": "chorus"},
    {"kind": "vibrato"},
    {"kind": "echo", "ms": 37.0},
    {"kind": "reverb"},
    {"kind": "volume", "open": 0.8},
)


@needs_samples()
@hypothesis.settings(max_examples=8)
@hypothesis.given(
    st.lists(st.sampled_from([1, 7, 64, 480, 512, 1000, 1733, 4096]), min_size=1, max_size=4)
)
def test_what_comes_back_does_not_depend_on_the_size_of_blocks(sizes: list[int]) -> None:
    signal, rate = guitar(seconds=0.2)
    whole, cut = (
        room(
            rate=rate,
            converter_frames=164.37,
            microphones=(Microphone(input=2), Microphone(input=3, cabinet="floor bounce")),
            witness=5,
            crosstalk_db=-70.0,
            hum=Hum(),
            chains={"everything": EVERYTHING},
            faults=(
                {"kind": "dead cable", "from_s": 0.15},
                {"kind": "inverted microphone", "input": 3, "from_s": 0.05},
                {"kind": "hum", "from_s": 0.02},
            ),
        )
        for _ in range(2)
    )
    sent = np.zeros((signal.size, 8))
    sent[:, 2] = signal
    for one in (whole, cut):
        one.plug("everything")
    expected = whole.process(sent)
    got, at = [], 0
    while at < len(sent):
        size = sizes[len(got) % len(sizes)] if len(got) < 300 else 4096
        got.append(cut.process(sent[at : at + size]))
        at += size
    assert np.max(np.abs(np.concatenate(got) - expected)) < 1e-9


def test_floats_of_single_precision_may_be_sent_and_a_given_array_is_filled() -> None:
    one = room(rate=48_000, converter_frames=64.0, **SILENT)
    sent = np.zeros((1024, 8), dtype=np.float32)
    sent[0, 2] = 0.5
    out = np.empty((1024, 8))
    assert one.process(sent, out) is out
    assert out[576, 1] == 0.5


def test_an_input_clips_at_the_largest_code() -> None:
    one = room(rate=48_000, converter_frames=64.0, microphones=(plain(gain_db=20.0),), **SILENT)
    heard = played(one, sine(100.0, rate=48_000, seconds=0.1, peak=0.9))[:, 1]
    assert heard.max() == 1.0 - 2.0**-23
    assert heard.min() == -1.0


def test_an_amp_of_small_drive_leaves_the_delay_where_it_was() -> None:
    one = room(rate=48_000, noise_dbfs=-200.0, amp=Amp(drive_db=0.0, asymmetry=0.0))
    heard = played(one, pulse(4096, height=1e-3))[:, 1]
    assert delay_of(heard, rate=48_000, low_hz=2000.0) == pytest.approx(512 + 131.37, abs=5e-3)

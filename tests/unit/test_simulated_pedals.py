"""Every pedal of the simulated room does what its words say."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from needs import needs_samples
from scipy.signal import hilbert
from simulated_wirings import (
    SILENT,
    Signal,
    delay_of,
    guitar,
    line_db,
    played,
    pulse,
    rms_db,
    room,
    sine,
)

from audio.device.simulated.room import Room

RATE = 48_000
START = 512 + 131
"""Round trip of the bare path in these tests."""


def behind(*pedals: dict[str, Any], rate: int = RATE) -> Room:
    """A room without noise, amp or cabinet, the pedals plugged in and the fade over."""
    one = room(rate=rate, converter_frames=131.0, chains={"chain": pedals}, **SILENT)
    one.plug("chain")
    played(one, np.zeros(rate // 20))
    return one


def through(signal: Signal, *pedals: dict[str, Any], rate: int = RATE) -> Signal:
    """What comes back of `signal`, the bare round trip removed."""
    silence = np.zeros(START)
    return played(behind(*pedals, rate=rate), np.append(signal, silence), block=480)[START:, 1]


def envelope(signal: Signal) -> Signal:
    return np.abs(hilbert(signal))


@pytest.mark.parametrize(("hz", "depth"), [(4.0, 0.5), (7.5, 1.0), (2.0, 0.2)])
def test_tremolo_moves_the_level_at_its_rate_between_one_and_one_less_depth(
    hz: float, depth: float
) -> None:
    heard = envelope(
        through(
            sine(1000.0, rate=RATE, seconds=2.0, peak=0.5),
            {"kind": "tremolo", "hz": hz, "depth": depth},
        )
    )
    heard = heard[4800:-4800] / 0.5
    assert heard.max() == pytest.approx(1.0, abs=0.01)
    assert heard.min() == pytest.approx(1.0 - depth, abs=0.01)
    assert line_db(heard - heard.mean(), hz, rate=RATE) == pytest.approx(
        20.0 * np.log10(depth / 2.0), abs=0.5
    )


@pytest.mark.parametrize(("ms", "feedback"), [(450.0, 0.7), (37.3, 0.3), (2.0, 0.9)])
def test_echoes_come_at_their_time_each_weaker_by_the_feedback(ms: float, feedback: float) -> None:
    pedal = {"kind": "echo", "ms": ms, "feedback": feedback, "mix": 0.5}
    step = round(ms * RATE / 1000.0)
    heard = through(pulse(4 * step + 10), pedal)
    assert heard[0] == 0.5
    assert [heard[n * step] for n in (1, 2, 3)] == pytest.approx(
        [0.25, 0.25 * feedback, 0.25 * feedback**2]
    )
    assert np.count_nonzero(heard) == 5


def test_an_echo_of_450_ms_at_70_percent_takes_nine_seconds_to_fall_60_db() -> None:
    # 0.7^n = 1/1000 at n = 19.4 echoes, 8.7 s.
    heard = through(pulse(10 * RATE), {"kind": "echo", "ms": 450.0, "feedback": 0.7, "mix": 1.0})
    over = np.flatnonzero(np.abs(heard) > 0.5e-3)
    assert 8.0 < over[-1] / RATE < 9.5


@pytest.mark.parametrize("decay_s", [0.5, 2.0])
def test_a_reverb_falls_60_db_in_its_decay(decay_s: float) -> None:
    """Schroeder's backward integration (ISO 3382-1), slope between −5 and −25 dB."""
    signal = pulse(round(RATE * (decay_s + 1.0)))
    heard = through(signal, {"kind": "reverb", "decay_s": decay_s, "mix": 1.0})
    left = np.cumsum(heard[::-1] ** 2)[::-1]
    level = 10.0 * np.log10(left / left[0] + 1e-20)
    at = [int(np.argmax(level < db)) for db in (-5.0, -25.0)]
    # Treble falls faster, as in a room: the decay read over the full band is shorter.
    assert 0.45 * decay_s < (at[1] - at[0]) / RATE * 3.0 < 1.1 * decay_s


def test_a_wet_reverb_has_no_dry_sound_and_no_polarity_to_know() -> None:
    one = behind({"kind": "reverb", "mix": 1.0})
    truth = one.truth(2)
    heard = played(one, pulse(8192))[:, 1]
    assert truth.inverted is None
    assert np.flatnonzero(np.abs(heard) > 1e-12)[0] == round(truth.delay_frames)
    assert truth.delay_frames == START + round(0.0297 * RATE)


def test_a_mixed_reverb_lets_the_dry_sound_through_first() -> None:
    heard = through(pulse(4800), {"kind": "reverb", "mix": 0.4})
    assert heard[0] == pytest.approx(0.3)
    assert not heard[1:1400].any()


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("ms", [1.4, 3.0, 2.2222, 10.0])
def test_a_digital_pedal_delays_everything_by_its_milliseconds(ms: float, rate: int) -> None:
    one = behind({"kind": "digital", "ms": ms}, rate=rate)
    heard = played(one, pulse(8192))[:, 1]
    expected = START + ms * rate / 1000.0
    assert delay_of(heard, rate=rate) == pytest.approx(expected, abs=1e-3)
    assert one.truth(2).delay_frames == pytest.approx(expected, abs=1e-9)


def test_a_digital_pedal_too_short_for_a_fraction_says_so_in_the_truth() -> None:
    one = behind({"kind": "digital", "ms": 0.51})
    heard = played(one, pulse(4096))[:, 1]
    assert int(np.argmax(heard)) == one.truth(2).delay_frames == START + 24


def instant_delay(signal: Signal, heard: Signal) -> Signal:
    """Delay of a tone at each frame by the phase of its analytic signal, frames."""
    turn = np.unwrap(np.angle(hilbert(signal))) - np.unwrap(np.angle(hilbert(heard)))
    return turn / (2.0 * np.pi * 500.0) * RATE


def test_a_vibrato_moves_the_delay_at_its_rate_by_its_depth() -> None:
    signal = sine(500.0, rate=RATE, seconds=2.0, peak=0.5)
    pedal = {"kind": "vibrato", "hz": 4.0, "delay_ms": 3.0, "depth_ms": 0.5}
    one = behind(pedal)
    heard = played(one, np.append(signal, np.zeros(START)))[START:, 1]
    late = instant_delay(signal, heard)[12_000:-12_000]  # six turns
    late -= np.round((late.mean() - 144.0) / 96.0) * 96.0  # whole periods of the tone
    assert late.mean() == pytest.approx(144.0, abs=1.0)
    assert (late.max() - late.min()) / 2.0 == pytest.approx(24.0, abs=0.5)
    assert line_db(late - late.mean(), 4.0, rate=RATE) == pytest.approx(
        20.0 * np.log10(24.0), abs=0.5
    )
    assert one.truth(2).moves
    assert one.truth(2).delay_frames == START + 144


def test_a_chorus_adds_a_copy_whose_delay_moves() -> None:
    pedal = {"kind": "chorus", "hz": 1.0, "delay_ms": 12.0, "depth_ms": 3.0, "mix": 0.5}
    clicks = np.zeros(RATE)
    clicks[::4800] = 0.5
    heard = through(clicks, pedal)
    assert heard[::4800] == pytest.approx(np.full(10, 0.25))
    copies = [
        int(np.argmax(np.abs(heard[at + 100 : at + 4000]))) + 100 for at in range(0, RATE, 4800)
    ]
    assert min(copies) == pytest.approx(9.0e-3 * RATE, abs=25)
    assert max(copies) == pytest.approx(15.0e-3 * RATE, abs=25)


def test_a_gate_eats_quiet_clicks_and_lets_playing_through() -> None:
    pedal = {"kind": "gate", "threshold_db": -40.0}
    quiet = through(pulse(4800, at=100, height=0.009), pedal)
    assert not quiet.any()
    loud = through(sine(400.0, rate=RATE, seconds=0.5, peak=0.1), pedal)
    assert rms_db(loud[9600:19_200]) == pytest.approx(-23.0, abs=0.1)


def test_a_gate_shuts_with_its_release_once_playing_has_ended() -> None:
    pedal = {"kind": "gate", "threshold_db": -40.0, "hold_ms": 10.0, "release_ms": 100.0}
    tone = sine(1000.0, rate=RATE, seconds=1.5, peak=0.2)
    tone[RATE // 2 :] *= 0.005 / 0.2  # falls under the threshold, can still be seen
    heard = envelope(through(tone, pedal)) / 0.005
    shut = [heard[round((0.6 + s) * RATE)] for s in (0.0, 0.1, 0.2)]
    assert shut[1] / shut[0] == pytest.approx(np.exp(-1.0), rel=0.1)
    assert shut[2] / shut[1] == pytest.approx(np.exp(-1.0), rel=0.1)


@pytest.mark.parametrize("ratio", [2.0, 4.0, 20.0])
def test_a_compressor_divides_what_is_over_its_threshold_by_its_ratio(ratio: float) -> None:
    pedal = {
        "kind": "compressor",
        "threshold_db": -40.0,
        "ratio": ratio,
        "attack_ms": 0.0,
        "release_ms": 2000.0,
        "makeup_db": 0.0,
    }
    levels = [
        rms_db(through(sine(500.0, rate=RATE, seconds=1.0, peak=peak), pedal)[24_000:])
        for peak in (0.05, 0.5)
    ]
    assert levels[1] - levels[0] == pytest.approx(20.0 / ratio, abs=0.2)


@needs_samples()
def test_a_drive_pedal_makes_playing_denser_at_about_the_same_level() -> None:
    signal, rate = guitar(seconds=3.0)
    clean = through(signal, rate=rate)
    driven = through(signal, {"kind": "drive", "drive_db": 40.0}, rate=rate)
    crest = [20.0 * np.log10(np.max(np.abs(s))) - rms_db(s) for s in (clean, driven)]
    assert crest[1] < crest[0] - 6.0
    assert rms_db(driven) == pytest.approx(rms_db(clean), abs=6.0)


def test_a_drive_pedals_tone_cuts_the_treble() -> None:
    low, high = (
        line_db(
            through(
                sine(6000.0, rate=RATE, seconds=0.5, peak=0.001),
                {"kind": "drive", "drive_db": 0.0, "tone_hz": hz},
            ),
            6000.0,
            rate=RATE,
        )
        for hz in (1000.0, 10_000.0)
    )
    assert high - low > 12.0


def test_drive_pedals_leave_the_delay_of_every_chain_where_it_was() -> None:
    one = room(
        rate=RATE,
        converter_frames=131.0,
        chains={"two": ({"kind": "drive"}, {"kind": "drive"}), "none": ()},
        **SILENT,
    )
    assert int(np.argmax(played(one, pulse(2048))[:, 1])) == START
    one.plug("two")
    played(one, np.zeros(4800))
    first = np.abs(played(one, pulse(2048, height=0.01))[:, 1])
    assert START <= int(np.argmax(first)) <= START + 1
    assert one.truth(2).delay_frames == START


def test_a_buffer_inverts_and_two_of_them_do_not() -> None:
    buffer = {"kind": "inverting buffer"}
    assert through(pulse(10), buffer)[0] == -0.5
    assert through(pulse(10), buffer, buffer)[0] == 0.5
    assert behind(buffer).truth(2).inverted is True
    assert behind(buffer, buffer).truth(2).inverted is False


@pytest.mark.parametrize("pedal", [{"kind": "volume"}, {"kind": "tuner"}])
def test_a_volume_pedal_left_down_and_a_tuner_give_nothing(pedal: dict[str, Any]) -> None:
    assert not through(pulse(4800), pedal).any()
    assert behind(pedal).truth(2).connected is False


def test_a_volume_pedal_half_open_halves() -> None:
    assert through(pulse(10), {"kind": "volume", "open": 0.5})[0] == 0.25
    assert behind({"kind": "volume", "open": 0.5}).truth(2).connected


def test_a_wah_lifts_its_band_and_leaves_no_polarity() -> None:
    pedal = {"kind": "wah", "hz": 800.0, "q": 5.0}
    levels = [
        line_db(through(sine(hz, rate=RATE, seconds=0.5, peak=0.01), pedal)[4800:], hz, rate=RATE)
        for hz in (200.0, 800.0, 3200.0)
    ]
    assert levels[1] == pytest.approx(-40.0 + 20.0 * np.log10(5.0), abs=0.2)
    assert levels[0] < levels[1] - 20.0
    assert levels[2] < levels[1] - 20.0
    assert behind(pedal).truth(2).inverted is None


@pytest.mark.parametrize("db", [2.0, -2.0])
def test_a_tone_control_lifts_its_middle_and_little_beside_it(db: float) -> None:
    pedal = {"kind": "tone", "db": db}
    hz = (300.0, 3000.0, 15_000.0)
    heard = [through(sine(f, rate=RATE, seconds=0.5, peak=0.1), pedal)[4800:] for f in hz]
    levels = [line_db(one, f, rate=RATE) + 20.0 for one, f in zip(heard, hz, strict=True)]
    assert levels[1] == pytest.approx(db, abs=0.01)
    assert max(abs(levels[0]), abs(levels[2])) < 0.2
    assert behind(pedal).truth(2).inverted is False


def test_a_tone_control_behind_a_drive_is_not_one_before_it() -> None:
    drive, tone = {"kind": "drive", "tone_hz": 20_000.0}, {"kind": "tone", "hz": 900.0, "db": 6.0}
    signal = sine(300.0, rate=RATE, seconds=0.5, peak=0.1)
    bare, behind_it, before_it = (
        line_db(through(signal, *pedals)[4800:], 900.0, rate=RATE)
        for pedals in ((drive,), (drive, tone), (tone, drive))
    )
    assert behind_it - bare == pytest.approx(6.0, abs=0.05)
    assert before_it - bare < 2.0


def test_a_chain_that_is_not_listed_has_no_pedal_in_it() -> None:
    one = room(rate=RATE, converter_frames=131.0, chains={"a": ({"kind": "tuner"},)}, **SILENT)
    one.plug("something else")
    assert played(one, pulse(2048))[START, 1] == 0.5


def test_plugging_fades_over_10_ms_without_a_click() -> None:
    one = room(rate=RATE, converter_frames=131.0, chains={"down": ({"kind": "tuner"},)}, **SILENT)
    signal = sine(200.0, rate=RATE, seconds=1.0, peak=0.5)
    first = played(one, signal[:24_000])
    one.plug("down")
    heard = np.append(first, played(one, signal[24_000:]), axis=0)[START:, 1]
    steepest = np.max(np.abs(np.diff(signal)))
    assert np.max(np.abs(np.diff(heard))) < steepest + 0.5 / 480 + 1e-9
    assert heard[23_999] == signal[23_999]
    assert not heard[24_480:].any()


def test_a_change_asked_for_during_another_waits_for_it() -> None:
    one = room(rate=RATE, converter_frames=131.0, chains={"down": ({"kind": "tuner"},)}, **SILENT)
    signal = sine(200.0, rate=RATE, seconds=0.2, peak=0.5)
    one.plug("down")
    first = played(one, signal[:64], block=64)
    one.plug("")
    heard = np.append(first, played(one, signal[64:], block=64), axis=0)[START:, 1]
    # Down over 480 frames, seen to be done at the end of a block of 64, and up again from there.
    assert np.max(np.abs(heard[480:512])) == 0.0
    assert np.array_equal(heard[992:], signal[992:-START])
    assert np.max(np.abs(np.diff(heard))) < np.max(np.abs(np.diff(signal))) + 0.5 / 480 + 1e-9


def test_the_truth_is_that_of_the_chain_that_was_asked_for_last() -> None:
    one = room(
        rate=RATE,
        converter_frames=131.0,
        chains={"late": ({"kind": "digital", "ms": 1.0},)},
        **SILENT,
    )
    assert one.truth(2).delay_frames == START
    one.plug("late")
    assert one.truth(2).delay_frames == START + 48
    one.plug("nothing known by that name")
    assert one.truth(2).delay_frames == START

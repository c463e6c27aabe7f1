from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    LOUD_DBFS,
    NOISE_DBFS,
    RATE,
    SILENT,
    WINDOW,
    codes,
    dead_from,
    ended,
    measures,
    order,
    the,
    unheard,
    verdict,
    weigh,
)

from audio.verdict.thresholds import CLIP_SHORT_MS, LEAK_GAIN_DB, LEAK_SHARE
from audio.vocab.results import ClippedRun, PassMeasures


def clipped(runs: int, *, samples: int = 4, seconds: float = 60.0) -> PassMeasures:
    files = measures(seconds=seconds)
    first = tuple(
        ClippedRun(at_frame=RATE * 12 + i * 1000, frames=samples) for i in range(min(runs, 100))
    )
    close = replace(files.returns[0], peak_dbfs=0.0, clipped_runs=runs, first_clipped=first)
    return replace(files, returns=(close, files.returns[1]))


def test_a_few_short_clips_are_worth_a_look_and_placed() -> None:
    found = the("clipped", verdict(files=clipped(3)))
    assert found.weight == "look"
    assert found.at_s == pytest.approx(12.0)
    assert found.text == (
        "close clipped at the converter 3 times, first at 0:12, 12 samples in all."
    )


def test_many_clips_or_long_ones_are_to_be_redone() -> None:
    assert the("clipped", verdict(files=clipped(60))).weight == "redo"
    assert the("clipped", verdict(files=clipped(1, samples=400))).weight == "redo"


def test_clips_beyond_those_listed_are_counted_as_at_least() -> None:
    assert "at least 400 samples" in the("clipped", verdict(files=clipped(250))).text


def test_flat_tops_below_full_scale_are_the_sound_of_fuzz() -> None:
    files = measures()
    square = replace(files.returns[0], peak_dbfs=-0.1, clipped_runs=0)
    assert verdict(files=replace(files, returns=(square, files.returns[1]))) == ()


@given(st.integers(0, 500), st.integers(0, 500), st.integers(3, 100))
def test_more_clipping_never_weighs_less(a: int, b: int, samples: int) -> None:
    few, many = sorted((a, b))
    assert weigh(verdict(files=clipped(few, samples=samples))) <= weigh(
        verdict(files=clipped(many, samples=samples))
    )


def test_short_means_within_half_a_wave_of_the_highest_fret() -> None:
    # ISO 16: A4 = 440 Hz; the 24th fret of the first string is E6, 19 semitones above.
    half_wave_ms = 1000.0 / (2.0 * 440.0 * 2.0 ** (19 / 12))
    assert half_wave_ms > CLIP_SHORT_MS


@given(st.integers(1, 5000), st.integers(0, 5000))
def test_a_send_that_clips_more_never_weighs_less(frames: int, more: int) -> None:
    few = verdict(end=ended(send_clipped=frames))
    many = verdict(end=ended(send_clipped=frames + more))
    assert 1 <= weigh(few) <= weigh(many)


def test_a_tail_cut_at_its_limit_is_worth_a_look() -> None:
    found = verdict(end=ended(reason="complete"))
    assert codes(found) == ["tail-cut"]
    quiet = dead_from(58)
    files = replace(
        measures(close=quiet, room=quiet),
        di_levels_dbfs=(LOUD_DBFS,) * 1160 + (-120.0,) * 40,
    )
    assert verdict(end=ended(reason="complete"), files=files) == ()


# ------------------------------------------------------------------ the end


def ringing(db_per_s: float, *, over_db: float = 30.0) -> list[float]:
    """Levels that fall into the last second so fast, and are so far over the noise at the end."""
    steps = [db_per_s * WINDOW / RATE * (1199 - i) for i in range(1200)]
    return [min(LOUD_DBFS, NOISE_DBFS + over_db + step) for step in steps]


def test_noise_that_stands_still_at_the_end_is_noise_and_no_tail() -> None:
    steady = [LOUD_DBFS] * 1000 + [NOISE_DBFS + 20.0] * 200
    hissing = (replace(CLOSING[0], noise_dbfs=NOISE_DBFS + 20.0), CLOSING[1])
    files = measures(close=steady, room=dead_from(58))
    rests = (*files.di_levels_dbfs[:1000], *(-120.0,) * 200)
    files = replace(files, di_levels_dbfs=rests)
    found = verdict(end=ended(reason="complete"), files=files, closing=hissing)
    assert codes(found) == ["noise-up"]


def test_noise_without_a_closing_click_shows_in_the_rests_and_is_no_tail() -> None:
    steady = [LOUD_DBFS] * 1000 + [NOISE_DBFS + 20.0] * 200
    files = measures(close=steady, room=dead_from(50))
    files = replace(files, di_levels_dbfs=(LOUD_DBFS,) * 1000 + (-200.0,) * 200)
    hissing = replace(files.returns[0], rest_noise_dbfs=NOISE_DBFS + 20.0)
    files = replace(files, returns=(hissing, files.returns[1]))
    one = order(opening_click=(unheard("unclear"), SILENT), delay_source="bare path")
    found = verdict(of=one, end=ended(reason="complete"), files=files, closing=(), witness=None)
    assert [f.code for f in found if f.weight != "good"] == ["noise-up"]


def test_a_tail_that_falls_is_a_tail_whatever_it_leaves_before_the_closing_click() -> None:
    files = measures(close=ringing(6.0), room=dead_from(60))
    loud_end = (replace(CLOSING[0], noise_dbfs=NOISE_DBFS + 28.0), CLOSING[1])
    found = verdict(end=ended(reason="complete"), files=files, closing=loud_end)
    assert codes(found) == ["tail-cut"]


def test_a_tail_that_an_amp_holds_up_is_a_tail_though_it_stands_still() -> None:
    held = [LOUD_DBFS] * 1000 + [LOUD_DBFS - 12.0] * 200
    files = measures(close=held, room=dead_from(58))
    loud_end = (replace(CLOSING[0], noise_dbfs=LOUD_DBFS - 13.0), CLOSING[1])
    found = verdict(end=ended(reason="complete"), files=files, closing=loud_end)
    assert "tail-cut" in codes(found)
    assert "noise-up" not in codes(found)


def test_a_tail_that_has_ended_in_noise_leaves_the_noise() -> None:
    floor = NOISE_DBFS + 18.0
    fading = [max(LOUD_DBFS - 1.2 * i, floor) for i in range(60)]  # within two of three seconds
    files = measures(close=[LOUD_DBFS] * 1140 + fading, room=dead_from(57))
    files = replace(files, di_levels_dbfs=(LOUD_DBFS,) * 1140 + (-120.0,) * 60)
    hissing = (replace(CLOSING[0], noise_dbfs=floor), CLOSING[1])
    found = verdict(end=ended(reason="complete"), files=files, closing=hissing)
    assert codes(found) == ["noise-up"]


# ------------------------------------------------------------------ only the send leaks


def leaking(share: float | None, gain_db: float | None, *, everywhere: bool = True) -> PassMeasures:
    files = measures()
    close = replace(files.returns[0], copy_share=share, copy_gain_db=gain_db)
    room = replace(files.returns[1], copy_share=share, copy_gain_db=gain_db)
    return replace(files, returns=(close, room if everywhere else files.returns[1]))


def test_a_faint_plain_copy_of_the_send_holds_no_amp() -> None:
    found = the("send-leaks", verdict(files=leaking(0.999, -48.0)))
    assert found.weight == "redo"
    assert found.text.startswith("Only the send leaks into close and room, −48 dB")
    assert "no amp in it" in found.text
    assert "speaker cable first" in found.advice


def test_one_return_that_only_hears_the_send_names_its_microphone() -> None:
    found = the("send-leaks", verdict(files=leaking(0.999, -48.0, everywhere=False)))
    assert "into close," in found.text
    assert "speaker" not in found.advice


@pytest.mark.parametrize(
    ("share", "gain_db"),
    [
        (1.0, 0.0),  # a loopback
        (0.999, -20.0),  # a line output through a pad
        (0.7, -60.0),  # a quiet microphone before a clean amp
        (None, None),
        (1.0, None),
    ],
)
def test_a_wired_return_or_a_microphone_is_no_leak(
    share: float | None, gain_db: float | None
) -> None:
    assert verdict(files=leaking(share, gain_db)) == ()


def test_a_signal_that_falls_to_a_leak_half_way_has_stopped() -> None:
    leak = [LOUD_DBFS] * 600 + [LOUD_DBFS - 45.0] * 600  # still 15 dB over the noise
    found = verdict(files=measures(close=leak, room=leak))
    assert the("silent-from", found).at_s == pytest.approx(30.0)


def test_playing_that_gets_thirty_decibels_quieter_is_no_stop() -> None:
    quiet = [LOUD_DBFS] * 600 + [LOUD_DBFS - 30.0] * 600
    assert verdict(files=measures(close=quiet, room=quiet)) == ()


@given(st.floats(0, 1), st.floats(-120, 20))
def test_a_leak_is_named_on_one_side_of_its_two_thresholds_only(share: float, gain: float) -> None:
    found = codes(verdict(files=leaking(share, gain)))
    assert ("send-leaks" in found) == (share >= LEAK_SHARE and gain <= LEAK_GAIN_DB)


def test_a_loudspeaker_that_bends_five_decibels_either_way_is_no_plain_copy() -> None:
    # Share of a flat copy in a response: (mean gain)² over mean gain² (Cauchy and Schwarz).
    bend = [10.0 ** (5.0 * math.sin(2.0 * math.pi * i / 1000) / 20.0) for i in range(1000)]
    share = (sum(bend) / 1000) ** 2 / (sum(g * g for g in bend) / 1000)
    assert share < LEAK_SHARE

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    LOUD_DBFS,
    NOISE_DBFS,
    RATE,
    SILENT,
    WINDOW,
    WIRING,
    click,
    dead_from,
    ended,
    measures,
    order,
    recorded,
    unheard,
)

from audio.verdict.passes import judge
from audio.verdict.thresholds import CLIP_SHORT_MS
from audio.vocab.findings import Finding, worst
from audio.vocab.messages import Dropout
from audio.vocab.results import ClippedRun, PassMeasures
from audio.vocab.wiring import Return

CLOSING = order().opening_click
WITNESS = order().witness_click


def verdict(
    *,
    of: Any = None,
    end: Any = None,
    files: PassMeasures | None = None,
    closing: Any = CLOSING,
    witness: Any = WITNESS,
) -> tuple[Finding, ...]:
    judged = judge(
        of or order(), end or ended(), files or measures(), closing, closing_witness=witness
    )
    return judged.findings


def the(code: str, findings: tuple[Finding, ...]) -> Finding:
    return next(f for f in findings if f.code == code)


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [f.code for f in findings]


def test_a_healthy_pass_is_good_without_a_word() -> None:
    assert verdict() == ()
    assert worst(()) == "good"


def test_the_heaviest_finding_comes_first() -> None:
    silent = measures(close=dead_from(30), room=dead_from(30))
    found = verdict(files=silent, closing=(), witness=None)
    assert [f.weight for f in found] == ["redo", "look"]


# ------------------------------------------------------------------ what came back


def test_a_pass_without_an_answer_is_to_be_redone() -> None:
    silent = measures(close=dead_from(0), room=dead_from(0))
    found = the("nothing-came-back", verdict(files=silent))
    assert found.weight == "redo"
    assert "close and room" in found.text
    assert "speaker cable first" in found.advice
    assert "qualified technician" in found.advice


def test_one_dead_microphone_is_named_and_the_amp_is_not_blamed() -> None:
    found = the("nothing-came-back", verdict(files=measures(room=dead_from(0))))
    assert "on room" in found.text
    assert found.weight == "redo"
    assert "speaker" not in found.advice


def test_a_cable_that_dies_is_placed_in_seconds() -> None:
    found = verdict(files=measures(close=dead_from(41), room=dead_from(41)))
    assert the("silent-from", found).at_s == pytest.approx(41.0)
    assert found[0].text == "close and room silent from 0:41: cable, fuse or standby."


def test_an_amp_that_wakes_up_late_is_placed_in_seconds() -> None:
    late = [NOISE_DBFS] * 100 + [LOUD_DBFS] * 1100
    found = the("silent-until", verdict(files=measures(close=late, room=late)))
    assert "0:05" in found.text
    assert found.at_s == 0.0


def test_a_loose_contact_in_the_middle_has_both_ends() -> None:
    gap = [LOUD_DBFS] * 200 + [NOISE_DBFS] * 40 + [LOUD_DBFS] * 960
    found = the("silent-between", verdict(files=measures(close=gap, room=gap)))
    assert "from 0:10 to 0:12" in found.text


def test_less_than_a_second_without_an_answer_is_no_fault() -> None:
    gate = ([LOUD_DBFS] * 20 + [NOISE_DBFS] * 19) * 30
    gated = gate + [LOUD_DBFS] * (1200 - len(gate))
    assert verdict(files=measures(close=gated, room=gated)) == ()


def test_quiet_playing_that_a_gate_swallows_is_no_fault() -> None:
    di = [LOUD_DBFS] * 600 + [LOUD_DBFS - 21.0] * 600
    files = replace(measures(close=dead_from(30), room=dead_from(30)), di_levels_dbfs=tuple(di))
    assert verdict(files=files) == ()


def test_loud_notes_between_rests_add_up_to_a_second() -> None:
    di = ([LOUD_DBFS] * 4 + [-90.0] * 16) * 60  # 0.2 s of playing in each second
    dead = replace(measures(close=dead_from(30), room=dead_from(30)), di_levels_dbfs=tuple(di))
    assert the("silent-from", verdict(files=dead)).at_s == pytest.approx(30.0)


def test_an_echo_that_answers_late_still_answers() -> None:
    di = ([LOUD_DBFS] * 10 + [-90.0] * 10) * 60
    late = ([NOISE_DBFS] * 10 + [LOUD_DBFS] * 10) * 60
    files = replace(measures(close=late, room=late), di_levels_dbfs=tuple(di))
    assert "silent-from" not in codes(verdict(files=files))


def test_an_answer_as_strong_as_the_noise_still_counts() -> None:
    # Equal powers add 10*lg 2 = 3.01 dB (arithmetic of levels, as in ISO 1683's definition).
    faint = [NOISE_DBFS + 3.01] * 1200
    assert verdict(files=measures(close=faint, room=faint)) == ()


def test_without_an_opening_click_the_quietest_window_is_the_noise() -> None:
    one = order(opening_click=(), witness_click=None, train=None, delay_source="earlier pass")
    found = verdict(of=one, files=measures(close=dead_from(41), room=dead_from(41)), closing=())
    assert the("silent-from", found).at_s == pytest.approx(41.0)


def test_a_di_without_playing_is_not_called_a_dead_amp() -> None:
    silent = replace(
        measures(close=dead_from(0), room=dead_from(0)), di_levels_dbfs=(-120.0,) * 1200
    )
    assert codes(verdict(of=order(di_loudest_dbfs=-120.0), files=silent)) == ["di-silent"]


@given(st.floats(-60, 20), st.integers(0, 1200))
def test_return_gain_and_noise_moved_together_change_nothing(gain: float, alive: int) -> None:
    levels = [LOUD_DBFS] * alive + [NOISE_DBFS] * (1200 - alive)
    moved = [level + gain for level in levels]
    clicks = tuple(replace(r, noise_dbfs=r.noise_dbfs + gain) for r in CLOSING)
    files = measures(close=moved, room=moved)
    before = verdict(files=measures(close=levels, room=levels))
    assert verdict(of=order(opening_click=clicks), files=files, closing=clicks) == before


@given(st.floats(-30, 15))
def test_a_louder_or_quieter_di_is_judged_alike(gain: float) -> None:
    files = measures(close=dead_from(41), room=dead_from(41))
    moved = replace(files, di_levels_dbfs=tuple(v + gain for v in files.di_levels_dbfs))
    assert verdict(of=order(di_loudest_dbfs=LOUD_DBFS + gain), files=moved) == verdict(files=files)


@given(st.integers(0, 1200), st.integers(0, 1200))
def test_dying_earlier_never_weighs_less(a: int, b: int) -> None:
    def weight(alive: int) -> int:
        levels = [LOUD_DBFS] * alive + [NOISE_DBFS] * (1200 - alive)
        return weigh(verdict(files=measures(close=levels, room=levels)))

    assert weight(min(a, b)) >= weight(max(a, b))


def weigh(findings: tuple[Finding, ...]) -> int:
    return ("good", "look", "redo").index(worst(findings))


# ------------------------------------------------------------------ clipping


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


# ------------------------------------------------------------------ frames and clock


def at_di(frame: int, **changes: Any) -> Dropout:
    lost = Dropout(at_frame=frame + 24_000 + 1131, kind="input overflow", frames=512)
    return replace(lost, **changes)


def test_a_dropout_in_the_music_is_placed_from_the_dis_first_frame() -> None:
    found = the("frames-lost", verdict(end=ended(dropouts=(at_di(12 * RATE),))))
    assert found.weight == "redo"
    assert found.at_s == pytest.approx(12.0)
    assert "at 0:12 (512 frames)" in found.text


def test_a_dropout_in_the_tail_counts_as_in_the_music() -> None:
    files = measures(seconds=64.0)
    found = verdict(end=ended(dropouts=(at_di(63 * RATE),)), files=files)
    assert the("frames-lost", found).weight == "redo"


@pytest.mark.parametrize("frame", [-20_000, 61 * RATE])
def test_a_dropout_outside_the_recording_is_worth_a_look(frame: int) -> None:
    found = verdict(end=ended(dropouts=(at_di(frame),)))
    assert codes(found) == ["frames-lost-outside"]
    assert found[0].weight == "look"


def test_a_loss_noticed_two_callbacks_late_still_counts_as_inside() -> None:
    found = verdict(end=ended(dropouts=(at_di(60 * RATE + 1000),)))
    assert codes(found) == ["frames-lost"]


def test_several_losses_are_counted_and_the_unknown_ones_admitted() -> None:
    lost = (
        at_di(30 * RATE, frames=None, kind="clock step"),
        at_di(12 * RATE),
        at_di(40 * RATE),
    )
    text = the("frames-lost", verdict(end=ended(dropouts=lost))).text
    assert "3 times, first at 0:12 (at least 1024 frames)" in text
    assert "clock jumped" in text


@given(
    st.lists(
        st.builds(
            Dropout,
            at_frame=st.integers(-(10**6), 10**7),
            kind=st.sampled_from(
                ["input overflow", "output underflow", "starved", "overrun", "clock step"]
            ),
            frames=st.none() | st.integers(0, 10**6),
        ),
        min_size=1,
    )
)
def test_a_pass_with_any_dropout_is_never_good(lost: list[Dropout]) -> None:
    assert worst(verdict(end=ended(dropouts=tuple(lost)))) != "good"


@pytest.mark.parametrize(
    ("ppm", "plus_minus", "heavy"),
    [
        (40.0, 5.0, False),
        (520.0, 30.0, False),
        (-1000.0, 30.0, True),  # 0.1 % pull-down, as film and video work knows it (from memory)
        (520.0, None, True),
    ],
)
def test_a_clock_is_wrong_only_beyond_its_own_uncertainty(
    ppm: float, plus_minus: float | None, heavy: bool
) -> None:
    found = verdict(end=ended(clock_ppm=ppm, clock_plus_minus_ppm=plus_minus))
    assert codes(found) == (["clock-off"] if heavy else [])


def test_a_clock_of_another_usual_rate_is_named() -> None:
    # AES5 lists 44.1, 48 and 96 kHz among the rates in use (from memory).
    found = verdict(end=ended(clock_ppm=(44_100 / 48_000 - 1) * 1e6, clock_plus_minus_ppm=50.0))
    assert "44100 Hz" in found[0].text
    assert "8.13 % too slow" in found[0].text


# ------------------------------------------------------------------ clicks and placement


def later(frames: float, **changes: Any) -> tuple[Any, ...]:
    return tuple(
        replace(
            r,
            delay_frames=(r.delay_frames or 0.0) + frames,
            peak_delay_frames=(r.peak_delay_frames or 0.0) + frames,
            **changes,
        )
        for r in CLOSING
    )


@pytest.mark.parametrize("frames", [-512.0, -1.0, 1.0, 300.0])
def test_sharp_clicks_a_frame_apart_mean_frames_went_missing_or_came_in(frames: float) -> None:
    found = verdict(closing=later(frames), witness=None)
    assert codes(found) == ["frames-slipped"]
    assert found[0].weight == "redo"
    assert ("inserted" if frames > 0 else "lost") in found[0].text


def test_clicks_within_their_uncertainty_say_nothing() -> None:
    assert verdict(closing=later(0.2), witness=None) == ()


def test_a_moving_chain_is_no_damage() -> None:
    found = verdict(closing=later(40.0, spread_frames=12.0), witness=None)
    assert codes(found) == ["chain-moves"]
    assert found[0].weight == "good"
    assert "only the counters are left as evidence" in found[0].text


def test_a_blurred_difference_is_worth_a_look_only() -> None:
    found = verdict(closing=later(3.0, peak_plus_minus_frames=2.0), witness=None)
    assert [f.weight for f in found] == ["look"]


def test_the_witness_proves_a_slip_that_the_chain_blurs() -> None:
    slipped = click(delay_frames=1120.0 + 64.0)
    found = verdict(closing=later(64.0, spread_frames=12.0), witness=slipped)
    assert codes(found) == ["frames-slipped", "chain-moves"]


def test_a_steady_witness_clears_the_engine_of_a_moved_microphone() -> None:
    found = verdict(closing=later(9.0))
    assert codes(found) == ["click-moved"]
    assert found[0].weight == "look"
    assert verdict(closing=later(3.0))[0].weight == "good"  # 2 cm: nobody has to look at that


def test_a_microphone_that_moved_alone_is_no_lost_frame() -> None:
    moved = (later(3.0)[0], CLOSING[1])
    assert codes(verdict(closing=moved, witness=None)) == ["click-moved"]


@given(st.floats(-2000, 2000))
def test_a_slip_seen_by_every_sharp_reading_is_never_good(frames: float) -> None:
    found = verdict(closing=later(frames), witness=click(delay_frames=1120.0 + frames))
    if abs(frames) >= 1.0:
        assert worst(found) == "redo"


def test_a_missing_closing_click_is_worth_a_look_when_the_opening_one_was_clear() -> None:
    assert the("no-closing-click", verdict(closing=(), witness=None)).weight == "look"
    lost = verdict(closing=(SILENT, SILENT), witness=None)
    assert "nothing clear of the noise" in the("no-closing-click", lost).text


def test_a_pass_stopped_by_hand_owes_no_closing_click() -> None:
    end = ended(reason="stopped", frames=25_131 + 31 * RATE)
    found = verdict(end=end, files=measures(seconds=31.0), closing=(), witness=None)
    assert codes(found) == ["stopped", "no-closing-click"]
    assert worst(found) == "look"  # part of it is missing: not a finished one
    assert found[0].text == "Stopped by hand, kept until 0:31."


@pytest.mark.parametrize(
    ("source", "code"), [("earlier pass", "placed-by-earlier"), ("none", "not-placed")]
)
def test_a_pass_without_an_opening_click_is_worth_a_look(source: str, code: str) -> None:
    one = order(
        delay_source=source,
        delay_frames=None if source == "none" else 1131.4,
        opening_click=(unheard("only hum"), SILENT),
    )
    found = verdict(of=one, closing=(SILENT, SILENT), witness=None)
    assert codes(found) == [code]
    assert "only hum" in found[0].text
    assert found[0].weight == "look"


def test_a_chains_constant_delay_informs() -> None:
    found = verdict(of=order(chain_adds_frames=67.2))
    assert found[0].text == "This chain adds 1.40 ms, removed with the round trip."
    assert worst(found) == "good"
    assert verdict(of=order(chain_adds_frames=1.1)) == ()  # an analogue filter, 0.02 ms
    late = verdict(of=order(chain_adds_frames=16_320.0, delay_source="earlier pass"))
    assert codes(late) == ["chain-late"]


def test_a_loose_placement_is_worth_a_look() -> None:
    assert codes(verdict(of=order(plus_minus_frames=6.0))) == ["placement-loose"]


def test_swapped_cables_show_in_the_pass() -> None:
    one = order(opening_click=(click(delay_frames=1350.2), click(delay_frames=1131.4)))
    found = verdict(of=one, closing=one.opening_click)
    assert codes(found) == ["reference-not-first"]


# ------------------------------------------------------------------ early ends


@pytest.mark.parametrize(
    ("reason", "code", "weight"),
    [
        ("disk", "disk-full", "redo"),
        ("device", "device-gone", "redo"),
        ("starved", "send-starved", "redo"),
        ("closed", "stream-closed", "redo"),
    ],
)
def test_an_early_end_says_why_and_what_is_kept(reason: str, code: str, weight: str) -> None:
    end = ended(reason=reason, frames=25_131 + 31 * RATE, note="what the system said")
    found = the(code, verdict(end=end, files=measures(seconds=31.0), closing=(), witness=None))
    assert found.weight == weight
    assert "kept until 0:31" in found.text
    assert "(what the system said)" in found.text
    assert found.at_s == pytest.approx(31.0)


def test_a_stream_that_closed_after_the_whole_di_is_worth_a_look_only() -> None:
    end = ended(reason="closed", frames=25_131 + 61 * RATE)
    found = verdict(end=end, files=measures(seconds=61.0), closing=(), witness=None)
    assert the("stream-closed", found).weight == "look"


def test_a_dead_amp_is_told_once_with_the_place_it_fell_silent() -> None:
    end = ended(reason="dead", frames=25_131 + 43 * RATE)
    dead = dead_from(41, seconds=43.0)
    found = verdict(
        end=end, files=measures(seconds=43.0, close=dead, room=dead), closing=(), witness=None
    )
    assert codes(found) == ["dead-amp", "no-closing-click"]
    assert found[0].at_s == pytest.approx(41.0)
    assert "0:41" in found[0].text
    for word in ("speaker cable first", "rated load", "standby before", "qualified technician"):
        assert word in found[0].advice


def test_an_end_in_the_lead_in_keeps_nothing_and_says_so() -> None:
    empty = PassMeasures(
        window_frames=WINDOW, di_levels_dbfs=(), returns=(recorded([]), recorded([]))
    )
    found = verdict(end=ended(reason="device", frames=9000), files=empty, closing=(), witness=None)
    assert "nothing of the DI was played" in the("device-gone", found).text
    assert the("nothing-recorded", found).weight == "redo"


def test_a_tail_cut_at_its_limit_is_worth_a_look() -> None:
    found = verdict(end=ended(reason="complete"))
    assert codes(found) == ["tail-cut"]
    quiet = dead_from(58)
    files = replace(
        measures(close=quiet, room=quiet),
        di_levels_dbfs=(LOUD_DBFS,) * 1160 + (-120.0,) * 40,
    )
    assert verdict(end=ended(reason="complete"), files=files) == ()


# ------------------------------------------------------------------ names, numbers, misuse


@given(
    levels=st.lists(st.floats(-200, 0), min_size=0, max_size=60),
    di=st.lists(st.floats(-200, 0), min_size=0, max_size=60),
    reason=st.sampled_from(
        ["complete", "quiet", "stopped", "dead", "disk", "device", "starved", "closed"]
    ),
    frames=st.integers(0, 10**7),
    adds=st.none() | st.floats(-1e4, 1e5),
    width=st.none() | st.floats(0, 1e4),
    ppm=st.none() | st.floats(-1e5, 1e5),
    runs=st.integers(0, 500),
)
def test_no_message_ever_holds_a_missing_figure(
    *,
    levels: list[float],
    di: list[float],
    reason: str,
    frames: int,
    adds: float | None,
    width: float | None,
    ppm: float | None,
    runs: int,
) -> None:
    one = recorded(levels, clipped_runs=runs)
    files = PassMeasures(window_frames=WINDOW, di_levels_dbfs=tuple(di), returns=(one, one))
    end = ended(reason=reason, frames=frames, clock_ppm=ppm, clock_plus_minus_ppm=width)
    ordered = order(chain_adds_frames=adds, plus_minus_frames=width, delay_frames=adds)
    for finding in verdict(of=ordered, end=end, files=files):
        assert not re.search(r"\bNone\b|\bnan\b|\binf\b", finding.text + finding.advice)
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", finding.code)
        assert finding.weight == "good" or finding.advice


@given(st.text(min_size=1))
def test_names_pass_through_as_given(name: str) -> None:
    wiring = replace(WIRING, returns=(Return(name="close", input=2), Return(name=name, input=3)))
    found = verdict(of=order(wiring=wiring), files=measures(room=dead_from(0)))
    assert f"Nothing came back on {name} while" in found[0].text


def test_a_return_too_few_is_refused() -> None:
    files = measures()
    with pytest.raises(ValueError, match="2 returns are wired, 1 measured"):
        verdict(files=replace(files, returns=files.returns[:1]))

from __future__ import annotations

import re

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
    WIRING,
    codes,
    dead_from,
    ended,
    measures,
    order,
    recorded,
    the,
    verdict,
    weigh,
)

from audio.vocab.findings import worst
from audio.vocab.results import PassMeasures
from audio.vocab.wiring import Return


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


def test_a_click_that_came_in_elsewhere_is_told_before_the_dead_amp_it_looks_like() -> None:
    one = order(opening_click=(SILENT, CLOSING[1]), stray_inputs=(7,), witness_click=None)
    end = ended(reason="dead", frames=25_131 + 2 * RATE)
    dead = dead_from(0, seconds=2.0)
    files = measures(seconds=2.0, close=dead, room=dead)
    found = verdict(of=one, end=end, files=files, closing=(), witness=None)
    assert codes(found)[:2] == ["wrong-input", "dead-amp"]
    assert found[0].text == "The click came back on input 7; the wiring says 2 for close."


def test_a_stray_click_beside_a_heard_one_is_no_wrong_input() -> None:
    assert verdict(of=order(stray_inputs=(7,))) == ()


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


# ------------------------------------------------------------------ early ends


@pytest.mark.parametrize(
    ("reason", "code", "weight"),
    [
        ("disk", "disk-full", "redo"),
        ("slow disk", "disk-slow", "redo"),
        ("unfit", "send-unfit", "redo"),
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


# ------------------------------------------------------------------ names, numbers, misuse


@given(
    levels=st.lists(st.floats(-200, 0), min_size=0, max_size=60),
    di=st.lists(st.floats(-200, 0), min_size=0, max_size=60),
    reason=st.sampled_from(
        [
            *("complete", "quiet", "stopped", "dead", "disk", "slow disk", "device"),
            *("starved", "unfit", "closed"),
        ]
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

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    RATE,
    codes,
    ended,
    measures,
    the,
    verdict,
)

from audio.vocab.findings import worst
from audio.vocab.messages import Dropout


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

"""The lines between desk and card."""

from __future__ import annotations

import json
import math

import msgspec
import pytest
from card_cases import ROLLING, STANDING_BY, changed
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab.card import (
    MOST_PRESSED_BYTES,
    MOST_TOLD_BYTES,
    VERSION,
    AnyPressed,
    AnyTold,
    Drive,
    Go,
    Hello,
    Here,
    Lines,
    NotTaken,
    Role,
    Shown,
    Stop,
    decode_pressed,
    decode_told,
    encode,
    fitted,
    same_picture,
)


@pytest.mark.parametrize(
    "told",
    [
        Hello(version=VERSION),
        Role(card=2, cards=3, driver=1, lost="card 1 took over"),
        Shown(number=3, state=ROLLING),
        NotTaken(reason="look again"),
    ],
)
def test_what_the_desk_tells_arrives_as_it_was(told: AnyTold) -> None:
    line = encode(told)
    assert line.count(b"\n") == 1
    assert isinstance(
        json.loads(line), dict
    )  # the standard library's reader agrees that it is JSON
    assert decode_told(line) == told


@pytest.mark.parametrize(
    "pressed",
    [Go(number=2**40, at_s=1.5e9 + 1 / 3), Stop(), Drive(at_s=1.5e9 + 1 / 3), Here(new=True)],
)
def test_what_a_card_presses_arrives_as_it_was_and_is_short(pressed: AnyPressed) -> None:
    assert decode_pressed(encode(pressed)) == pressed
    assert len(encode(pressed)) < MOST_PRESSED_BYTES


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"stop",
        b"{}",
        b"[]",
        b'{"press":"Start"}',
        b'{"press":"Go"}',
        b'{"press":"Go","number":"7","at_s":1}',
        b'{"press":"Stop","really":true}',
        b'{"tell":"Hello","version":1}',
    ],
)
def test_anything_else_is_no_press(line: bytes) -> None:
    with pytest.raises(msgspec.MsgspecError):
        decode_pressed(line)


def test_a_later_desk_may_say_more_in_its_hello() -> None:
    assert decode_told(b'{"tell":"Hello","version":9,"colour":"green"}') == Hello(version=9)


@given(text=st.text(st.characters(), max_size=2000))
def test_a_fitted_state_fits_a_line_whatever_its_texts_are(text: str) -> None:
    state = changed(ROLLING, **dict.fromkeys(_texts(), text))
    assert len(encode(Shown(number=1, state=fitted(state)))) <= MOST_TOLD_BYTES


def test_a_name_of_bytes_that_are_no_text_is_shown_all_the_same() -> None:
    state = fitted(changed(ROLLING, session="lights \udcff", part="\x00" * 5000))
    told = decode_told(encode(Shown(number=1, state=state)))
    assert isinstance(told, Shown)
    assert told.state.session == "lights ?"
    assert len(told.state.part) == 500


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf])
def test_a_time_that_is_no_number_is_left_out(wrong: float) -> None:
    assert fitted(changed(ROLLING, left_s=wrong)).left_s is None


def test_a_fitted_state_is_otherwise_unchanged() -> None:
    assert fitted(ROLLING) == ROLLING


def test_moving_figures_and_progress_leave_the_picture_the_same() -> None:
    moved = changed(ROLLING, left_s=3.0, countdown_s=1.0, said="click at −40 dBFS")
    assert same_picture(ROLLING, moved)


@pytest.mark.parametrize(
    "change",
    [
        {"next": "hook through fuzz"},
        {"chain": "crunch"},
        {"may_go": False},
        {"word": "fault"},
        {"verdict": "redo"},
        {"sounding": True},
        {"part": "hook"},
    ],
)
def test_anything_a_person_decides_on_makes_another_picture(change: dict[str, object]) -> None:
    assert not same_picture(STANDING_BY, changed(STANDING_BY, **change))


@given(
    words=st.lists(st.binary(max_size=9).filter(lambda word: b"\n" not in word)),
    cuts=st.lists(st.integers(1, 5)),
)
def test_lines_come_back_whole_however_they_were_cut(words: list[bytes], cuts: list[int]) -> None:
    data, lines, got = b"".join(word + b"\n" for word in words), Lines(longest=9), []
    for cut in cuts:
        got += lines.feed(data[:cut])
        data = data[cut:]
    got += lines.feed(data)
    assert got == words


def test_a_line_that_is_too_long_is_refused_before_it_ends() -> None:
    lines = Lines(longest=4)
    assert list(lines.feed(b"four\nfou")) == [b"four"]
    with pytest.raises(ValueError, match="longer than 4 bytes"):
        list(lines.feed(b"rs"))


def test_lines_before_one_that_is_too_long_still_count() -> None:
    lines = Lines(longest=4).feed(b"stop\nfives\n")
    assert next(lines) == b"stop"
    with pytest.raises(ValueError, match="longer than 4 bytes"):
        next(lines)


def _texts() -> list[str]:
    return ["session", "song", "part", "chain", "finding", "advice", "next", "said"]

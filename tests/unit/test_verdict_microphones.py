from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from verdict_cases import (
    CLOSING,
    SILENT,
    WIRING,
    aligned,
    measures,
    order,
    verdict,
)

from audio.verdict.microphones import extra_delays, polarities
from audio.vocab.alignment import Together


def polarity(*, close: str, room: str, together: str | None, music: str = "unsure") -> Any:
    clicks = (replace(CLOSING[0], polarity=close), replace(CLOSING[1], polarity=room))
    files = measures()
    summed = together and Together(polarity=together, sum_over_difference_db=6.0)
    back = replace(files.returns[1], together=summed)
    files = replace(files, returns=(files.returns[0], back), music=aligned(polarity=music))
    return polarities(order(opening_click=clicks), files)


@pytest.mark.parametrize(
    ("close", "room", "together", "music", "expected"),
    [
        ("normal", "normal", "normal", "unsure", ("normal", "normal")),
        ("normal", "inverted", "inverted", "unsure", ("normal", "inverted")),
        ("inverted", "normal", "inverted", "unsure", ("inverted", "normal")),
        ("inverted", "inverted", "normal", "unsure", ("inverted", "inverted")),
        ("normal", "inverted", "normal", "unsure", ("normal", "unsure")),  # they disagree
        ("normal", "unsure", "inverted", "unsure", ("normal", "inverted")),
        ("normal", "inverted", None, "unsure", ("normal", "inverted")),
        ("normal", "inverted", "unsure", "unsure", ("normal", "inverted")),
        ("unsure", "normal", "inverted", "unsure", ("unsure", "normal")),
        ("unsure", "unsure", "inverted", "inverted", ("inverted", "normal")),
        ("normal", "normal", "normal", "inverted", ("unsure", "normal")),
    ],
)
def test_polarity_is_what_clicks_and_sum_against_difference_agree_on(
    *, close: str, room: str, together: str | None, music: str, expected: tuple[str, str]
) -> None:
    assert polarity(close=close, room=room, together=together, music=music) == expected


@given(
    st.sampled_from(["normal", "inverted"]),
    st.sampled_from(["normal", "inverted"]),
)
def test_turning_the_send_turns_every_return_and_nothing_between_them(
    close: str, room: str
) -> None:
    other = {"normal": "inverted", "inverted": "normal"}
    together = "normal" if close == room else "inverted"
    one = polarity(close=close, room=room, together=together)
    turned = polarity(close=other[close], room=other[room], together=together)
    assert turned == tuple(other[p] for p in one)


def test_without_clicks_only_the_music_knows_a_polarity() -> None:
    files = replace(measures(), music=aligned(polarity="inverted"))
    assert polarities(order(opening_click=()), files) == ("inverted", "unsure")


def test_an_inverted_rear_microphone_is_a_word_and_no_fault() -> None:
    clicks = (CLOSING[0], replace(CLOSING[1], polarity="inverted"))
    found = verdict(of=order(opening_click=clicks))
    assert [(f.code, f.weight) for f in found] == [("polarity-differs", "good")]
    assert found[0].text == "room comes back upside down against close."


def test_extra_delay_is_against_the_reference_wherever_it_stands() -> None:
    assert extra_delays(order())[0] == 0.0
    assert extra_delays(order())[1] == pytest.approx(1350.2 - 1131.4)
    by_room = order(wiring=replace(WIRING, reference="room"))
    assert extra_delays(by_room)[0] == pytest.approx(1131.4 - 1350.2)
    assert extra_delays(order(opening_click=())) == (None, None)
    assert extra_delays(order(opening_click=(CLOSING[0], SILENT))) == (0.0, None)

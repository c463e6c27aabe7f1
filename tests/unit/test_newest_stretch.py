"""Which seconds of a phrase are looked at while it goes round."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from audio.jobs.setting.sound import Stretch, newest_stretch

PHRASE = {"cycle": 165, "phrase": 150, "wanted": 50}


def test_nothing_is_looked_at_before_there_is_enough() -> None:
    assert newest_stretch(49, **PHRASE) is None


def test_the_newest_seconds_are_looked_at_where_they_lie_in_the_phrase() -> None:
    assert newest_stretch(50, **PHRASE) == Stretch(at_frame=0, into=0, frames=50)
    assert newest_stretch(120, **PHRASE) == Stretch(at_frame=70, into=70, frames=50)
    assert newest_stretch(165 + 60, **PHRASE) == Stretch(at_frame=175, into=10, frames=50)


def test_in_the_rest_the_last_seconds_before_it_are_looked_at() -> None:
    assert newest_stretch(160, **PHRASE) == Stretch(at_frame=100, into=100, frames=50)
    assert newest_stretch(165 + 49, **PHRASE) == Stretch(at_frame=100, into=100, frames=50)


@given(st.integers(0, 5000), st.integers(1, 200), st.integers(0, 50), st.floats(0.01, 1.0))
def test_what_is_looked_at_is_there_and_lies_in_one_playing_of_the_phrase(
    there: int, phrase: int, rest: int, share: float
) -> None:
    wanted = max(1, round(phrase * share))
    found = newest_stretch(there, cycle=phrase + rest, phrase=phrase, wanted=wanted)
    if found is None:
        assert there < wanted
        return
    assert found.at_frame + found.frames <= there
    assert found.at_frame % (phrase + rest) == found.into
    assert found.into + found.frames <= phrase

"""Places in a bar in the words players count with: "one e and a", triplets (common practice)."""

from __future__ import annotations

import pytest

from audio.grid.places import lateness, place_name, subdivision_name


@pytest.mark.parametrize(
    ("step", "parts", "said"),
    [
        (0, 1, "bar 12 beat 3"),
        (1, 2, "bar 12 beat 3 and"),
        (1, 4, "bar 12 beat 3 e"),
        (2, 4, "bar 12 beat 3 and"),
        (3, 4, "bar 12 beat 3 a"),
        (1, 3, "bar 12 beat 3, 2nd triplet"),
        (2, 3, "bar 12 beat 3, 3rd triplet"),
        (3, 6, "bar 12 beat 3 and"),
        (2, 6, "bar 12 beat 3, 2nd triplet"),
        (5, 6, "bar 12 beat 3, 6th sextuplet"),
        (6, 8, "bar 12 beat 3 a"),
        (2, 5, "bar 12 beat 3, 3 of 5"),
    ],
)
def test_a_place_is_called_as_it_is_counted(step: int, parts: int, said: str) -> None:
    assert place_name(bar=12, beat=3, step=step, parts=parts) == said


def test_no_two_places_of_a_beat_share_a_name() -> None:
    for parts in (1, 2, 3, 4, 6, 8):
        names = {place_name(bar=1, beat=1, step=step, parts=parts) for step in range(parts)}
        assert len(names) == parts


@pytest.mark.parametrize(
    ("deviation_ms", "said"),
    [
        (18.0, "18 ms late"),
        (18.26, "18.3 ms late"),
        (-3.44, "3.4 ms early"),
        (0.04, "in time"),
        (-0.04, "in time"),
        (-120.0, "120 ms early"),
        (0.06, "0.1 ms late"),
    ],
)
def test_a_deviation_is_told_to_a_tenth_of_a_millisecond(deviation_ms: float, said: str) -> None:
    assert lateness(deviation_ms) == said


@pytest.mark.parametrize(
    ("parts", "note", "swing", "said"),
    [
        (1, 4, None, "quarters"),
        (2, 4, None, "eighths"),
        (2, 4, 0.62, "eighths, swung 62 %"),
        (3, 4, None, "eighth triplets"),  # three in the time of two eighths
        (4, 4, None, "sixteenths"),
        (6, 4, None, "sixteenth triplets"),
        (8, 4, None, "thirty-seconds"),
        (1, 8, None, "eighths"),  # 6/8 has six
        (2, 8, None, "sixteenths"),
        (2, 2, None, "quarters"),
        (8, 16, None, "1/128 notes"),
    ],
)
def test_a_subdivision_is_called_by_its_note(
    parts: int, note: int, swing: float | None, said: str
) -> None:
    assert subdivision_name(parts, note=note, swing=swing) == said

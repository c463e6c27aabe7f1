"""The placement along the pass: every place where it belongs, a slip's mark at its place."""

from __future__ import annotations

import msgspec
import pytest
from evidences import LOST, REFUSED, along, bare, full
from hypothesis import given, settings
from hypothesis import strategies as st
from invented import DI_FRAMES, RATE
from rich.cells import cell_len

from audio.vocab.alignment import Alignment, Disturbance, Place, Slip
from audio.vocab.messages import Dropout
from audio.vocab.variant import Variant
from tui.present import evidence_chart
from tui.present.evidence_chart import GUTTER, column_of, scale_of

frames = st.integers(0, DI_FRAMES - 1)
columns = st.integers(40, 200)
rows = st.sampled_from((3, 5, 7))


def only(loop: Alignment | None, music: Alignment | None = None) -> Variant:
    return msgspec.structs.replace(full(), loop=loop, music=music)


def lines(variant: Variant, wide: int = 80, high: int = 5) -> list[str]:
    return [line.plain for line in evidence_chart.along(variant, wide, high)]


def at_places(*places: tuple[int, float]) -> Alignment:
    found = tuple(
        Place(at_frame=at, delay_frames=delay, plus_minus_frames=0.1) for at, delay in places
    )
    return Alignment(delay_frames=0.0, places=found)


@settings(max_examples=60)
@given(
    places=st.lists(st.tuples(st.integers(-RATE, DI_FRAMES + RATE), st.floats(-9e4, 9e4))),
    slips=st.lists(
        st.builds(
            Slip,
            at_frame=st.integers(-RATE, DI_FRAMES + RATE),
            within_frames=st.integers(0, RATE),
            frames=st.integers(-(10**6), 10**6),
        ),
        max_size=5,
    ).map(tuple),
    wide=columns,
    high=rows,
)
def test_no_line_is_wider_than_the_screen(
    places: list[tuple[int, float]], slips: tuple[Slip, ...], wide: int, high: int
) -> None:
    found = msgspec.structs.replace(at_places(*places), slips=slips)
    for line in lines(only(found, REFUSED), wide, high):
        assert cell_len(line) <= wide
        assert line.isprintable()


@given(at=frames, wide=columns, high=rows)
def test_the_mark_of_a_slip_stands_at_its_place_in_the_ruler_and_in_the_lane(
    at: int, wide: int, high: int
) -> None:
    slip = msgspec.structs.replace(LOST, at_frame=at)
    ruler, *lane = lines(only(along(-51.0, slips=(slip,))), wide, high)
    x = GUTTER + 1 + int(at / DI_FRAMES * (wide - GUTTER - 2))
    assert ruler[x] == "▼"
    assert all(line[x] in "┊■▀▄█" for line in lane)
    assert any(line[x] == "┊" for line in lane)


def test_a_slip_is_marked_with_its_frames_by_the_strongest_proof_that_saw_it() -> None:
    vague = Slip(at_frame=LOST.at_frame + RATE, within_frames=2 * RATE, frames=-64)
    ruler = lines(only(along(-51.0, slips=(LOST,)), along(0.4, slips=(vague,))))[0]
    assert ruler.count("▼") == 1
    assert "▼−64" in ruler
    only_music = lines(only(along(-51.0), along(0.4, slips=(vague,))))[0]
    assert only_music.index("▼") > ruler.index("▼")


def test_what_the_counters_saw_is_marked_too() -> None:
    lost = Dropout(at_frame=DI_FRAMES // 2, kind="overrun", frames=512)
    ruler = lines(msgspec.structs.replace(full(), dropouts=(lost,)))[0]
    assert ruler.index("▼lost?") == GUTTER + 1 + (80 - GUTTER - 2) // 2


@given(at=frames, delay=st.floats(-1.0, 1.0), high=rows)
def test_a_place_stands_at_its_time_and_at_its_height(at: int, delay: float, high: int) -> None:
    """A cell tells three heights apart: the drawn one is at most half a step off."""
    lane = lines(only(at_places((at, delay))), 120, high)[1:]
    found = [
        (x, y) for y, line in enumerate(lane) for x, glyph in enumerate(line) if glyph in "▀■▄"
    ]
    ((x, y),) = found
    assert x == GUTTER + 1 + column_of(at, DI_FRAMES, 120 - GUTTER - 2)
    steps = 3 * high - 1
    level = 3 * y + "▀■▄".index(lane[y][x])
    assert abs(1.0 - 2.0 * level / steps - delay) <= 1.0 / steps + 1e-9


def test_places_are_drawn_against_where_the_pass_began() -> None:
    near, far = (lines(only(along(delay, wobble=0.3))) for delay in (0.0, -5_000.0))
    assert near == far


@given(moves=st.lists(st.floats(-1e6, 1e6), max_size=20))
def test_the_scale_is_the_smallest_of_its_row_that_holds_every_move(moves: list[float]) -> None:
    row = [step * 10**power for power in range(7) for step in (1, 2, 5)]
    most = max((abs(one) for one in moves), default=0.0)
    assert scale_of(moves) == next(one for one in row if one >= most)


@pytest.mark.parametrize(("move", "edge"), [(0.2, "1"), (1.5, "2"), (64.0, "100"), (512.0, "1000")])
def test_the_scale_is_written_at_both_edges(move: float, edge: str) -> None:
    lane = lines(only(at_places((0, 0.0), (RATE, move))))[1:]
    assert f"+{edge} " in lane[0][: GUTTER + 1]
    assert f"−{edge} " in lane[-1][: GUTTER + 1]


def test_where_there_is_no_evidence_nothing_is_drawn_and_it_says_why() -> None:
    shown = lines(only(None, REFUSED))
    assert "music" in shown[0]
    assert "nothing drawn: no attack stands clear" in shown[0]
    assert not any(glyph in "".join(shown) for glyph in "■▀▄█▼─")
    unmeasured = Alignment(delay_frames=0.4, plus_minus_frames=0.6)
    assert "no place along the pass" in lines(only(None, unmeasured))[0]
    assert lines(bare()) == []


def test_a_lane_without_evidence_stands_beside_one_that_has_some() -> None:
    shown = lines(only(along(-51.0), REFUSED))
    assert shown[0].lstrip().startswith("╷0:00")
    assert any(line.strip().startswith("loop") for line in shown)
    assert any("nothing drawn" in line for line in shown)


def test_slips_that_undo_each_other_share_a_mark() -> None:
    back = msgspec.structs.replace(LOST, at_frame=LOST.at_frame + 700, frames=64)
    ruler = lines(only(along(-51.0, slips=(LOST, back))))[0]
    assert ruler.count("▼") == 1
    assert "▼−64 +64" in ruler


@given(at=frames, wide=columns, high=rows)
def test_the_mark_of_a_disturbance_stands_at_its_place(at: int, wide: int, high: int) -> None:
    one = Disturbance(at_frame=at, frames=960, kind="silent")
    found = msgspec.structs.replace(along(-51.0), disturbances=(one,))
    ruler, *lane = lines(only(found), wide, high)
    x = GUTTER + 1 + int(at / DI_FRAMES * (wide - GUTTER - 2))
    assert ruler[x] == "▼"
    assert all(line[x] in "┊■▀▄█" for line in lane)

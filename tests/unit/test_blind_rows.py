"""A blind trial in lines: what enter answers, and that nothing in them tells which sound is which."""

from __future__ import annotations

import pytest

from audio.vocab.blind import Answer, Mode, Sitting, SittingNow, Trial
from tui.present.blind_rows import head_line, row_lines, rows_of

SOUNDS = ("003", "original:close", "di")


def sitting(mode: Mode, *, answers: tuple[Answer, ...] = ()) -> SittingNow:
    sounds = SOUNDS if mode == "ranking" else SOUNDS[:2]
    behind = {
        "pairs": ("original:close", "003"),
        "apart": ("003", "original:close", "003"),
        "ranking": ("di", "003", "original:close"),
    }[mode]
    return SittingNow(
        sitting=Sitting(
            number=1, part="hook", mode=mode, sounds=sounds, listener="Mara", planned=2
        ),
        trials=(Trial(index=1, behind=behind), Trial(index=2, behind=behind[::-1])),
        answers=answers,
    )


def shown(
    mode: Mode, at: int = 0, *, heard: tuple[int, ...] = (0,), ranks: tuple[int | None, ...] = ()
) -> list[str]:
    rows = rows_of(sitting(mode), ranks)
    return [
        line.plain.rstrip() for line in row_lines(rows, at, heard=heard, ranks=ranks, enter="enter")
    ]


@pytest.mark.parametrize(
    ("mode", "said"),
    [("pairs", ["first", "second", "tie"]), ("apart", ["a", "b", None, "tie"])],
)
def test_each_row_answers_what_it_says(mode: Mode, said: list[str | None]) -> None:
    assert [one.said for one in rows_of(sitting(mode), ())] == said


def test_a_ranking_is_done_when_every_place_has_a_rank() -> None:
    assert rows_of(sitting("ranking"), (1, None, 2))[-1].said is None
    assert rows_of(sitting("ranking"), (1, 1, 2))[-1].said == (1, 1, 2)


@pytest.mark.parametrize("mode", ["pairs", "apart", "ranking"])
def test_no_line_tells_what_lies_behind_a_place(mode: Mode) -> None:
    ranks = (1, 2, 3) if mode == "ranking" else ()
    for at in range(len(rows_of(sitting(mode), ranks))):
        words = " ".join(shown(mode, at, heard=(0, 1, 2), ranks=ranks))
        assert not any(name in words for name in ("003", "original", "close", "di "))


def test_what_was_not_heard_yet_is_told_beside_its_place() -> None:
    assert shown("pairs", heard=(1,)) == [
        "  ▸ first      not heard yet   enter: it is better",
        "    second",
        "    no difference that matters",
    ]


def test_ranks_stand_beside_their_places() -> None:
    assert shown("ranking", 3, heard=(0, 1, 2), ranks=(2, 1, 2)) == [
        "    A          2",
        "    B          1, the best",
        "    C          2",
        "  ▸ done                           enter: noted",
    ]


def test_the_head_tells_who_listens_what_is_asked_and_how_far_it_is() -> None:
    one = sitting("apart", answers=(Answer(trial=1, said="a"),))
    words = head_line(one, 80).plain
    assert words.startswith(" hook  blind, Mara: is X the same as A or as B?")
    assert words.rstrip().endswith("1 of 2 answered")
    assert len(words) == 80

"""What blind sittings come to, in an engineer's words."""

from __future__ import annotations

import re

import pytest
from blind_cases import THREE, likes, sat, scripted, sitting
from timed import dice

from audio.plan.blind_result import Comparison, comparisons
from audio.vocab.blind import Said, SittingNow
from tui.present.blind_words import (
    NOBODY,
    chance_words,
    p_words,
    sound_words,
    told_lines,
)

JARGON = re.compile(
    r"significan|hypothes|p-value|alpha|binomial|two-sided|null|holm|sign test", re.IGNORECASE
)


def told(*sittings: SittingNow) -> list[str]:
    """The lines, each whole as it was before it was cut for a terminal."""
    lines = told_lines(comparisons(sittings), 400)
    return [line.strip() for line in lines]


def pairs(*said: Said) -> SittingNow:
    return scripted(sitting("pairs", planned=len(said)), *said)


def apart(*said: Said) -> SittingNow:
    return scripted(sitting("apart", planned=len(said)), *said)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (
            ["first"] * 11 + ["second"] * 3 + ["tie"] * 2,
            ("003 preferred to 005 in 11 of 14 answers, 2 ties: that would be chance in 1 of 17 (p 0.057):"
            " could be chance"),
        ),
        (
            ["second"] * 12 + ["first"] * 2,
            ("005 preferred to 003 in 12 of 14 answers: that would be chance in 1 of 77 (p 0.013):"
            " preferred"),
        ),
        (
            ["second"] * 5 + ["first"] * 5,
            ("003 and 005 each preferred in 5 of 10 answers: chance does as much more often than not (p 1):"
            " could be chance"),
        ),
        (
            ["first"] * 5 + ["tie"],
            ("003 preferred to 005 in 5 of 5 answers, 1 tie: too few answers to say; 6 that are no tie are"
            " the least"),
        ),
        (["first"] + ["tie"] * 5, ("003 preferred to 005 in 1 of 1 answer, 5 ties: too few answers to"
         " say; 6 that are no tie are the least")),
        (["tie"] * 6, "003 and 005: no answer but 6 ties: too few answers to say"),
    ],
)  # fmt: skip
def test_a_pair_is_told_in_one_sentence(said: list[Said], words: str) -> None:
    assert told(pairs(*said)) == [
        "rhythm-left: 003, 005, in pairs",
        f"Anna: {len(said)} answers",
        words,
    ]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (
            ["a"] * 12 + ["b"] * 4 + ["tie"],
            (
                "X named right in 12 of 16 answers, 1 tie: that would be chance in 1 of 26 (p 0.038): 003"
                " and 005 can be told apart"
            ),
        ),
        (
            ["a"] * 10 + ["b"] * 6,
            (
                "X named right in 10 of 16 answers: that would be chance in 1 of 4 (p 0.23): could be"
                " chance, which does not say that they sound the same"
            ),
        ),
        (
            ["a"] * 4 + ["tie"] * 2,
            (
                "X named right in 4 of 4 answers, 2 ties: too few answers to say; 5 that are no tie are the"
                " least"
            ),
        ),
        (["tie"] * 5, "003 and 005: no answer but 5 ties: too few answers to say"),
    ],
)
def test_what_was_told_apart_is_told_in_one_sentence(said: list[Said], words: str) -> None:
    assert told(apart(*said))[2] == words


def test_several_pairs_are_told_with_all_of_them_in_mind_and_the_sounds_in_order() -> None:
    lines = told(sat(sitting("pairs", THREE, planned=24), likes("005", "003"), dice(1)))
    assert (
        "005 preferred to original close in 8 of 8 answers: with 3 pairs compared, that would be"
        in (lines[4])
    )
    assert lines[-1] == (
        "preferred to any other: 005 in 16 of 16; 003 in 8 of 16; original close in 0 of 16"
    )


def test_a_sitting_that_ended_early_says_so_before_any_figure_and_one_that_is_open_tells_none() -> (
    None
):
    plan = sitting("pairs", planned=20, number=3)
    early = sat(plan, likes("003", "005"), dice(2), answers=9, ended=True)
    assert told(early)[1] == "Anna: 9 answers; ended early, so it looks surer than it is"
    going = sat(plan, likes("003", "005"), dice(2), answers=9)
    assert told(going) == [
        "rhythm-left: 003, 005, in pairs",
        (
            "Anna, sitting 3: 9 of 20 answered; told when all are in: who stops where it looks good takes"
            " chance for a preference"
        ),
    ]
    assert "p 0" not in " ".join(told(going))


def test_all_together_stand_behind_each_listener() -> None:
    by = [
        sat(sitting("ranking", planned=6, listener=who), lambda _: (1, 2), dice(3), answers=count,
            ended=True)
        for who, count in (("Anna", 6), ("Ben", 4), ("Anna", 6))
    ]  # fmt: skip
    heads = [line for line in told(*by) if "rounds" in line]
    assert heads == [
        "Anna: 12 rounds in 2 sittings",
        "Ben: 4 rounds; ended early, so it looks surer than it is",
        (
            "all 2 together, every answer alike: 16 rounds in 3 sittings; 1 of them ended early, so it"
            " looks surer than it is"
        ),
    ]


def test_the_count_is_rounded_down_and_p_keeps_two_digits_that_say_something() -> None:
    assert [p_words(p) for p in (1.0, 0.5, 0.0574, 0.00122, 0.000031, 1e-9)] == [
        "1", "0.50", "0.057", "0.0012", "0.000031", "under 0.000001",
    ]  # fmt: skip
    assert chance_words(0.0386) == "that would be chance in 1 of 25 (p 0.039)"
    assert chance_words(1 / 8) == "that would be chance in 1 of 8 (p 0.12)"
    assert chance_words(1 / 4096) == "that would be chance in 1 of 4,000 (p 0.00024)"
    assert chance_words(2e-8).startswith("that would be chance in less than 1 of 1,000,000")
    for exact in (3, 6, 7, 49, 93, 821):
        assert f"in 1 of {exact} " in chance_words(1 / exact)


def test_sounds_have_words_and_nobody_is_told_of_in_one_line() -> None:
    assert [sound_words(one) for one in ("003", "original:close", "di")] == [
        "003", "original close", "DI",
    ]  # fmt: skip
    assert told_lines(()) == [NOBODY]


def long_ones() -> tuple[Comparison, ...]:
    sounds = ("123456", "original:far room behind the amp", "di")
    plans = [
        sitting("pairs", sounds, planned=21, listener="Annabella von der Heide", number=1),
        sitting("pairs", sounds, planned=21, listener="Ben", number=2),
        sitting("ranking", sounds, planned=7, number=3),
        sitting("apart", sounds[:2], planned=12, number=4),
    ]
    said: list[Said] = ["first"] * 18 + ["tie"] * 3
    return comparisons(
        [
            scripted(plans[0], *said[:5]),
            sat(plans[1], likes(sounds[1], sounds[0]), dice(4)),
            sat(plans[2], lambda _: (1, 3, 2), dice(4)),
            sat(plans[3], lambda _: "a", dice(4)),
        ]
    )


def test_lines_fit_80_columns_and_speak_no_statistics() -> None:
    lines = told_lines(long_ones())
    assert max(map(len, lines)) <= 80
    assert not JARGON.search(" ".join(lines))

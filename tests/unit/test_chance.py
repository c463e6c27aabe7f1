"""What chance would do, held against printed tables and a general statistics library."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from audio.plan.chance import (
    CLEAR,
    FOUND,
    LIMIT,
    Sides,
    binomial_tail,
    holm,
    least_answers,
    least_right,
    proposed_answers,
    sign_test,
)

CUMULATIVE = {
    10: (0.001, 0.011, 0.055, 0.172, 0.377, 0.623, 0.828, 0.945, 0.989, 0.999),
    15: (0.000, 0.000, 0.004, 0.018, 0.059, 0.151, 0.304, 0.500, 0.696, 0.849),
    20: (0.000, 0.000, 0.000, 0.001, 0.006, 0.021, 0.058, 0.132, 0.252, 0.412),
}
"""P(X <= k), k from 0, at p = 0.5: the cumulative binomial table of textbooks, to three places (from
memory)."""

LESS_FREQUENT = {
    1: [None] * 4 + [0, 0, 0, 1, 1, 1, 2, 2, 3, 3, 3, 4, 4, 5, 5, 5, 6, 6, 7, 7, 7],
    2: [None] * 5 + [0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5, 5, 5, 6, 6, 7],
}
"""Critical values for the sign test at 5 %, one and two tails, n from 1 to 25: M. F. Triola, Elementary
Statistics, table A-7. So often the less frequent sign may come at most."""

RIGHT = (9, 9, 10, 10, 11, 12, 12, 13, 13, 14, 15, 15, 16, 16, 17, 18)
"""Right answers an ABX test needs at 95 %, of 10 to 25 trials: the table of the encyclopedia article "ABX
test"."""

counts = st.integers(0, 80)


@pytest.mark.parametrize("trials", CUMULATIVE)
def test_the_tail_is_the_printed_cumulative_binomial(trials: int) -> None:
    for k, printed in enumerate(CUMULATIVE[trials]):
        assert abs(float(1 - binomial_tail(k + 1, trials)) - printed) <= 0.0005 + 1e-12


@given(counts, counts)
def test_tail_and_sign_test_are_what_a_statistics_library_computes(wins: int, losses: int) -> None:
    trials = wins + losses
    if not trials:
        assert binomial_tail(0, 0) == sign_test(0, 0) == 1
        return
    one_sided = binomtest(wins, trials, 0.5, alternative="greater").pvalue
    assert float(binomial_tail(wins, trials)) == pytest.approx(one_sided, rel=1e-9)
    both = binomtest(wins, trials, 0.5).pvalue
    assert float(sign_test(wins, losses)) == pytest.approx(both, rel=1e-9)


@given(counts, counts)
def test_tails_are_exact_and_two_of_them_make_a_whole(heads: int, trials: int) -> None:
    assert binomial_tail(heads, trials) + binomial_tail(trials - heads + 1, trials) == 1
    assert binomial_tail(-heads, trials) == 1
    assert binomial_tail(trials + 1, trials) == 0


def test_large_counts_stay_exact() -> None:
    assert sign_test(3000, 0) == Fraction(2, 1 << 3000)
    assert binomial_tail(1501, 3001) == Fraction(1, 2)


@pytest.mark.parametrize("sides", [1, 2])
def test_the_least_that_is_no_chance_is_the_printed_critical_value(sides: Sides) -> None:
    for answers, printed in enumerate(LESS_FREQUENT[sides], start=1):
        needed = None if printed is None else answers - printed
        assert least_right(answers, sides=sides) == needed


def test_an_abx_test_needs_the_printed_number_of_right_answers() -> None:
    assert tuple(least_right(trials, sides=1) for trials in range(10, 26)) == RIGHT
    assert least_right(0, sides=1) is None


def test_five_answers_are_the_least_one_sided_and_six_two_sided() -> None:
    assert least_answers(sides=1) == 5
    assert least_answers(sides=2) == 6
    assert least_answers(sides=2, comparisons=3) == 7  # 2 / 2^7 * 3 = 0.047, 2 / 2^6 * 3 = 0.094


@pytest.mark.parametrize("comparisons", [1, 3, 6, 28])
@pytest.mark.parametrize("sides", [1, 2])
def test_least_answers_is_where_least_right_begins(sides: Sides, comparisons: int) -> None:
    least = least_answers(sides=sides, comparisons=comparisons)
    assert least_right(least, sides=sides, comparisons=comparisons) == least
    assert least_right(least - 1, sides=sides, comparisons=comparisons) is None


@pytest.mark.parametrize(("sides", "comparisons"), [(1, 1), (2, 1), (2, 3), (2, 28)])
def test_the_proposed_number_finds_a_clear_case_and_no_smaller_one_does(
    sides: Sides, comparisons: int
) -> None:
    def found(answers: int) -> float:
        needed = least_right(answers, sides=sides, comparisons=comparisons)
        if needed is None:
            return 0.0
        return float(binomtest(needed, answers, float(CLEAR), alternative="greater").pvalue)

    proposed = proposed_answers(sides=sides, comparisons=comparisons)
    assert found(proposed) >= FOUND
    assert all(found(answers) < FOUND for answers in range(1, proposed))


def test_holm_by_hand() -> None:
    """Four comparisons, worked by hand from Holm (1979): times 4, 3, 2, 1, never smaller than before."""
    values = [Fraction(n, 1000) for n in (10, 40, 30, 5)]
    assert holm(values) == tuple(Fraction(n, 1000) for n in (30, 60, 60, 20))
    assert holm([Fraction(1, 2), Fraction(3, 4)]) == (1, 1)
    assert holm([]) == ()


@given(st.lists(st.fractions(0, 1, max_denominator=200), min_size=1, max_size=8))
def test_holm_rejects_what_its_sequential_rule_rejects(values: list[Fraction]) -> None:
    """The rule as it is stated: from the smallest on, while p <= limit / (comparisons still in)."""
    order = sorted(range(len(values)), key=lambda at: values[at])
    rejected: set[int] = set()
    for step, at in enumerate(order):
        if values[at] > LIMIT / (len(values) - step):
            break
        rejected.add(at)
    assert {at for at, one in enumerate(holm(values)) if one <= LIMIT} == rejected

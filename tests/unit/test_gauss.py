"""The numbers of the Gaussian distribution, against scipy."""

from __future__ import annotations

import pytest
from scipy.stats import norm

from audio.measure import gauss


def test_the_numbers_are_those_of_the_normal_distribution() -> None:
    assert pytest.approx(norm.ppf(0.75), abs=5e-5) == gauss.MEDIAN
    assert pytest.approx(norm.ppf(0.975), abs=5e-4) == gauss.NINETY_FIVE

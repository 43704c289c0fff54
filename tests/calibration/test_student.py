"""The t quantile against an independent library."""

from __future__ import annotations

import pytest
from scipy import special, stats

from waitwright.workload.student import incomplete_beta, student_quantile

PROBABILITIES = (1e-6, 0.001, 0.05, 0.3, 0.45, 0.7, 0.95, 0.999)


@pytest.mark.parametrize("degrees", [1, 2, 3, 5, 10, 30.5, 1000, 1e6])
@pytest.mark.parametrize("probability", PROBABILITIES)
def test_quantile_is_that_of_the_t_distribution(probability: float, degrees: float) -> None:
    """Quantiles agree with scipy from the far tail to the middle, from one degree of freedom to a million.

    Second opinion: scipy.
    """
    expected = stats.t.ppf(probability, degrees)

    assert student_quantile(probability, degrees) == pytest.approx(expected, rel=1e-8)


def test_quantile_of_one_degree_is_that_of_cauchy() -> None:
    """With one degree of freedom the upper quartile is exactly one, the median zero.

    Second opinion: scipy.
    """
    assert student_quantile(0.75, 1) == pytest.approx(1.0, rel=1e-12)
    assert student_quantile(0.5, 1) == pytest.approx(0.0, abs=1e-7)


@pytest.mark.parametrize("x", [0.0, 1e-9, 0.1, 0.5, 0.9, 1 - 1e-9, 1.0])
@pytest.mark.parametrize(("a", "b"), [(0.5, 0.5), (2.0, 0.5), (15.0, 0.5), (3.0, 7.0)])
def test_incomplete_beta_is_the_regularised_one(x: float, a: float, b: float) -> None:
    """The incomplete beta function agrees with scipy on both sides of its mean and at the ends.

    Second opinion: scipy.
    """
    assert incomplete_beta(x, a, b) == pytest.approx(special.betainc(a, b, x), rel=1e-11, abs=1e-300)


@pytest.mark.parametrize(("probability", "degrees"), [(0.0, 3), (1.0, 3), (0.9, 0), (0.9, float("inf"))])
def test_quantile_outside_the_distribution_is_refused(probability: float, degrees: float) -> None:
    """Probabilities of 0 and 1 and a number of degrees that is none have no quantile.

    Second opinion: scipy.
    """
    with pytest.raises(ValueError, match="no t quantile"):
        student_quantile(probability, degrees)

"""The hazard of a soak test against scipy's Gumbel distribution."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from waitwright.belief.hazard import (
    RATE_AT_EDGE,
    STEEPNESS_PS,
    STEEPNESS_SHARE,
    certain_margin,
    log_rate,
    survival,
)
from waitwright.timing.soak import DEFAULT_SOAK_HOURS

STEEPNESS = st.sampled_from([STEEPNESS_PS, STEEPNESS_SHARE])
HOURS = st.floats(0.01, 10_000)


@given(STEEPNESS, HOURS)
def test_survival_is_a_gumbel_distribution_of_the_margin(steepness: float, hours: float) -> None:
    """Survival over the margin is scipy.stats.gumbel_r's cdf, moved by the logarithm of the soak.

    Second opinion: scipy.
    """
    margin = np.linspace(-20, 40, 601) * steepness
    centre = steepness * np.log(hours * RATE_AT_EDGE)

    np.testing.assert_allclose(
        survival(margin, steepness, hours),
        stats.gumbel_r.cdf(margin, loc=centre, scale=steepness),
        rtol=1e-9,
        atol=1e-15,
    )


@given(st.floats(-5, 15), STEEPNESS)
def test_time_to_failure_is_exponential(share: float, steepness: float) -> None:
    """At one margin the time to failure has scipy.stats.expon's survival function.

    Second opinion: scipy.
    """
    margin = np.array([share * steepness])
    mean = float(np.exp(-log_rate(margin, steepness))[0])

    for hours in (0.5, 4.0, 100.0):
        expected = stats.expon.sf(hours, scale=mean)
        assert survival(margin, steepness, hours)[0] == pytest.approx(expected, rel=1e-9, abs=1e-300)


def test_at_the_edge_half_of_the_soaks_are_survived() -> None:
    """With a margin of exactly zero a soak of four hours is survived in half of the cases."""
    for steepness in (STEEPNESS_PS, STEEPNESS_SHARE):
        assert survival(np.zeros(1), steepness, DEFAULT_SOAK_HOURS)[0] == pytest.approx(0.5, rel=1e-12)


def test_about_one_nanosecond_separates_failing_from_holding() -> None:
    """From 1 in 10 to 9 in 10 survived soaks it takes about 1 ns of margin."""
    odds = stats.gumbel_r.ppf([0.1, 0.9], scale=STEEPNESS_PS)

    assert odds[1] - odds[0] == pytest.approx(1000, abs=50)


@given(STEEPNESS, HOURS, HOURS)
def test_survival_grows_with_margin_and_falls_with_time(steepness: float, one: float, other: float) -> None:
    """More margin never hurts, a longer soak never helps, and odds stay within 0 and 1."""
    short, long = sorted((one, other))
    margin = np.linspace(-100, 100, 401) * steepness
    quick, slow = survival(margin, steepness, short), survival(margin, steepness, long)

    assert (np.diff(quick) >= 0).all()
    assert (slow <= quick).all()
    assert quick.min() >= 0
    assert slow.max() <= 1


@given(STEEPNESS, HOURS)
def test_past_the_certain_margin_nothing_fails(steepness: float, hours: float) -> None:
    """At the certain margin the chance of failing is one in a million, and less beyond it."""
    edge = certain_margin(steepness, hours)
    fails = 1 - survival(np.array([edge, edge + steepness]), steepness, hours)

    assert fails[0] == pytest.approx(1e-6, rel=1e-3)
    assert fails[1] < 1e-6


def test_hopeless_margins_are_finite() -> None:
    """Endless margins on either side give 0 and 1, without overflow."""
    margin = np.array([-np.inf, -1e12, 1e12, np.inf])

    assert survival(margin, STEEPNESS_PS, 4.0).tolist() == [0, 0, 1, 1]

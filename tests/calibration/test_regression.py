"""The posterior against optimisation, quadrature and simulation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize, stats

from waitwright.workload.regression import Evidence, Posterior, half_width, regress

Floats = NDArray[np.float64]


def simulated(seed: int, groups: int, events: int, noise: float = 0.01) -> tuple[Evidence, Floats, float]:
    """Evidence from a machine whose scale and rates are drawn from the prior, with these rates and scale."""
    draws = np.random.default_rng(seed)
    # What a setting does: it changes single events by up to a factor of two.
    times = draws.dirichlet(np.full(events, 2.0)) * draws.uniform(0.5, 1.0, (groups, events))
    spreads = np.full(events, 0.35)
    spreads[0] = 0.1
    rates, scale = draws.normal(0.0, spreads), draws.normal(0.0, 3.0)
    runs = draws.integers(1, 4, groups)
    true = scale + np.log(times @ np.exp(rates)) + draws.normal(0.0, 0.003, groups)
    measured = true + draws.normal(0.0, noise / np.sqrt(runs))
    return Evidence(times, measured, runs, spreads, noise, 0.003), rates, float(scale)


def surprise(parameters: Floats, evidence: Evidence) -> float:
    """Minus twice the logarithm of the posterior density, written down directly."""
    events = len(evidence.spreads)
    rates, misfits = parameters[1 : 1 + events], parameters[1 + events :]
    apart = evidence.log_times - parameters[0] - np.log(evidence.times @ np.exp(rates)) - misfits
    errors = evidence.noise / np.sqrt(evidence.runs)
    return float(
        np.sum((apart / errors) ** 2)
        + np.sum((rates / evidence.spreads) ** 2)
        + np.sum((misfits / evidence.misfit) ** 2)
    )


def by_quadrature(
    evidence: Evidence, points: int = 161
) -> tuple[Floats, Floats, list[Callable[[float], float]]]:
    """Mean, standard deviation and distribution function of two rates, by brute force over a grid.

    Scale and misfits are integrated out exactly: given the rates they are normal.
    """
    axes = [np.linspace(-5 * spread, 5 * spread, points) for spread in evidence.spreads]
    first, second = np.meshgrid(*axes, indexing="ij")
    summed = (
        np.exp(first)[..., None] * evidence.times[:, 0] + np.exp(second)[..., None] * evidence.times[:, 1]
    )
    apart = evidence.log_times - np.log(summed)
    trust = 1 / (evidence.misfit**2 + evidence.noise**2 / evidence.runs)
    middle = (apart @ trust) / trust.sum()
    exponent = ((apart - middle[..., None]) ** 2) @ trust
    exponent += (first / evidence.spreads[0]) ** 2 + (second / evidence.spreads[1]) ** 2
    density = np.exp(-0.5 * (exponent - exponent.min()))
    density /= density.sum()
    marginals = [density.sum(axis=1), density.sum(axis=0)]
    means = np.array([axis @ mass for axis, mass in zip(axes, marginals, strict=True)])
    squares = np.array([axis**2 @ mass for axis, mass in zip(axes, marginals, strict=True)])
    below: list[Callable[[float], float]] = [
        partial(np.interp, xp=axis, fp=np.cumsum(mass) - mass / 2)
        for axis, mass in zip(axes, marginals, strict=True)
    ]
    return means, np.sqrt(squares - means**2), below


@pytest.mark.parametrize("seed", range(6))
def test_posterior_of_two_events_is_that_of_quadrature(seed: int) -> None:
    """For two events quadrature finds the same means and spreads, and 87 to 93 % in the 90 % intervals.

    Second opinion: quadrature.
    """
    evidence, _, _ = simulated(seed, groups=4, events=2)
    means, deviations, below = by_quadrature(evidence)

    posterior = regress(evidence)

    assert np.abs(posterior.rates - means).max() < 0.15 * deviations.max()
    assert np.sqrt(posterior.rate_variances) == pytest.approx(deviations, rel=0.1)
    for event, mean in enumerate(posterior.rates):
        reach = half_width(float(posterior.rate_variances[event]), 0.9)
        assert 0.87 < below[event](mean + reach) - below[event](mean - reach) < 0.93


@pytest.mark.parametrize("seed", range(6))
def test_posterior_mean_is_the_most_probable_point(seed: int) -> None:
    """No optimiser finds parameters that are more probable than those where the regression stands still.

    Second opinion: scipy's optimiser.
    """
    evidence, _, _ = simulated(seed, groups=6, events=8)

    posterior = regress(evidence)

    found = optimize.minimize(surprise, posterior.mean + 0.05, args=(evidence,), method="BFGS")
    best = surprise(posterior.mean, evidence)
    assert best <= found.fun + 1e-9
    assert found.fun == pytest.approx(best, rel=1e-3, abs=1e-3)


def test_scores_against_all_reason_still_have_an_answer() -> None:
    """Scores that no rates explain, a thousandfold apart, end at a most probable point all the same."""
    evidence, _, _ = simulated(1, groups=6, events=8)
    wild = replace(evidence, log_times=evidence.log_times + np.array([0, 7, -7, 3, 0, -4]))

    posterior = regress(wild)

    assert np.isfinite(posterior.mean).all() and np.isfinite(posterior.covariance).all()
    slope = optimize.approx_fprime(posterior.mean, surprise, 1e-7, wild)
    assert np.abs(slope).max() < 1e-4 * surprise(posterior.mean, wild)


def test_small_spreads_make_it_linear_regression() -> None:
    """Where rates hardly vary, the posterior is generalised least squares with a normal prior, exactly.

    Second opinion: generalised least squares.
    """
    evidence, _, _ = simulated(2, groups=5, events=3)
    evidence = replace(
        evidence,
        spreads=evidence.spreads * 1e-4,
        log_times=1.5 + np.log(evidence.times.sum(axis=1)) + 1e-5 * np.arange(5),
        noise=1e-5,
        misfit=1e-6,
    )
    shares = evidence.times / evidence.times.sum(axis=1, keepdims=True)
    design = np.hstack([np.ones((5, 1)), shares])
    trust = np.diag(1 / (evidence.misfit**2 + evidence.noise**2 / evidence.runs))
    before = np.diag([0.0, *evidence.spreads**-2.0])
    covariance = np.linalg.inv(design.T @ trust @ design + before)
    mean = covariance @ design.T @ trust @ (evidence.log_times - np.log(evidence.times.sum(axis=1)))

    posterior = regress(evidence)

    assert posterior.mean[:4] == pytest.approx(mean, abs=1e-7)
    assert posterior.covariance[1:4, 1:4] == pytest.approx(covariance[1:, 1:], rel=1e-3, abs=1e-13)


def test_one_group_moves_the_scale_alone() -> None:
    """After one group, however often it was run, every rate stands exactly where it stood."""
    evidence, _, _ = simulated(3, groups=1, events=5)

    posterior = regress(evidence)

    assert np.abs(posterior.rates).max() < 1e-12
    assert posterior.rate_variances == pytest.approx(evidence.spreads**2, rel=1e-9)
    assert posterior.mean[0] == pytest.approx(evidence.log_times[0] - np.log(evidence.times.sum()))


def test_enough_scores_recover_the_rates() -> None:
    """From 300 combinations the ratios of all rates are found, to 4 % and as well as the posterior says."""
    evidence, rates, _ = simulated(4, groups=300, events=4, noise=0.002)

    posterior = regress(evidence)

    # All rates together cannot be told from the scale by any score; their ratios can.
    for event in (1, 2, 3):
        ratio = np.zeros_like(posterior.mean)
        ratio[1 + event], ratio[1] = 1.0, -1.0
        doubt = np.sqrt(posterior.variance(ratio))
        assert doubt < 0.04
        assert abs(float(ratio @ posterior.mean) - (rates[event] - rates[0])) < 2.6 * doubt


def test_forecasts_do_not_depend_on_the_unit_of_event_times() -> None:
    """Event times in another unit change the scale and nothing that is forecast."""
    evidence, _, _ = simulated(5, groups=4, events=6)
    plain, scaled = regress(evidence), regress(replace(evidence, times=evidence.times * 1e8))

    one, other = plain.forecast(evidence.times[0] * 0.9), scaled.forecast(evidence.times[0] * 0.9e8)

    assert one.mean == pytest.approx(other.mean, abs=1e-9)
    assert plain.variance(one.slopes) == pytest.approx(scaled.variance(other.slopes), rel=1e-6)


def held(posterior: Posterior, rates: Floats, scale: float, new: Floats) -> tuple[int, int]:
    """How many rates, and whether the time of a new combination, lie inside their 90 % intervals."""
    reach = stats.norm.ppf(0.95) * np.sqrt(posterior.rate_variances)
    forecast = posterior.forecast(new)
    truth = scale + np.log(new @ np.exp(rates))
    within = abs(forecast.mean - truth) <= half_width(posterior.variance(forecast.slopes), 0.9)
    return int(np.sum(np.abs(posterior.rates - rates) <= reach)), int(within)


def test_intervals_hold_the_truth_nine_times_in_ten() -> None:
    """Over 600 machines 85 to 95 of a hundred true rates and forecast times lie inside their intervals.

    Second opinion: 600 simulated machines.
    """
    draws = np.random.default_rng(17)
    rates_held = times_held = 0
    for seed in range(600):
        evidence, rates, scale = simulated(1000 + seed, groups=1 + seed % 7, events=6)
        new = evidence.times[0] * draws.uniform(0.5, 1.5, 6)
        some, one = held(regress(evidence), rates, scale, new)
        rates_held, times_held = rates_held + some, times_held + one

    assert 0.85 <= rates_held / 3600 <= 0.95
    assert 0.85 <= times_held / 600 <= 0.95

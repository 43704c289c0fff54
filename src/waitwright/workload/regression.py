"""Bayesian regression of measured times on event times, with one unknown factor for each event.

For each group of repeated runs g, n of them, with event times T by the model::

    log time = scale + log(sum over events of exp(rate) x T) + misfit + noise / sqrt(n)

``scale`` turns the model's time into the program's unit and has a flat prior: nothing is known of it.
``rate`` is the logarithm of an event's true cost over the workload's, normal around 0.  ``misfit`` is
what the events leave out of that combination, normal around 0 and independent between groups.

The equation is all but linear.  Linear regression in closed form is repeated about its own solution
(Gauss-Newton) until it stands still; there the posterior is read off as a normal distribution.  One
group alone moves the scale and no rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_ROUNDS = 100
_HALVINGS = 40
_STILL = 1e-11
_ROUNDING = 1e-11
"""Share by which the surprise may seem to rise and does not: near its least there is only rounding."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was measured, and what was believed before.

    Attributes:
        times: Event times by group and event, all >= 0, one above 0 in each group; any unit.
        log_times: Mean logarithm of the measured times, by group.
        runs: Number of runs, by group.
        spreads: Standard deviation of each event's rate before any measurement.
        noise: Standard deviation of the logarithm of one run.
        misfit: Standard deviation of a group's misfit.
    """

    times: Floats
    log_times: Floats
    runs: NDArray[np.int64]
    spreads: Floats
    noise: float
    misfit: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """A logarithm of a time: its mean, and how it hangs on every parameter of the posterior."""

    mean: float
    slopes: Floats
    fresh: float
    """Variance that no measurement has touched: the misfit of a combination not measured yet."""


@dataclass(frozen=True, slots=True)
class Posterior:
    """A normal distribution over scale, rates and misfits, in this order."""

    mean: Floats
    covariance: Floats
    events: int
    misfit: float

    @property
    def rates(self) -> Floats:
        """Mean logarithm of each event's factor."""
        return self.mean[1 : 1 + self.events]

    @property
    def rate_variances(self) -> Floats:
        """Variance of the logarithm of each event's factor."""
        return np.diagonal(self.covariance)[1 : 1 + self.events]

    def forecast(self, times: Floats, group: int | None = None) -> Forecast:
        """The time of one combination from its event times; *group* where it is one of those measured."""
        logs, shares = _sums(times[None, :], self.rates)
        slopes = np.zeros_like(self.mean)
        slopes[0] = 1.0
        slopes[1 : 1 + self.events] = shares[0]
        mean = float(self.mean[0] + logs[0])
        if group is None:
            return Forecast(mean, slopes, self.misfit**2)
        slopes[1 + self.events + group] = 1.0
        return Forecast(mean + float(self.mean[1 + self.events + group]), slopes, 0.0)

    def variance(self, slopes: Floats) -> float:
        """Variance of the sum of all parameters times *slopes*."""
        return max(float(slopes @ self.covariance @ slopes), 0.0)


def half_width(variance: float, confidence: float) -> float:
    """Half the central interval of a normal distribution."""
    return NormalDist().inv_cdf((1 + confidence) / 2) * float(np.sqrt(variance))


def regress(evidence: Evidence) -> Posterior:
    """The posterior after *evidence*, which holds at least one group."""
    groups, events = evidence.times.shape
    weights = evidence.runs / evidence.noise**2
    precisions = np.concatenate(
        [[0.0], evidence.spreads**-2.0, np.full(groups, evidence.misfit**-2.0)]
    )  # a flat prior has none

    def predicted(parameters: Floats) -> tuple[Floats, Floats]:
        logs, shares = _sums(evidence.times, parameters[1 : 1 + events])
        slopes = np.hstack([np.ones((groups, 1)), shares, np.eye(groups)])
        return parameters[0] + logs + parameters[1 + events :], slopes

    def surprise(parameters: Floats) -> float:
        apart = evidence.log_times - predicted(parameters)[0]
        return float(weights @ apart**2 + precisions @ parameters**2)

    found = np.zeros(1 + events + groups)
    found[0] = np.average(evidence.log_times - predicted(found)[0], weights=weights)
    for _ in range(_ROUNDS):
        logs, slopes = predicted(found)
        information = _information(slopes, weights, precisions)
        pull = slopes.T @ (weights * (evidence.log_times - logs)) - precisions * found
        step = np.linalg.solve(information, pull)
        # A full step may overshoot where scores contradict the model wildly.
        before = surprise(found)
        for _ in range(_HALVINGS):
            if surprise(found + step) <= before + _ROUNDING * (1.0 + before):
                break
            step *= 0.5
        found = found + step
        if np.abs(step).max() < _STILL:
            break
    information = _information(predicted(found)[1], weights, precisions)
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return Posterior(found, covariance, events, evidence.misfit)


def _information(slopes: Floats, weights: Floats, precisions: Floats) -> Floats:
    found: Floats = (slopes.T * weights) @ slopes + np.diag(precisions)
    return found


def _sums(times: Floats, rates: Floats) -> tuple[Floats, Floats]:
    """Logarithm of the summed times after rates, and each event's share in the sum, by group."""
    with np.errstate(divide="ignore"):
        parts = np.log(times) + rates
    logs: Floats = np.logaddexp.reduce(parts, axis=1)
    return logs, np.exp(parts - logs[:, None])

"""Belief after trials against numerical integration, and its plain properties."""

from __future__ import annotations

from itertools import permutations
from math import exp, log

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, stats

from waitwright.belief.cloud import Cloud, cloud_at
from waitwright.belief.hazard import RATE_AT_EDGE, STEEPNESS_PS
from waitwright.belief.latents import SURROUNDINGS, Latent, Latents
from waitwright.belief.likelihood import FASTEST_PER_HOUR, UNEXPLAINED_PER_HOUR, Outcome, TrialLikelihood
from waitwright.belief.mechanisms import DelayCause, Scaled
from waitwright.belief.normal import normal_quantile
from waitwright.belief.posterior import posterior
from waitwright.belief.sobol import spread_points
from waitwright.ids import ChoiceId, OptionId
from waitwright.rulebook.domain import SYMPTOMS

SETTINGS = {OptionId("clock"): ChoiceId("33")}
ONE = Latents((Latent(SURROUNDINGS, 0.0, 1e-9), Latent("a", log(0.7), 0.08)))
TWO = Latents((*ONE.items, Latent("b", log(0.8), 0.05)))
DRAWS = 8192


def prior_of(latents: Latents, seed: int = 3) -> Cloud:
    """Draws of some unknowns."""
    z = normal_quantile(spread_points(DRAWS, len(latents.items), seed))
    return cloud_at(latents, z, np.full(DRAWS, 1 / DRAWS))


def cause(name: str, room_ps: float, *parts: tuple[int, float]) -> DelayCause:
    """A budget with *room_ps* for delays of parts."""
    return DelayCause(name, ("hang",), room_ps, tuple(Scaled((part,)) for part in parts))


def rate(margin_ps: float) -> float:
    """Failures per hour at a margin, as the hazard is told in words."""
    return float(min(RATE_AT_EDGE * exp(min(-margin_ps / STEEPNESS_PS, 60)), FASTEST_PER_HOUR))


def chance(outcome: Outcome, rates: list[float]) -> float:
    """Likelihood of *outcome*, written out for causes that all show as a hang."""
    whole = sum(rates) + UNEXPLAINED_PER_HOUR
    hours = outcome.soak if outcome.hours is None else outcome.hours
    if outcome.stable:
        return exp(-hours * whole)
    hang = 0.95 if outcome.symptoms == ("hang",) else 0.05 / len(SYMPTOMS)
    blamed = sum(rates) * hang + UNEXPLAINED_PER_HOUR / len(SYMPTOMS)
    if outcome.hours is None:
        return blamed / whole * (1 - exp(-hours * whole))
    return blamed * exp(-hours * whole)


ONE_CASES = [
    (Outcome(SETTINGS, True, hours=4.0),),
    (Outcome(SETTINGS, True, hours=100.0),),
    (Outcome(SETTINGS, False, ("hang",), hours=0.5),),
    (Outcome(SETTINGS, False, ("hang",)),),
    (Outcome(SETTINGS, False, ("disk-error",), hours=2.0),),
    (Outcome(SETTINGS, True, hours=4.0), Outcome(SETTINGS, False, ("hang",), hours=3.0)),
]


@pytest.mark.parametrize("outcomes", ONE_CASES)
def test_one_unknown_agrees_with_quadrature(outcomes: tuple[Outcome, ...]) -> None:
    """Mean and spread of one unknown after trials are those of numerical integration.

    Second opinion: scipy's quadrature.
    """
    budget = cause("first", 7300.0, (1, 10_000.0))
    told = posterior(prior_of(ONE), TrialLikelihood([(one, (budget,)) for one in outcomes]))

    def weight(z: float) -> float:
        margin = 7300 - 10_000 * exp(log(0.7) + 0.08 * z)
        return float(stats.norm.pdf(z)) * float(np.prod([chance(one, [rate(margin)]) for one in outcomes]))

    whole = integrate.quad(weight, -8, 8, limit=200)[0]
    mean = integrate.quad(lambda z: z * weight(z), -8, 8, limit=200)[0] / whole
    square = integrate.quad(lambda z: z * z * weight(z), -8, 8, limit=200)[0] / whole
    z = told.z[:, 1]
    assert told.weights @ z == pytest.approx(mean, abs=0.05)
    assert told.weights @ z**2 - (told.weights @ z) ** 2 == pytest.approx(square - mean**2, abs=0.05)


def test_two_unknowns_agree_with_quadrature() -> None:
    """With two parts in one budget and one of them in another, means and correlation are those of a grid.

    Second opinion: a fine grid.
    """
    both = cause("both", 14_900.0, (1, 10_000.0), (2, 10_000.0))
    alone = cause("alone", 8100.0, (2, 10_000.0))
    outcomes = (
        Outcome(SETTINGS, False, ("hang",), hours=1.0),
        Outcome(SETTINGS, True, hours=8.0),
    )
    told = posterior(prior_of(TWO), TrialLikelihood([(outcomes[0], (both, alone)), (outcomes[1], (alone,))]))

    axis = np.linspace(-6, 6, 401)
    weights = np.zeros((401, 401))
    for row, a in enumerate(axis):
        for column, b in enumerate(axis):
            first, second = 10_000 * exp(log(0.7) + 0.08 * a), 10_000 * exp(log(0.8) + 0.05 * b)
            rates = [rate(14_900 - first - second), rate(8100 - second)]
            weights[row, column] = (
                exp(-(a * a + b * b) / 2) * chance(outcomes[0], rates) * chance(outcomes[1], rates[1:])
            )
    weights /= weights.sum()
    a, b = weights.sum(axis=1) @ axis, weights.sum(axis=0) @ axis
    assert told.weights @ told.z[:, 1] == pytest.approx(a, abs=0.06)
    assert told.weights @ told.z[:, 2] == pytest.approx(b, abs=0.06)
    assert told.weights @ (told.z[:, 1] * told.z[:, 2]) == pytest.approx(axis @ weights @ axis, abs=0.08)


def test_order_of_trials_does_not_matter() -> None:
    """Any order of the same trials gives the same likelihood in every draw; one at a time, the same sum."""
    causes = (cause("both", 14_900.0, (1, 10_000.0), (2, 10_000.0)), cause("alone", 8100.0, (2, 10_000.0)))
    trials = [
        (Outcome(SETTINGS, True, hours=4.0), causes),
        (Outcome(SETTINGS, False, ("hang",), hours=1.0), causes),
        (Outcome(SETTINGS, False, ("no-start",)), causes[:1]),
    ]
    cloud = prior_of(TWO)
    logs = [TrialLikelihood(order)(cloud) for order in permutations(trials)]
    singly = sum(TrialLikelihood([trial])(cloud) for trial in trials)

    for other in (*logs[1:], singly):
        np.testing.assert_allclose(other, logs[0], rtol=1e-12, atol=1e-12)


def test_the_same_seed_gives_the_same_draws() -> None:
    """Belief that had to move its draws is repeatable, and another seed gives other draws."""
    likelihood = TrialLikelihood(
        [(Outcome(SETTINGS, False, ("hang",), hours=0.1), (cause("first", 9000.0, (1, 10_000.0)),))]
    )
    first, again = (posterior(prior_of(ONE), likelihood, seed=1) for _ in range(2))
    other = posterior(prior_of(ONE), likelihood, seed=2)

    np.testing.assert_array_equal(first.z, again.z)
    assert not np.array_equal(first.z, other.z)


def gaussian(cloud: Cloud) -> NDArray[np.float64]:
    """Logarithm of the likelihood of a reading of 3.0 that tells one unknown to 0.2."""
    logs: NDArray[np.float64] = -0.5 * np.square((cloud.z[:, 1] - 3.0) / 0.2)
    return logs


def test_a_sharp_reading_leaves_the_exact_spread() -> None:
    """After a reading far from the middle, the draws have the mean and the spread of the normal answer.

    Second opinion: product of two normal densities, in closed form, and the Kolmogorov-Smirnov test.
    """
    told = posterior(prior_of(TWO), gaussian, seed=3)
    variance = 1 / (1 + 1 / 0.2**2)
    exact = stats.norm(variance * 3.0 / 0.2**2, variance**0.5)

    # Resampled draws are not quite independent, so that a tenth of them are looked at.
    assert stats.kstest(told.z[::10, 1], exact.cdf).pvalue > 0.01
    assert told.z[:, 1].mean() == pytest.approx(exact.mean(), abs=0.02)
    assert told.z[:, 1].std() == pytest.approx(exact.std(), rel=0.05)
    assert stats.kstest(told.z[::10, 2], stats.norm.cdf).pvalue > 0.01


def test_moves_leave_no_two_draws_alike() -> None:
    """Draws that resampling doubled go ways of their own."""
    told = posterior(prior_of(ONE), gaussian, seed=3)

    assert len(np.unique(told.z[:, 1])) == told.draws

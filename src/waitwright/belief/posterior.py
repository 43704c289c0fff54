"""The cloud after trials: tempered reweighting with elliptical slice moves.

The draws start as the prior's and are led to the posterior in steps of the likelihood's exponent, each
so large that half of the effective sample survives; after every step the draws are resampled and moved
by elliptical slice sampling (I. Murray, R. P. Adams, D. J. C. MacKay, "Elliptical slice sampling",
AISTATS 2010), which leaves prior times tempered likelihood unchanged and needs no tuning.  The
likelihood is a product over all trials, so their order does not matter.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud, cloud_at

Floats = NDArray[np.float64]
LogLikelihood = Callable[[Cloud], Floats]

SWEEPS = 3
"""Elliptical slice moves of every draw after each step."""

_MOST_STEPS = 60
_MOST_SHRINKS = 40


def posterior(prior: Cloud, log_likelihood: LogLikelihood, *, seed: int = 0) -> Cloud:
    """The cloud after evidence; deterministic for a given seed.

    While the reweighted prior keeps half of its draws effective it is used as it is, weights and all.
    """
    logs = log_likelihood(prior)
    plain = _reweighted(prior, logs)
    if plain.effective >= prior.draws / 2:
        return plain
    random = np.random.default_rng([seed, prior.draws])
    cloud, done = prior, 0.0
    for _ in range(_MOST_STEPS):
        step = _step(cloud, logs, 1.0 - done)
        done = min(1.0, done + step)
        cloud, logs = _resampled(_reweighted(cloud, step * logs), logs, random)
        for _ in range(SWEEPS):
            cloud, logs = _moved(cloud, logs, log_likelihood, done, random)
        if done >= 1.0:
            break
    return cloud


def _reweighted(cloud: Cloud, logs: Floats) -> Cloud:
    weights = cloud.weights * np.exp(logs - logs.max())
    return cloud_at(cloud.latents, cloud.z, weights / weights.sum())


def _step(cloud: Cloud, logs: Floats, left: float) -> float:
    """The largest step of the exponent, up to *left*, that keeps half of the draws effective."""
    if _reweighted(cloud, left * logs).effective >= cloud.draws / 2:
        return left
    low, high = 0.0, left
    for _ in range(40):
        middle = (low + high) / 2
        if _reweighted(cloud, middle * logs).effective >= cloud.draws / 2:
            low = middle
        else:
            high = middle
    return max(low, left / 2**20)


def _resampled(cloud: Cloud, logs: Floats, random: np.random.Generator) -> tuple[Cloud, Floats]:
    """Equal weights again, by systematic resampling; with the log-likelihood of each draw."""
    points = (np.arange(cloud.draws) + random.random()) / cloud.draws
    chosen = np.searchsorted(np.cumsum(cloud.weights), points).clip(max=cloud.draws - 1)
    return cloud_at(cloud.latents, cloud.z[chosen], np.full(cloud.draws, 1.0 / cloud.draws)), logs[chosen]


def _moved(
    cloud: Cloud, logs: Floats, log_likelihood: LogLikelihood, power: float, random: np.random.Generator
) -> tuple[Cloud, Floats]:
    """One elliptical slice move of every draw at likelihood exponent *power*; with its new log-likelihood."""
    start = cloud.z
    other = random.standard_normal(start.shape)
    floor = power * logs + np.log(random.random(cloud.draws))
    angle = random.random(cloud.draws) * 2 * np.pi
    low, high = angle - 2 * np.pi, angle.copy()
    moved, reached = start.copy(), logs.copy()
    waiting = np.arange(cloud.draws)
    for _ in range(_MOST_SHRINKS):
        turned = start[waiting] * np.cos(angle[waiting, None]) + other[waiting] * np.sin(angle[waiting, None])
        tried = cloud_at(cloud.latents, turned, np.full(len(waiting), 1.0 / len(waiting)))
        found = log_likelihood(tried)
        accepted = power * found >= floor[waiting]
        moved[waiting[accepted]] = turned[accepted]
        reached[waiting[accepted]] = found[accepted]
        waiting = waiting[~accepted]
        if not len(waiting):
            break
        negative = angle[waiting] < 0
        low[waiting[negative]] = angle[waiting[negative]]
        high[waiting[~negative]] = angle[waiting[~negative]]
        angle[waiting] = low[waiting] + random.random(len(waiting)) * (high[waiting] - low[waiting])
    return cloud_at(cloud.latents, moved, cloud.weights), reached

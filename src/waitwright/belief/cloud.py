"""The cloud: weighted draws of all unknowns of a machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.latents import Latents, latents_of
from waitwright.belief.normal import normal_quantile
from waitwright.belief.sobol import spread_points
from waitwright.machine import Machine

DEFAULT_DRAWS = 2048


@dataclass(frozen=True, slots=True)
class Cloud:
    """Weighted draws.

    Attributes:
        latents: What is drawn.
        z: Standard normal draws, shape (draws, unknowns).
        factors: ``exp(mean + sigma z)``, same shape.
        weights: One for each draw, summing to 1.
    """

    latents: Latents
    z: NDArray[np.float64]
    factors: NDArray[np.float64]
    weights: NDArray[np.float64]

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return len(self.weights)

    @property
    def effective(self) -> float:
        """Effective sample size: 1 / sum of squared weights."""
        return float(1.0 / np.square(self.weights).sum())

    def factor(self, name: str) -> NDArray[np.float64]:
        """The factor of one unknown in every draw."""
        return self.factors[:, self.latents.index(name)]


def prior_cloud(
    machine: Machine, *, seed: int = 0, draws: int = DEFAULT_DRAWS, latents: Latents | None = None
) -> Cloud:
    """Draws before anything is known of this machine; the same for the same seed.

    Args:
        latents: The unknowns to draw, where they are not just those of the machine's parts.
    """
    latents = latents or latents_of(machine)
    z = normal_quantile(spread_points(draws, len(latents.items), seed))
    return cloud_at(latents, z, np.full(draws, 1.0 / draws))


def cloud_at(latents: Latents, z: NDArray[np.float64], weights: NDArray[np.float64]) -> Cloud:
    """A cloud over given standard normal draws."""
    means = np.array([latent.mean for latent in latents.items])
    sigmas = np.array([latent.sigma for latent in latents.items])
    # One unknown is asked for at a time, over all draws: keep these together.
    return Cloud(latents, z, np.asfortranarray(np.exp(means + sigmas * z)), weights)


def widened(cloud: Cloud, share: float) -> Cloud:
    """The cloud with every draw *share* times as far from the middle."""
    return cloud_at(cloud.latents, share * cloud.z, cloud.weights)

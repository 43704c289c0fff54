"""From a margin to the chance of surviving a soak test.

Failures near the edge are rare events (the right data pattern on a warm afternoon), so they come at a
rate: ``rate = RATE_AT_EDGE x exp(-margin / STEEPNESS)`` per hour, and a soak of *hours* is survived
with probability ``exp(-rate x hours)``.  With no margin at all a soak of four hours is survived in
half of the cases; about 1 ns separates "fails in 9 of 10" from "holds in 9 of 10" (assumption, in line
with the observation that slow parts pass a short test and fail a long one).
"""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import NDArray

from waitwright.timing.soak import DEFAULT_SOAK_HOURS

STEEPNESS_PS = 330.0
"""Picoseconds of margin that change the failure rate by a factor of e."""

RATE_AT_EDGE = log(2) / DEFAULT_SOAK_HOURS
"""Failures per hour at a margin of exactly zero."""

STEEPNESS_SHARE = 0.01
"""For ratings: share of the rating that changes the failure rate by a factor of e."""

Floats = NDArray[np.float64]


def log_rate(margin: Floats, steepness: float) -> Floats:
    """Natural logarithm of the failure rate per hour, capped where failure is immediate."""
    return log(RATE_AT_EDGE) + np.minimum(-margin / steepness, 60.0)


def survival(margin: Floats, steepness: float, hours: float) -> Floats:
    """Probability of surviving *hours* at *margin*; same shape, 0..1."""
    return np.exp(-hours * np.exp(log_rate(margin, steepness)))


def certain_margin(steepness: float, hours: float) -> float:
    """Margin beyond which the chance of failing is below one in a million."""
    return steepness * log(max(hours, 1e-9) * RATE_AT_EDGE / 1e-6)

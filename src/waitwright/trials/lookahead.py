"""What a trial is worth: what it brings if it passes, and what its answer allows to do next.

Improvements that come later count for less, as every trial is an evening; so a bold combination is worth
it only where its failure teaches enough.  A combination that passed one soak may still be unsound; it
counts as an improvement only once that is unlikely, else a longer soak has to follow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LATER = 0.6
"""What an improvement is worth one trial later."""

SOUND = 0.95
"""Settings are sound when they pass a soak test with at least this probability."""

TRUST = 0.8
"""How sure one has to be that settings are sound before one builds on them."""

LONGER = (3, 6, 12)
"""Lengths of a confirming soak, in soak tests: from half a day to two days of ordinary use.

Longer ones would fail even sound settings more often than not.
"""


@dataclass(frozen=True, slots=True)
class Worth:
    """Value of trying each of some combinations; all of one length.

    Attributes:
        odds: Probability of passing.
        sound: Probability of passing and being sound.
        value: Expected improvement of speed, later ones discounted.
    """

    odds: Floats
    sound: Floats
    value: Floats


def worth(survivals: Floats, soaks: Floats, gains: Floats, weights: Floats, proven: float) -> Worth:
    """The value of every combination as the next trial.

    Args:
        survivals: Probability of surviving one soak test, by combination and draw.
        soaks: Length of each trial, in soak tests.
        gains: Speed of each combination over the current settings minus one.
        weights: Of the draws.
        proven: Gain that is proven already.
    """
    passes = survivals ** soaks[:, None]
    sound = passes * (survivals >= SOUND)
    odds, alone = passes @ weights, sound @ weights
    over = np.maximum(gains - proven, 0.0)
    trusted = alone >= TRUST * odds
    # Joint chance that x passes, and y would then pass and be sound: rows x, columns y.
    both = (passes * weights) @ sound.T
    reached = np.where(trusted, np.maximum(gains, proven), proven)
    after_pass = (both * np.maximum(gains[None, :] - reached[:, None], 0.0)).max(axis=1)
    confirmed = (sound * survivals ** LONGER[0]) @ weights * over
    after_pass = np.where(trusted, after_pass, np.maximum(after_pass, confirmed))
    after_failure = (np.maximum(alone[None, :] - both, 0.0) * over[None, :]).max(axis=1)
    value = np.where(trusted, alone * over, 0.0) + LATER * (after_pass + after_failure)
    return Worth(odds, alone, value)


def confirming_soak(survival: Floats, weights: Floats, sure: float) -> int:
    """The shortest soak, in soak tests, that makes one *sure* of settings if they pass it; else the longest.

    Args:
        survival: Of one soak test, by draw.
    """
    for length in LONGER:
        passed = weights * survival**length
        if passed @ (survival >= SOUND) >= sure * passed.sum():
            return length
    return LONGER[-1]

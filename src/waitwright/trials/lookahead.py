"""What a trial is worth: what it brings if it passes, and what its answer allows to do next.

Improvements that come later count for less, as every trial is an evening; so a bold combination is worth
it only where its failure teaches enough.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LATER = 0.6
"""What an improvement is worth one trial later."""

SOUND = 0.95
"""Settings count as sound when they would pass another soak test with at least this probability."""


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


def worth(passes: Floats, gains: Floats, weights: Floats, proven: float) -> Worth:
    """The value of every combination as the next trial.

    Args:
        passes: Survival of each combination in each draw.
        gains: Speed of each combination over the current settings minus one.
        weights: Of the draws.
        proven: Gain that is proven already.
    """
    sound = passes * (passes >= SOUND)
    over = np.maximum(gains - proven, 0.0)
    alone = sound @ weights
    # Joint chance that x passes, and y would then pass and be sound: rows x, columns y.
    both = (passes * weights) @ sound.T
    after_pass = (both * np.maximum(gains[None, :] - np.maximum(gains, proven)[:, None], 0.0)).max(axis=1)
    after_failure = (np.maximum(alone[None, :] - both, 0.0) * over[None, :]).max(axis=1)
    value = alone * over + LATER * (after_pass + after_failure)
    return Worth(passes @ weights, alone, value)

"""What a trial is worth: what it brings if it passes, and what its answer allows to do next.

Improvements that come later count for less, as every trial is an evening; so a bold combination is worth
it only where its failure teaches enough.  A combination that passed one soak may still be unsound; it
counts as an improvement only once that is unlikely, else a longer soak has to follow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LATER = 0.6
"""What an improvement is worth one trial later."""

STEP = 0.95
"""What an improvement is worth for each option that has yet to be changed, one in a trial."""

SOUND = 0.95
"""Settings are sound when they pass a soak test with at least this probability."""

TRUST = 0.8
"""How sure one has to be that settings are sound before one builds on them."""

LONGER = (3, 6, 12)
"""Lengths of a longer soak, in soak tests: from half a day to two days of ordinary use.

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


@dataclass(frozen=True, slots=True)
class Ahead:
    """What may be gone for after a trial, where that is not just another of the combinations on trial.

    Attributes:
        survivals: As of :func:`worth`, by goal and draw.
        gains: Of each goal.
        passed: What a goal's improvement counts for once a trial has passed: rows trials, columns goals.
        failed: What it counts for once the trial has failed; one for each goal.
    """

    survivals: Floats
    gains: Floats
    passed: Floats
    failed: Floats


def worth(
    survivals: Floats,
    soaks: Floats,
    gains: Floats,
    weights: Floats,
    proven: float,
    ahead: Ahead | None = None,
) -> Worth:
    """The value of every combination as the next trial.

    Args:
        survivals: Probability of surviving one soak test, by combination and draw.
        soaks: Length of each trial, in soak tests.
        gains: Speed of each combination over the current settings minus one.
        weights: Of the draws.
        proven: Gain that is proven already.
        ahead: What may come after; None for any of the same combinations, one trial later.
    """
    passes = survivals ** soaks[:, None]
    sound = passes * (survivals >= SOUND)
    odds, alone = passes @ weights, sound @ weights
    over = np.maximum(gains - proven, 0.0)
    trusted = alone >= TRUST * odds
    if ahead is None:
        later = np.full((len(gains), len(gains)), LATER)
        goals, goals_sound, ahead = passes, sound, Ahead(survivals, gains, later, later[0])
        doubted = np.where(np.eye(len(gains), dtype=bool), LATER, LATER**2)
    else:
        goals, goals_sound = ahead.survivals, ahead.survivals * (ahead.survivals >= SOUND)
        doubted = np.full(ahead.passed.shape, LATER)
    # Joint chance that a trial passes, and a goal would then pass (and be sound): rows trials, columns goals.
    met, met_sound = (passes * weights) @ goals.T, (passes * weights) @ goals_sound.T
    missed = np.maximum(goals @ weights - met, 0.0)
    missed_sound = np.maximum(goals_sound @ weights - met_sound, 0.0)
    reached = np.where(trusted, np.maximum(gains, proven), proven)
    beyond = np.maximum(ahead.gains[None, :] - reached[:, None], 0.0)
    after_pass = (ahead.passed * _credited(met_sound, met, doubted) * beyond).max(axis=1, initial=0.0)
    left = np.maximum(ahead.gains - proven, 0.0)
    after_failure = (ahead.failed * _credited(missed_sound, missed, doubted) * left).max(axis=1, initial=0.0)
    return Worth(odds, alone, np.where(trusted, alone * over, 0.0) + after_pass + after_failure)


def _credited(sound: Floats, passes: Floats, doubted: Floats) -> Floats:
    """The chance that something passes and is sound; less where it would have to be confirmed first."""
    return np.where(sound >= TRUST * passes, sound, doubted * sound)


def telling_soak(survival: Floats, weights: Floats, sure: float, lengths: Sequence[int]) -> int | None:
    """The shortest of some *lengths*, in soak tests, that makes one *sure* of what passes it; None if none.

    Args:
        survival: Of one soak test, by draw.
    """
    for length in lengths:
        passed = weights * survival**length
        if passed @ (survival >= SOUND) >= sure * passed.sum():
            return length
    return None

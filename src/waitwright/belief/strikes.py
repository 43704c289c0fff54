"""How often each of many causes strikes, in every draw of a cloud: all of them at once.

Belief asks this thousands of times after every trial, for clouds of all sizes, so what depends on the
causes only is laid out once.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.faults import FaultCause
from waitwright.belief.hazard import STEEPNESS_PS, STEEPNESS_SHARE, log_rate
from waitwright.belief.latents import SURROUNDINGS
from waitwright.belief.mechanisms import AbilityCause, DelayCause, Rated, Scaled

Floats = NDArray[np.float64]

Cause = DelayCause | AbilityCause | FaultCause

NEVER, AT_ONCE = -60.0, 60.0
"""Logarithms of the failure rate where a rating that does not vary is kept, and where it is not."""

_PIECE = 200_000
"""Multiplications that a matrix product may have before the library splits it over threads."""


class Strikes:
    """Failure rates of some causes together."""

    def __init__(self, causes: Sequence[Cause]) -> None:
        """Lay out what does not depend on the draws."""
        self._count = len(causes)
        delays = [(place, one) for place, one in enumerate(causes) if isinstance(one, DelayCause)]
        abilities = [(place, one) for place, one in enumerate(causes) if isinstance(one, AbilityCause)]
        faults = [(place, one) for place, one in enumerate(causes) if isinstance(one, FaultCause)]
        self._delays = _Delays([one for _, one in delays]), [place for place, _ in delays]
        self._abilities = _Abilities([one for _, one in abilities]), [place for place, _ in abilities]
        self._faults = _Faults([one for _, one in faults]), [place for place, _ in faults]

    def log_rates(self, cloud: Cloud) -> Floats:
        """Natural logarithm of the failures per hour, by cause and draw."""
        logs = np.empty((self._count, cloud.draws))
        for laid_out, places in (self._delays, self._abilities, self._faults):
            if places:
                logs[places] = laid_out(cloud)
        return logs


def log_rate_of(cause: Cause, cloud: Cloud) -> Floats:
    """Natural logarithm of the failures per hour of one cause, by draw."""
    rate: Floats = Strikes((cause,)).log_rates(cloud)[0]
    return rate


class _Delays:
    """Budgets: the fixed time less the scaled delays."""

    def __init__(self, causes: Sequence[DelayCause]) -> None:
        terms = list(dict.fromkeys(delay for cause in causes for delay in cause.delays))
        alone = [delay for delay in terms if len(delay.parts) == 1]
        self._shared = [delay for delay in terms if len(delay.parts) > 1]
        self._places = sorted({place for delay in alone for place, _ in delay.parts})
        column = {place: number for number, place in enumerate(self._places)}
        behind = {delay: len(column) + number for number, delay in enumerate(self._shared)}
        self._fixed = np.array([cause.fixed for cause in causes])[:, None]
        self._times = np.zeros((len(causes), len(column) + len(behind)))
        for row, cause in enumerate(causes):
            for delay in cause.delays:
                if delay in behind:
                    self._times[row, behind[delay]] += 1.0
                else:
                    self._times[row, column[delay.parts[0][0]]] += delay.parts[0][1]

    def __call__(self, cloud: Cloud) -> Floats:
        needed = [cloud.factors.T[self._places], *(self._longest(delay, cloud) for delay in self._shared)]
        spent = product(self._times, np.vstack(needed)) * cloud.factor(SURROUNDINGS)
        return log_rate(self._fixed - spent, STEEPNESS_PS)

    def _longest(self, delay: Scaled, cloud: Cloud) -> Floats:
        """Time that the slowest of several parts needs, by draw."""
        times: Floats = np.maximum.reduce([cloud.factors[:, place] * time for place, time in delay.parts])
        return times


class _Abilities:
    """Limits: how far the rating is from being overstepped, as a share of it, at the weakest part."""

    def __init__(self, causes: Sequence[AbilityCause]) -> None:
        self._causes = causes
        self._borne = [row for row, cause in enumerate(causes) if cause.parts]
        parts: list[tuple[Rated, bool]] = []
        self._starts: list[int] = []
        for row in self._borne:
            self._starts.append(len(parts))
            parts += [(part, causes[row].upper) for part in causes[row].parts]
        size = np.array([max(abs(part.rating), 1e-300) for part, _ in parts])[:, None]
        self._upper = np.array([upper for _, upper in parts], dtype=bool)[:, None]
        self._places = [part.place for part, _ in parts]
        self._rating = np.array([part.rating for part, _ in parts])[:, None] / size
        self._value = np.array([part.value for part, _ in parts])[:, None] / size
        self._bare = np.array([[NEVER if cause.held else AT_ONCE] for cause in causes])

    def __call__(self, cloud: Cloud) -> Floats:
        logs = np.repeat(self._bare, cloud.draws, axis=1)
        if self._borne:
            ability = cloud.factors.T[self._places]
            over, under = self._rating * ability - self._value, self._value - self._rating / ability
            shares = np.minimum.reduceat(np.where(self._upper, over, under), self._starts, axis=0)
            logs[self._borne] = log_rate(shares, STEEPNESS_SHARE)
        return logs


class _Faults:
    """Suspects: they strike where they are present."""

    def __init__(self, causes: Sequence[FaultCause]) -> None:
        self._threshold = np.array([cause.threshold for cause in causes])[:, None]
        self._rate = np.log([cause.rate for cause in causes])[:, None]
        self._presence = [cause.presence for cause in causes]
        self._strength = [cause.strength for cause in causes]

    def __call__(self, cloud: Cloud) -> Floats:
        struck = self._rate + np.log(cloud.factors.T[self._strength])
        return np.where(cloud.z.T[self._presence] < self._threshold, struck, NEVER)


def product(left: Floats, right: Floats) -> Floats:
    """The matrix product, in pieces small enough for one thread.

    Products of this size gain nothing from a second thread, and on a busy machine they wait for it.
    """
    width = max(16, _PIECE // max(1, left.size))
    pieces = [left @ right[:, start : start + width] for start in range(0, right.shape[1], width)]
    return np.concatenate(pieces, axis=1)

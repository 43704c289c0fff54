"""The search problem in neutral form: variables, constraints, costs and survivals as tables.

Nothing here knows of clocks or chips.  A table is a numpy array with one axis for each variable of its
scope, indexed by choice numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Variable:
    """One option: how many choices it has and which is the current one."""

    id: str
    size: int
    current: int


@dataclass(frozen=True, slots=True)
class Constraint:
    """Which combinations of the variables in *scope* are legal.  ``allowed``: bool, one axis each."""

    id: str
    scope: tuple[int, ...]
    allowed: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Cost:
    """What a combination of the variables in *scope* costs.  ``values``: int64, one axis each, >= 0."""

    id: str
    scope: tuple[int, ...]
    values: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Survival:
    """How a rule fares in each draw of the cloud.

    Attributes:
        rows: Row of ``draws`` for each combination of *scope*; int, one axis each.
        draws: Probability of surviving by row and draw, float32 in 0..1; row 0 is all ones.
    """

    id: str
    scope: tuple[int, ...]
    rows: NDArray[np.int32]
    draws: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Problem:
    """Minimise the sum of all costs over legal combinations whose odds reach a level.

    The odds of a combination are the weighted mean over the draws of the product of its survivals.
    ``weights`` has one entry for each draw and sums to 1; None where there is no cloud (rated search).
    """

    variables: tuple[Variable, ...]
    constraints: tuple[Constraint, ...]
    costs: tuple[Cost, ...]
    survivals: tuple[Survival, ...] = ()
    weights: NDArray[np.float64] | None = None

    @property
    def tables(self) -> tuple[Constraint | Cost | Survival, ...]:
        """All tables."""
        return (*self.constraints, *self.costs, *self.survivals)

    @property
    def raw_size(self) -> int:
        """How many combinations there are, legal or not."""
        size = 1
        for variable in self.variables:
            size *= variable.size
        return size

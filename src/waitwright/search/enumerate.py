"""Legal combinations of one small group of variables: the only place that imports ``constraint``.

Function constraints over tabulated predicates only, a fresh problem for every call, and a budget of work:
every predicate call counts, inside the predicate, and every combination found.  When it runs out the
search stops and says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from waitwright.errors import WaitwrightError


class BudgetExhausted(WaitwrightError):
    """The agreed amount of work is used up before the search was complete."""


@dataclass(slots=True)
class CallBudget:
    """How many predicate calls, combinations and nodes are left for the whole search."""

    left: int

    def spend(self, count: int = 1) -> None:
        """Count *count* of them.

        Raises:
            BudgetExhausted: when none is left.
        """
        self.left -= count
        if self.left < 0:
            raise BudgetExhausted("the search used up its budget of work")


@dataclass(frozen=True, slots=True)
class LocalConstraint:
    """A constraint on variables of one group, by position in the group."""

    scope: tuple[int, ...]
    allowed: NDArray[np.bool_]


def legal_combinations(
    sizes: Sequence[int], constraints: Sequence[LocalConstraint], budget: CallBudget
) -> NDArray[np.int16]:
    """All legal combinations, as rows of choice numbers in ascending lexicographic order.

    Raises:
        BudgetExhausted: when *budget* runs out; the rows found so far are dropped, for they prove nothing.
    """
    unary = [constraint for constraint in constraints if len(constraint.scope) == 1]
    wider = [constraint for constraint in constraints if len(constraint.scope) > 1]
    domains = [list(range(size)) for size in sizes]
    for constraint in unary:
        position = constraint.scope[0]
        domains[position] = [value for value in domains[position] if constraint.allowed[value]]
    if not all(domains):
        return np.empty((0, len(sizes)), dtype=np.int16)
    if not wider:
        budget.spend(prod(map(len, domains)))  # before they take up memory
        return _product(domains)
    rows = _search(domains, wider, budget)
    return np.array(sorted(rows), dtype=np.int16).reshape(-1, len(sizes))


def _product(domains: Sequence[Sequence[int]]) -> NDArray[np.int16]:
    grids = np.meshgrid(*domains, indexing="ij")
    return np.stack([grid.ravel() for grid in grids], axis=1).astype(np.int16)


def _search(
    domains: Sequence[list[int]], constraints: Sequence[LocalConstraint], budget: CallBudget
) -> list[tuple[int, ...]]:
    import constraint as library

    problem = library.Problem()
    names = [str(position) for position in range(len(domains))]
    for name, domain in zip(names, domains, strict=True):
        problem.addVariable(name, domain)
    for constraint in constraints:
        predicate = library.FunctionConstraint(_tabulated(constraint, budget))
        problem.addConstraint(predicate, [names[position] for position in constraint.scope])
    rows = []
    for solution in problem.getSolutionIter():
        budget.spend()
        rows.append(tuple(solution[name] for name in names))
    return rows


def _tabulated(constraint: LocalConstraint, budget: CallBudget) -> Callable[..., bool]:
    allowed = frozenset(map(tuple, np.argwhere(constraint.allowed).tolist()))

    def holds(*values: int) -> bool:
        budget.spend()
        return values in allowed

    return holds

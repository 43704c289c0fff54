"""Legal combinations of one small group of variables: the only place that imports ``constraint``.

A group hangs together by costs and survivals as well as by constraints; only what constraints tie
together is searched, and the rest is a plain product.

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
from waitwright.search.structure import components


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
    parts = components(range(len(sizes)), [frozenset(constraint.scope) for constraint in wider])
    found = [_part(part, domains, wider, budget) for part in parts]
    budget.spend(prod(map(len, found)))  # before they take up memory
    return _product(parts, found, len(sizes))


def _part(
    part: tuple[int, ...],
    domains: Sequence[Sequence[int]],
    constraints: Sequence[LocalConstraint],
    budget: CallBudget,
) -> NDArray[np.int16]:
    """Legal combinations of variables that constraints tie together; a lone variable needs no search."""
    if len(part) == 1:
        return np.array(domains[part[0]], dtype=np.int16).reshape(-1, 1)
    inside = [
        LocalConstraint(tuple(part.index(place) for place in constraint.scope), constraint.allowed)
        for constraint in constraints
        if constraint.scope[0] in part
    ]
    rows = _search([list(domains[place]) for place in part], inside, budget)
    return np.array(rows, dtype=np.int16).reshape(-1, len(part))


def _product(
    parts: Sequence[tuple[int, ...]], found: Sequence[NDArray[np.int16]], width: int
) -> NDArray[np.int16]:
    """Every combination of one row of each part, in ascending lexicographic order."""
    grids = np.meshgrid(*(np.arange(len(rows)) for rows in found), indexing="ij")
    product = np.empty((grids[0].size, width), dtype=np.int16)
    for part, rows, grid in zip(parts, found, grids, strict=True):
        product[:, list(part)] = rows[grid.ravel()]
    return product[np.lexsort(product.T[::-1])]


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

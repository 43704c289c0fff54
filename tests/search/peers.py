"""Other programs that answer the same question: an integer optimiser, and the constraint library by itself.

They know nothing of conditions or groups.  Tables go in whole, but for options that change nothing in them:
these would only make the others look slow.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from waitwright.search.problem import Problem

_Scalar = TypeVar("_Scalar", bound=np.generic)
Scope = tuple[int, ...]


class Optimiser:
    """A problem without its survivals as an integer model: legal combinations and their cost."""

    def __init__(self, problem: Problem) -> None:
        """Every constraint and every cost becomes a table of allowed rows."""
        from ortools.sat.python import cp_model

        self._cp = cp_model
        self._problem = problem
        self._model: Any = cp_model.CpModel()
        self._variables = [
            self._model.new_int_var(0, variable.size - 1, variable.id) for variable in problem.variables
        ]
        for constraint in problem.constraints:
            scope, allowed = _without_inert(constraint.scope, constraint.allowed)
            if not allowed.all():
                self._allow(scope, np.argwhere(allowed).tolist())
        self._total = sum(self._cost(cost.id, cost.scope, cost.values) for cost in problem.costs)

    def _allow(self, scope: Scope, rows: Sequence[Sequence[int]], *more: Any) -> None:
        self._model.add_allowed_assignments([*(self._variables[v] for v in scope), *more], rows)

    def _cost(self, name: str, whole: Scope, table: NDArray[np.int64]) -> Any:
        scope, values = _without_inert(whole, table)
        if not scope:
            return int(values)
        term = self._model.new_int_var(int(values.min()), int(values.max()), name)
        indices = product(*map(range, values.shape))
        self._allow(scope, [(*index, int(values[index])) for index in indices], term)
        return term

    def costs(self, count: int) -> list[int]:
        """The *count* lowest costs, ascending: each answer is forbidden, and all that costs no more."""
        self._model.minimize(self._total)
        found: list[int] = []
        while len(found) < count and (cost := self._solve()) is not None:
            found.append(cost)
            self._model.add(self._total > cost)
        return found

    def any_cost_between(self, listed: Sequence[int]) -> int | None:
        """A cost below the last one of *listed* (ascending) that is not listed; None if none is."""
        gaps = [(before + 1, after - 1) for before, after in zip([-1, *listed], listed, strict=False)]
        intervals = [gap for gap in gaps if gap[0] <= gap[1]]
        self._model.add_linear_expression_in_domain(self._total, self._cp.Domain.from_intervals(intervals))
        return self._solve()

    def _solve(self) -> int | None:
        solver = self._cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        status = solver.solve(self._model)
        if status == self._cp.INFEASIBLE:
            return None
        if status not in {self._cp.OPTIMAL, self._cp.FEASIBLE}:
            raise RuntimeError(solver.status_name(status))
        values = [solver.value(variable) for variable in self._variables]
        return sum(int(c.values[tuple(values[v] for v in c.scope)]) for c in self._problem.costs)


def flat_search(problem: Problem) -> list[int]:
    """Costs of all legal combinations, ascending, from one problem of the constraint library."""
    import constraint as library

    flat = library.Problem()
    for number, variable in enumerate(problem.variables):
        flat.addVariable(str(number), list(range(variable.size)))
    for constraint in problem.constraints:
        scope, table = _without_inert(constraint.scope, constraint.allowed)
        if not table.all():
            allowed = frozenset(map(tuple, np.argwhere(table).tolist()))
            predicate = library.FunctionConstraint(lambda *values, allowed=allowed: values in allowed)
            flat.addConstraint(predicate, [str(v) for v in scope])
    costs = [_without_inert(cost.scope, cost.values) for cost in problem.costs]
    lists = [([str(v) for v in scope], values.tolist()) for scope, values in costs]
    return sorted(
        sum(_entry(values, [solution[name] for name in names]) for names, values in lists)
        for solution in flat.getSolutionIter()
    )


def _entry(table: Any, index: Sequence[int]) -> int:
    for place in index:
        table = table[place]
    return int(table)


def _without_inert(scope: Scope, table: NDArray[_Scalar]) -> tuple[Scope, NDArray[_Scalar]]:
    """A table without the variables that change nothing in it."""
    kept: list[int] = []
    for variable in scope:
        axis = len(kept)
        first = table.take([0], axis=axis)
        if np.array_equal(np.broadcast_to(first, table.shape), table):
            table = np.asarray(table.take(0, axis=axis))
        else:
            kept.append(variable)
    return tuple(kept), table

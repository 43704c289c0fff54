"""Problems of every shape that the search may meet, small enough to go through one by one.

Hypothesis chooses how much of everything there is; what it looks like comes from one random number, drawn
from few values, so that ties, inert variables and choices that beat each other are common.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from waitwright.search.problem import Constraint, Cost, Problem, Survival, Variable

Scope = tuple[int, ...]


@st.composite
def problems(
    draw: st.DrawFn, *, cloud: bool = True, most: int = 400, least: int = 20, roomy: bool = False
) -> Problem:
    """A problem of *least* to *most* raw combinations.

    Args:
        roomy: Only few combinations are illegal.
    """
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    sizes = _sizes(rng, most, least)
    tables = _Tables(sizes, rng)
    shares = [0.95, 0.99] if roomy else [0.5, 0.8, 0.9, 1.0]
    constraints = tuple(tables.constraint(shares) for _ in range(draw(st.integers(0, 5))))
    costs = tuple(tables.cost() for _ in range(draw(st.integers(1, 6))))
    variables = tuple(
        Variable(f"v{place}", size, int(rng.integers(0, size))) for place, size in enumerate(sizes)
    )
    if not cloud:
        return Problem(variables, constraints, costs)
    draws = draw(st.integers(8, 64))
    survivals = tuple(tables.survival(draws) for _ in range(draw(st.integers(1, 5))))
    return Problem(variables, constraints, costs, survivals, tables.weights(draws))


def _sizes(rng: np.random.Generator, most: int, least: int) -> list[int]:
    """Sizes of two to four whose product lies between *least* and *most*, with a variable of one or two."""
    sizes: list[int] = []
    while (product := int(np.prod(sizes, dtype=int))) < least or rng.random() < 0.7:
        size = int(rng.integers(2, 5))
        if product * size > most:
            break
        sizes.append(size)
    return [1, *sizes] if rng.random() < 0.1 else sizes


def levels() -> st.SearchStrategy[float]:
    """Odds to ask for: any, and often such as a few combinations reach."""
    return st.one_of(st.just(0.0), st.floats(0.0, 0.99), st.sampled_from([0.05, 0.3, 0.6, 0.9]))


class _Tables:
    """Makes tables for variables of some sizes, several of them on one scope."""

    def __init__(self, sizes: Sequence[int], rng: np.random.Generator) -> None:
        self._sizes = sizes
        self._rng = rng
        self._made = 0
        self._scopes = [self._scope() for _ in range(rng.integers(1, 7))]

    def constraint(self, shares: Sequence[float]) -> Constraint:
        """Allows about one of *shares* of all."""
        scope = self._some_scope()
        allowed = np.asarray(self._rng.random(self._shape(scope)) < self._rng.choice(shares))
        return Constraint(self._name(), scope, allowed)

    def cost(self) -> Cost:
        """Costs from few or many values, all zero now and then, or the same for all choices of a variable."""
        scope = self._some_scope()
        reach = self._rng.choice([1, 3, 5, 1000, 1000, 10**9])
        values: NDArray[np.int64] = np.asarray(self._rng.integers(0, reach, self._shape(scope)))
        if scope and self._rng.random() < 0.2:
            values = np.broadcast_to(values[:1], values.shape).copy()
        return Cost(self._name(), scope, values)

    def survival(self, draws: int) -> Survival:
        """Row 0 is safe; of the others some go down in steps, some are hopeless, some are like no other."""
        scope, rows = self._some_scope(), int(self._rng.integers(1, 6))
        table = np.ones((rows + 1, draws))
        base = self._rng.random(draws)
        for row in range(1, rows + 1):
            kind = self._rng.integers(0, 5)
            if kind == 0:
                table[row] = self._rng.random(draws) < 0.7
            elif kind == 1:
                table[row] = 1 - 0.2 * self._rng.random(draws)
            else:
                table[row] = base ** (row / 8)
        used = np.asarray(self._rng.integers(0, rows + 1, self._shape(scope)), dtype=np.int32)
        return Survival(self._name(), scope, used, table.astype(np.float32))

    def weights(self, draws: int) -> NDArray[np.float64]:
        """Weights that sum to 1: equal, or any, some of them 0."""
        if self._rng.random() < 0.3:
            return np.full(draws, 1 / draws)
        weights = self._rng.exponential(size=draws)
        weights[self._rng.integers(0, draws, draws // 4)] = 0
        total: float = weights.sum()
        return np.asarray(weights / total)

    def _scope(self) -> Scope:
        """Up to four variables, in any order."""
        size = min(self._rng.choice([0, 1, 1, 2, 2, 2, 3, 3, 4]), len(self._sizes))
        return tuple(self._rng.permutation(len(self._sizes))[:size].tolist())

    def _some_scope(self) -> Scope:
        return (
            self._scopes[self._rng.integers(len(self._scopes))] if self._rng.random() < 0.5 else self._scope()
        )

    def _name(self) -> str:
        self._made += 1
        return f"table-{self._made}"

    def _shape(self, scope: Scope) -> tuple[int, ...]:
        return tuple(self._sizes[variable] for variable in scope)


@st.composite
def shuffled(draw: st.DrawFn, problem: Problem) -> Problem:
    """*problem* with its tables in another order, and the axes of each turned."""

    def turned(scope: Scope) -> tuple[Scope, Scope]:
        order = draw(st.permutations(range(len(scope))))
        return tuple(scope[axis] for axis in order), tuple(order)

    constraints = []
    for one in draw(st.permutations(problem.constraints)):
        scope, order = turned(one.scope)
        constraints.append(Constraint(one.id, scope, one.allowed.transpose(order)))
    costs = []
    for cost in draw(st.permutations(problem.costs)):
        scope, order = turned(cost.scope)
        costs.append(Cost(cost.id, scope, cost.values.transpose(order)))
    survivals = []
    for survival in draw(st.permutations(problem.survivals)):
        scope, order = turned(survival.scope)
        survivals.append(Survival(survival.id, scope, survival.rows.transpose(order), survival.draws))
    return Problem(problem.variables, tuple(constraints), tuple(costs), tuple(survivals), problem.weights)

"""Problems of any size that fall apart into small groups, as machines do."""

from __future__ import annotations

import numpy as np

from waitwright.search.problem import Constraint, Cost, Problem, Variable


def synthetic(variables: int, group: int, seed: int = 0) -> Problem:
    """Two options that touch everything, and small groups of *group* others, tied in pairs."""
    rng = np.random.default_rng(seed)
    sizes = [2 + n % 3 for n in range(variables)]
    constraints, costs = [], []
    for first in range(2, variables, group):
        members = range(first, min(first + group, variables))
        for number, one in enumerate(members):
            other = members[(number + 1) % len(members)]
            scope = (one, other) if one != other else (one,)
            shape = tuple(sizes[v] for v in scope)
            constraints.append(Constraint(f"pair-{one}", scope, rng.random(shape) < 0.85))
            with_hub = (int(rng.integers(0, 2)), *scope)
            reach = rng.choice([4, 40, 4000])
            values = rng.integers(0, reach, tuple(sizes[v] for v in with_hub))
            costs.append(Cost(f"cost-{one}", with_hub, values))
    options = tuple(Variable(f"v{n}", size, 0) for n, size in enumerate(sizes))
    return Problem(options, tuple(constraints), tuple(costs))

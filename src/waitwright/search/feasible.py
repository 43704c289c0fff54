"""Can some choices stand together, whatever the others are?  Asked many times about one problem.

The problem is taken apart once; what a group may do under each condition is worked out when first needed.
The answer is yes, no, or unknown when the budget of work ran out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from waitwright.search.enumerate import BudgetExhausted, CallBudget, LocalConstraint, legal_combinations
from waitwright.search.problem import Constraint, Problem
from waitwright.search.structure import Structure, take_apart

_DENSE = 1_000_000
"""Groups with at most so many raw combinations are tabulated at once; larger ones are searched."""

Held = Mapping[int, int]
"""Variables and the choice that each is held at."""


class Feasibility:
    """Answers whether the constraints of *problem* leave a combination with some choices held."""

    def __init__(self, problem: Problem, budget: CallBudget) -> None:
        """Take the problem apart; costs and survivals play no part."""
        bare = replace(problem, costs=(), survivals=(), weights=None)
        structure = take_apart(bare)
        self._budget = budget
        self._conditions = structure.conditions
        self._sizes = [variable.size for variable in problem.variables]
        constraints = structure.problem.constraints
        self._settled = [c for c in constraints if set(c.scope) <= set(structure.conditions)]
        self._groups = [_Group(group, structure, self._sizes) for group in structure.groups]
        self._open: list[dict[int, int]] | None = None

    def stands(self, held: Held) -> bool | None:
        """Whether a combination with *held* exists; None when that could not be found out."""
        try:
            return any(
                all(group.allows(condition, held, self._budget) for group in self._groups)
                for condition in self._conditions_with(held)
            )
        except BudgetExhausted:
            return None

    def count(self) -> int | None:
        """How many combinations the constraints leave; None when that could not be found out."""
        inside = {variable for group in self._groups for variable in group.variables}
        free = prod(
            size
            for variable, size in enumerate(self._sizes)
            if variable not in inside and variable not in self._conditions
        )
        try:
            return free * sum(
                prod(group.count(condition, self._budget) for group in self._groups)
                for condition in self._conditions_with({})
            )
        except BudgetExhausted:
            return None

    def _conditions_with(self, held: Held) -> Iterator[dict[int, int]]:
        """Assignments of the conditioning variables that no constraint on them alone forbids."""
        if self._open is None:
            legal = []
            for values in product(*(range(self._sizes[variable]) for variable in self._conditions)):
                self._budget.spend()
                condition = dict(zip(self._conditions, values, strict=True))
                if all(c.allowed[tuple(condition[v] for v in c.scope)] for c in self._settled):
                    legal.append(condition)
            self._open = legal  # only once it is whole: the budget may run out on the way
        for condition in self._open:
            if all(held.get(variable, value) == value for variable, value in condition.items()):
                yield condition


class _Group:
    """One independent group: which of its choices are legal under each condition."""

    def __init__(self, variables: tuple[int, ...], structure: Structure, sizes: Sequence[int]) -> None:
        members = frozenset(variables)
        self.variables = variables
        self._shape = tuple(sizes[variable] for variable in variables)
        self._constraints = [c for c in structure.problem.constraints if members & frozenset(c.scope)]
        touched = frozenset().union(*(c.scope for c in self._constraints))
        self._near = tuple(variable for variable in structure.conditions if variable in touched)
        self._rows: dict[tuple[int, ...], NDArray[np.int16] | NDArray[np.bool_]] = {}
        self._answers: dict[tuple[tuple[int, ...], tuple[int, ...]], bool] = {}

    def allows(self, condition: Held, held: Held, budget: CallBudget) -> bool:
        """Whether the group has a legal combination with *held* under *condition*.

        Raises:
            BudgetExhausted: when *budget* runs out.
        """
        near = tuple(condition[variable] for variable in self._near)
        own = tuple(held.get(variable, -1) for variable in self.variables)
        key = (near, own)
        if key not in self._answers:
            budget.spend()
            self._answers[key] = self._look_up(near, own, budget)
        return self._answers[key]

    def count(self, condition: Held, budget: CallBudget) -> int:
        """How many legal combinations the group has under *condition*.

        Raises:
            BudgetExhausted: when *budget* runs out.
        """
        near = tuple(condition[variable] for variable in self._near)
        rows = self._legal_under(near, budget)
        return int(rows.sum()) if rows.dtype == np.bool_ else len(rows)

    def _legal_under(
        self, near: tuple[int, ...], budget: CallBudget
    ) -> NDArray[np.int16] | NDArray[np.bool_]:
        if near not in self._rows:
            budget.spend()
            self._rows[near] = self._legal(dict(zip(self._near, near, strict=True)), budget)
        return self._rows[near]

    def _look_up(self, near: tuple[int, ...], own: Sequence[int], budget: CallBudget) -> bool:
        rows = self._legal_under(near, budget)
        if rows.dtype == np.bool_:
            return bool(rows[tuple(slice(None) if value < 0 else value for value in own)].any())
        columns = [place for place, value in enumerate(own) if value >= 0]
        wanted = [own[place] for place in columns]
        return bool((rows[:, columns] == wanted).all(axis=1).any())

    def _legal(self, condition: Held, budget: CallBudget) -> NDArray[np.int16] | NDArray[np.bool_]:
        """A table with one axis for each variable of the group, or the legal rows of a large one."""
        reduced = [reduce_constraint(constraint, condition) for constraint in self._constraints]
        places = [tuple(self.variables.index(variable) for variable in c.scope) for c in reduced]
        size = int(np.prod(self._shape, dtype=np.int64))
        if size > _DENSE:
            local = [LocalConstraint(where, c.allowed) for where, c in zip(places, reduced, strict=True)]
            return legal_combinations(self._shape, local, budget)
        table = np.ones(self._shape, dtype=bool)
        for where, constraint in zip(places, reduced, strict=True):
            order = np.argsort(where)
            shape = [1] * len(self._shape)
            for place in where:
                shape[place] = self._shape[place]
            table &= constraint.allowed.transpose(order).reshape(shape)
        return table


def reduce_constraint(constraint: Constraint, held: Held) -> Constraint:
    """What is left of *constraint* with some variables held: a table over the other ones."""
    index = tuple(held.get(variable, slice(None)) for variable in constraint.scope)
    scope = tuple(variable for variable in constraint.scope if variable not in held)
    return Constraint(constraint.id, scope, np.asarray(constraint.allowed[index]))


def reduce_all(constraints: Iterable[Constraint], held: Held) -> tuple[Constraint, ...]:
    """What is left of *constraints*; those that *held* satisfies whatever else is chosen are left out."""
    reduced = (reduce_constraint(constraint, held) for constraint in constraints)
    return tuple(constraint for constraint in reduced if not constraint.allowed.all())

"""The shape of a problem: tables trimmed to what they depend on, conditioning, independent groups.

A few options touch everything (host clock, automatic mode).  Once they are fixed, the rest falls
apart into groups that share no table; each group is small, and together they are the whole space.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from math import prod
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from waitwright.search.problem import Constraint, Cost, Problem, Survival

_ENOUGH = 20_000
"""Estimated number of enumerated rows below which further conditioning does not pay."""

_WORTHWHILE = 0.9
"""A variable is fixed first only if that cuts the estimated work to this share or less."""

Table = TypeVar("Table", bound=Constraint | Cost | Survival)
_Scalar = TypeVar("_Scalar", bound=np.generic)


@dataclass(frozen=True, slots=True)
class Structure:
    """How a problem is taken apart.

    Attributes:
        conditions: Variables that are fixed first.
        groups: The other variables that some table touches, in independent groups.
        free: Variables that no table touches; they stay as they are.
        problem: The problem with trimmed tables.
    """

    conditions: tuple[int, ...]
    groups: tuple[tuple[int, ...], ...]
    free: tuple[int, ...]
    problem: Problem


def take_apart(problem: Problem) -> Structure:
    """Trim all tables, choose the conditioning variables and split the rest into groups."""
    trimmed = trim(problem)
    sizes = [variable.size for variable in problem.variables]
    scopes = [frozenset(table.scope) for table in trimmed.tables]
    touched = sorted(frozenset().union(*scopes))
    scopes = _widest(scopes)
    conditions = _choose_conditions(tuple(touched), tuple(scopes), tuple(sizes))
    groups = components([v for v in touched if v not in conditions], scopes)
    free = tuple(index for index in range(len(sizes)) if index not in touched)
    return Structure(tuple(sorted(conditions)), groups, free, trimmed)


def trim(problem: Problem) -> Problem:
    """The problem with each table's scope cut down to the variables that it really depends on."""
    return replace(
        problem,
        constraints=tuple(_trim_constraints(problem.constraints)),
        costs=tuple(_trim_costs(problem.costs)),
        survivals=tuple(_trim_survivals(problem.survivals)),
    )


def _needed_axes(array: NDArray[_Scalar]) -> tuple[int, ...]:
    """Axes along which the table really changes."""
    return tuple(
        axis
        for axis in range(array.ndim)
        if array.shape[axis] > 1 and not (array == array.take([0], axis=axis)).all()
    )


def _cut(array: NDArray[_Scalar], axes: Sequence[int]) -> NDArray[_Scalar]:
    """The table without the axes that it does not depend on."""
    index = tuple(slice(None) if axis in axes else 0 for axis in range(array.ndim))
    return np.array(array[index])


def _trim_constraints(constraints: Iterable[Constraint]) -> Iterable[Constraint]:
    for constraint in constraints:
        if constraint.allowed.all():
            continue
        axes = _needed_axes(constraint.allowed)
        yield Constraint(
            constraint.id, tuple(constraint.scope[a] for a in axes), _cut(constraint.allowed, axes)
        )


def _trim_costs(costs: Iterable[Cost]) -> Iterable[Cost]:
    for cost in costs:
        axes = _needed_axes(cost.values)
        yield Cost(cost.id, tuple(cost.scope[a] for a in axes), _cut(cost.values, axes))


def _trim_survivals(survivals: Iterable[Survival]) -> Iterable[Survival]:
    for survival in survivals:
        if not survival.rows.any():
            continue
        axes = _needed_axes(survival.rows)
        yield replace(survival, scope=tuple(survival.scope[a] for a in axes), rows=_cut(survival.rows, axes))


def components(variables: Sequence[int], scopes: Iterable[frozenset[int]]) -> tuple[tuple[int, ...], ...]:
    """Connected components of *variables* under *scopes*, each ascending, by smallest member."""
    leader = {variable: variable for variable in variables}

    def find(variable: int) -> int:
        while leader[variable] != variable:
            leader[variable] = leader[leader[variable]]
            variable = leader[variable]
        return variable

    for scope in scopes:
        inside = [variable for variable in scope if variable in leader]
        for other in inside[1:]:
            first, second = sorted((find(inside[0]), find(other)))
            leader[second] = first
    groups: dict[int, list[int]] = {}
    for variable in variables:
        groups.setdefault(find(variable), []).append(variable)
    return tuple(tuple(sorted(group)) for _, group in sorted(groups.items()))


def _widest(scopes: Iterable[frozenset[int]]) -> list[frozenset[int]]:
    """The scopes that lie within no other: they alone decide what hangs together."""
    kept: list[frozenset[int]] = []
    for scope in sorted(set(scopes), key=lambda one: (-len(one), sorted(one))):
        if not any(scope <= wider for wider in kept):
            kept.append(scope)
    return kept


# Machines that differ in a part have mostly the same shape.
@lru_cache(maxsize=64)
def _choose_conditions(
    touched: tuple[int, ...], scopes: tuple[frozenset[int], ...], sizes: tuple[int, ...]
) -> frozenset[int]:
    """Greedy choice: fix the variable that makes the remaining work smallest, while that helps.

    When no single variable helps, a pair may (two options that hold two groups together), so pairs are
    tried before giving up on a large rest.
    """
    chosen: frozenset[int] = frozenset()
    work = _work(chosen, touched, scopes, sizes)
    while work > _ENOUGH:
        rest = [variable for variable in touched if variable not in chosen]
        for size in (1, 2):
            trials = [chosen | frozenset(added) for added in combinations(rest, size)]
            priced = [(_work(trial, touched, scopes, sizes), sorted(trial), trial) for trial in trials]
            least, _, best = min(priced, default=(work, [], chosen))
            if least < _WORTHWHILE * work:
                break
        else:
            break
        chosen, work = best, least
    return chosen


def _work(
    chosen: frozenset[int], touched: Sequence[int], scopes: Sequence[frozenset[int]], sizes: Sequence[int]
) -> int:
    """Rows to enumerate at most when *chosen* are fixed first.

    A group is enumerated once for each assignment of the chosen variables that share a table with it.
    """
    rest = [variable for variable in touched if variable not in chosen]
    total = prod(sizes[variable] for variable in chosen)
    for group in components(rest, scopes):
        members = frozenset(group)
        near = frozenset().union(*(scope for scope in scopes if scope & members)) & chosen
        total += prod(sizes[variable] for variable in near) * prod(sizes[variable] for variable in group)
    return total

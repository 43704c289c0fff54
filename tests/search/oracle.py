"""Every combination of a problem, one after the other: what the search must answer, found the long way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from math import isclose

import numpy as np

from waitwright.search.bestfirst import Combination
from waitwright.search.problem import Problem
from waitwright.search.topk import NOTICEABLE

CLOSE = 1e-6
"""Odds are multiplied in single precision by the search, in double precision here."""


class TooClose(Exception):
    """Odds lie so near to a level that rounding decides; such an example proves nothing."""


def raw_combinations(problem: Problem) -> Iterator[tuple[int, ...]]:
    """All combinations, legal or not."""
    return product(*(range(variable.size) for variable in problem.variables))


def is_legal(problem: Problem, values: Sequence[int]) -> bool:
    """Whether every constraint allows *values*."""
    return all(c.allowed[tuple(values[v] for v in c.scope)] for c in problem.constraints)


def cost_of(problem: Problem, values: Sequence[int]) -> int:
    """The sum of all costs of *values*."""
    return sum(int(c.values[tuple(values[v] for v in c.scope)]) for c in problem.costs)


def odds_of(problem: Problem, values: Sequence[int]) -> float:
    """The weighted mean over the draws of the product of all survivals of *values*; 1 without a cloud."""
    if problem.weights is None:
        return 1.0
    whole = np.ones(len(problem.weights))
    for survival in problem.survivals:
        whole = whole * survival.draws[survival.rows[tuple(values[v] for v in survival.scope)]]
    return float(problem.weights @ whole)


def changes_of(problem: Problem, values: Sequence[int]) -> int:
    """How many variables are not at their current choice."""
    return sum(value != variable.current for value, variable in zip(values, problem.variables, strict=True))


def legal(problem: Problem) -> list[Combination]:
    """All legal combinations, cheapest first."""
    found = [
        Combination(values, cost_of(problem, values), odds_of(problem, values), changes_of(problem, values))
        for values in raw_combinations(problem)
        if is_legal(problem, values)
    ]
    return sorted(found, key=lambda one: one.cost)


def reaching(combinations: Iterable[Combination], level: float) -> list[Combination]:
    """Those of *combinations* whose odds reach *level*.

    Raises:
        TooClose: if rounding decides.
    """
    kept = []
    for one in combinations:
        if abs(one.odds - level) < CLOSE and one.odds != 1.0:
            raise TooClose
        if one.odds >= level:
            kept.append(one)
    return kept


def speeds(combinations: Iterable[Combination], apart: int) -> list[list[Combination]]:
    """Combinations, cheapest first, as classes of equal speed: less than *apart* above the first one."""
    classes: list[list[Combination]] = []
    for one in combinations:
        if classes and one.cost < classes[-1][0].cost + apart:
            classes[-1].append(one)
        else:
            classes.append([one])
    return classes


def trade_off(combinations: Sequence[Combination], least: float) -> list[list[Combination]]:
    """For each cost at which something is noticeably safer than all before: what reaches the level there.

    Raises:
        TooClose: if rounding decides.
    """
    level, found = least, []
    for one_cost in speeds(combinations, 1):
        members = reaching(one_cost, level)
        if members:
            found.append(members)
            level = max(level, max(one.odds for one in members) + NOTICEABLE)
    return found


def is_preferred(chosen: Combination, members: Iterable[Combination]) -> bool:
    """Whether *chosen* is one of *members* and none of them is to be preferred to it for certain.

    Odds in percent come first, then fewest changes, then odds, then cost.
    """
    members = list(members)
    return any(_same(chosen, one) for one in members) and not any(_better(one, chosen) for one in members)


def _same(chosen: Combination, one: Combination) -> bool:
    alike = (chosen.values, chosen.cost, chosen.changes) == (one.values, one.cost, one.changes)
    return alike and isclose(chosen.odds, one.odds, rel_tol=0, abs_tol=CLOSE)


def _better(one: Combination, chosen: Combination) -> bool:
    """Whether *one* goes before *chosen* however the odds of both are rounded."""
    percents = [_percents(one.odds), _percents(chosen.odds)]
    if min(percents[0]) > max(percents[1]):
        return True
    if len(percents[0] | percents[1]) > 1:
        return False
    if one.changes != chosen.changes:
        return one.changes < chosen.changes
    if abs(one.odds - chosen.odds) > 3 * CLOSE:
        return one.odds > chosen.odds
    return one.odds == chosen.odds == 1.0 and one.cost < chosen.cost


def _percents(odds: float) -> set[float]:
    return {round(odds - CLOSE, 2), round(odds, 2), round(odds + CLOSE, 2)}


def found(problem: Problem, values: tuple[int, ...]) -> Combination:
    """*values* with their own figures."""
    return Combination(
        values, cost_of(problem, values), odds_of(problem, values), changes_of(problem, values)
    )

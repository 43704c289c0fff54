"""The k fastest combinations, each speed once, and the trade-off of speed against odds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from waitwright.search.bestfirst import BestFirst, Combination, Effort, Level, SearchObserver
from waitwright.search.enumerate import BudgetExhausted, CallBudget
from waitwright.search.problem import Constraint, Problem
from waitwright.search.structure import Structure, take_apart

DEFAULT_BUDGET = 5_000_000
"""Predicate calls, combinations of groups and nodes that a search may use before it answers "unknown"."""

NOTICEABLE = 0.0005
"""Odds that differ by less are the same to a reader."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """The answer of a search.

    Attributes:
        best: Fastest first; every speed once, as its preferred combination.
        proven: True when nothing faster can exist beside the list.
        bound: Proven lower bound of the cost of everything not listed, when ``proven`` is False.
        groups: Sizes of the independent groups.
    """

    best: tuple[Combination, ...]
    proven: bool
    bound: int
    effort: Effort
    groups: tuple[int, ...]


def preference(combination: Combination) -> tuple[float, int, float, int, tuple[int, ...]]:
    """Sort key among combinations of equal speed: odds in percent, fewest changes, odds, cost, choice order.

    Odds are compared to six places, for beyond these they depend on the order of multiplication.
    """
    odds = combination.odds
    return (-round(odds, 2), combination.changes, -round(odds, 6), combination.cost, combination.values)


def hold(problem: Problem, fixed: Mapping[int, int]) -> Problem:
    """The problem with some variables held at a choice."""
    extra = []
    for variable, value in fixed.items():
        allowed = np.zeros(problem.variables[variable].size, dtype=bool)
        allowed[value] = True
        extra.append(Constraint(f"held.{problem.variables[variable].id}", (variable,), allowed))
    return replace(problem, constraints=(*problem.constraints, *extra))


def fastest(
    problem: Problem,
    *,
    count: int,
    odds: float = 0.0,
    apart: int = 1,
    budget: int = DEFAULT_BUDGET,
    observer: SearchObserver | None = None,
) -> Ranking:
    """The *count* fastest combinations whose odds reach *odds*, each speed once.

    Costs closer than *apart* to the first of their set count as one speed: the set is shown as its
    preferred member (:func:`preference`).  With ``apart=1`` these are the exactly equal ones.  Without a
    cloud *odds* is ignored.  The answer does not depend on the order of tables.
    """
    structure = take_apart(problem)
    only_costs_decide = problem.weights is None and apart == 1
    search = BestFirst(
        structure,
        Level(odds),
        CallBudget(budget),
        keep=count if only_costs_decide else None,
        observer=observer,
    )
    best: list[Combination] = []
    start = 0
    proven = True
    try:
        for combination in search:
            if best and combination.cost < start + apart:
                best[-1] = min(best[-1], combination, key=preference)
            elif len(best) == count:
                break
            else:
                start = combination.cost
                best.append(combination)
    except BudgetExhausted:
        proven = False
    return Ranking(tuple(best), proven, search.bound, search.effort, _group_sizes(structure))


def first(
    problem: Problem, *, odds: float, at_most: int | None = None, budget: int = DEFAULT_BUDGET
) -> Combination | None:
    """The preferred one of the very fastest combinations whose odds reach *odds*; None where none does.

    Args:
        at_most: Cost of a combination that reaches them, where one is known; saves most of the time.

    Raises:
        BudgetExhausted: when *budget* runs out.
    """
    # On the frontier a choice gives way to a faster one as safe, and of equally fast ones one stays that
    # changes least.
    search = BestFirst(
        take_apart(problem), Level(odds), CallBudget(budget), listing="frontier", at_most=at_most
    )
    best: Combination | None = None
    for combination in search:
        best = combination if best is None else min(best, combination, key=preference)
        search.at_most = best.cost
    return best


def frontier(
    problem: Problem,
    *,
    least_odds: float,
    budget: int = DEFAULT_BUDGET,
    observer: SearchObserver | None = None,
) -> Ranking:
    """Combinations than which none is both faster and safer, from the fastest up to the safest.

    Each is safer than anything faster by a step that a reader could notice (:data:`NOTICEABLE`), and is
    the preferred one of its cost (:func:`preference`).
    """
    structure = take_apart(problem)
    level = Level(least_odds)
    search = BestFirst(structure, level, CallBudget(budget), listing="frontier", observer=observer)
    best: list[Combination] = []
    proven = True
    try:
        for combination in search:
            if best and combination.cost == best[-1].cost:
                best[-1] = min(best[-1], combination, key=preference)
            else:
                best.append(combination)
            level.rise(combination.cost, combination.odds + NOTICEABLE)
    except BudgetExhausted:
        proven = False
    return Ranking(tuple(best), proven, search.bound, search.effort, _group_sizes(structure))


def _group_sizes(structure: Structure) -> tuple[int, ...]:
    return tuple(len(group) for group in structure.groups)

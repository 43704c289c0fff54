"""The menu of a problem: what is worth choosing whatever the odds turn out to be.

A search spends nearly all of its time on enumerating legal choices, and that does not depend on belief.
The menu does it once: for each condition and group it keeps the choices that nothing beats.  With it the
same question is asked again in a fraction of the time, after every trial, over a new cloud.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from waitwright.search.bestfirst import without_hopeless
from waitwright.search.enumerate import CallBudget, LocalConstraint, legal_combinations
from waitwright.search.groups import Group
from waitwright.search.problem import Problem
from waitwright.search.structure import Structure, take_apart, trim
from waitwright.search.topk import DEFAULT_BUDGET

Floats = NDArray[np.float32]
Places = NDArray[np.intp]
Pick = tuple[int, ...]
_Partial = tuple[int, Floats, Pick]
"""Cost, survival by draw and pick."""

_OUT_OF_REACH = np.iinfo(np.int64).max // 64
"""Cost of a choice that does not hold; a sum of them over all groups is still a number."""


@dataclass(frozen=True, slots=True)
class _Course:
    """The choices of one group.

    Attributes:
        variables: The group's variables.
        rows: Choice numbers of these variables, a line for each choice under each condition that matters.
        behind: Place of a condition under which each line stands.
        place: Line for each condition and position; -1 where a condition has fewer choices.
    """

    variables: tuple[int, ...]
    rows: NDArray[np.int16]
    behind: Places
    place: Places


class Menu:
    """The choices of a problem that are worth having under some odds."""

    def __init__(self, problem: Problem, *, least: float, budget: int = DEFAULT_BUDGET) -> None:
        """Enumerate once; choices that are beaten in all draws, or have odds below *least*, are left out.

        Raises:
            BudgetExhausted: when *budget* runs out.
        """
        structure = take_apart(without_hopeless(problem, least))
        calls = CallBudget(budget)
        groups = [
            Group(group, structure.conditions, structure.problem, listing="frontier")
            for group in structure.groups
        ]
        legal = _conditions(structure, calls)
        open_ones = [row for row in legal if all(_choices(group, structure, row, calls) for group in groups)]
        self._current = tuple(variable.current for variable in problem.variables)
        self._fixed = structure.conditions
        self._conditions = np.array(open_ones, dtype=np.intp).reshape(len(open_ones), len(self._fixed))
        self._courses = [_course(group, structure, self._conditions, calls) for group in groups]

    def priced(self, full: Problem) -> PricedMenu:
        """The menu with the costs and survivals of *full*, a problem of the same choices."""
        full, weights = trim(full), full.weights
        if weights is None:
            raise ValueError("a menu is priced by odds; this problem has no cloud")
        own_costs = np.zeros(len(self._conditions), dtype=np.int64)
        for cost in full.costs:
            if set(cost.scope) <= set(self._fixed):
                own_costs += cost.values[self._at(cost.scope)]
        own = [s for s in full.survivals if set(s.scope) <= set(self._fixed)]
        return PricedMenu(
            weights,
            own_costs,
            _product((s.draws[s.rows[self._at(s.scope)]] for s in own), (len(own_costs), len(weights))),
            tuple(self._priced(course, full, len(weights)) for course in self._courses),
        )

    def values(self, found: Sequence[int]) -> tuple[int, ...]:
        """Choice number of every variable, for a pick of the priced menu."""
        values = list(self._current)
        for variable, value in zip(self._fixed, self._conditions[found[0]].tolist(), strict=True):
            values[variable] = value
        for course, line in zip(self._courses, found[1:], strict=True):
            for variable, value in zip(course.variables, course.rows[line].tolist(), strict=True):
                values[variable] = value
        return tuple(values)

    def _priced(self, course: _Course, full: Problem, draws: int) -> _Priced:
        mine = frozenset(course.variables)
        costs = np.zeros(len(course.rows), dtype=np.int64)
        for cost in full.costs:
            if mine & set(cost.scope):
                costs += cost.values[self._at(cost.scope, course)]
        rows = [(s, s.rows[self._at(s.scope, course)]) for s in full.survivals if mine & set(s.scope)]
        drawn = (table.draws[numbers] for table, numbers in rows if numbers.any())
        return _Priced(course.place, costs, _product(drawn, (len(costs), draws)))

    def _at(self, scope: Sequence[int], course: _Course | None = None) -> tuple[NDArray[np.integer], ...]:
        """Index into a table for every condition, or for every line of a course.

        Belief that has moved far away may tie a table to a variable of another group; that one counts
        as it is set now, which is near enough for a choice of candidates.
        """
        conditions = self._conditions if course is None else self._conditions[course.behind]
        found: list[NDArray[np.integer]] = []
        for variable in scope:
            if variable in self._fixed:
                found.append(conditions[:, self._fixed.index(variable)])
            elif course is not None and variable in course.variables:
                found.append(course.rows[:, course.variables.index(variable)])
            else:
                found.append(np.full(len(conditions), self._current[variable]))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class _Priced:
    """A course with the cost of each line, and its survival by draw."""

    place: Places
    costs: NDArray[np.int64]
    draws: Floats

    def lines(self, condition: int) -> Places:
        """The lines that there are under *condition*, cheapest first."""
        place = self.place[condition]
        there: Places = place[place >= 0]
        return there


@dataclass(frozen=True, slots=True)
class PricedMenu:
    """A menu under one belief.  A pick is a condition's place, then a line of each course."""

    weights: NDArray[np.float64]
    own_costs: NDArray[np.int64]
    own_draws: Floats
    courses: tuple[_Priced, ...]

    def frontier(self, least: float) -> list[Pick]:
        """Picks of odds from *least* up than which hardly any is both faster and safer, fastest first.

        Courses are joined one by one and only the best of each cost and odds go on, which now and then
        loses a pick whose courses fail together; the exact answer is :func:`waitwright.search.topk.frontier`.
        """
        costs: list[int] = []
        odds: list[float] = []
        picks: list[Pick] = []
        for condition, own in enumerate(self.own_costs.tolist()):
            partial: list[_Partial] = [(own, self.own_draws[condition], (condition,))]
            for course in self.courses:
                partial = self._joined(partial, course, course.lines(condition), least)
            costs += [cost for cost, _, _ in partial]
            odds += [float(draws @ self.weights) for _, draws, _ in partial]
            picks += [pick for _, _, pick in partial]
        return [picks[place] for place in _undominated(np.array(costs), np.array(odds), least)]

    def _joined(
        self, partial: Sequence[_Partial], course: _Priced, lines: Places, least: float
    ) -> list[_Partial]:
        """Every partial pick with every line that is worth it, undominated ones only."""
        own = course.draws[lines] @ self.weights
        lines = lines[_undominated(course.costs[lines], own, least)]
        found = [
            (cost + int(course.costs[line]), draws * course.draws[line], (*pick, int(line)))
            for cost, draws, pick in partial
            for line in lines
        ]
        if not found:
            return []
        odds = np.stack([draws for _, draws, _ in found]) @ self.weights
        return [found[place] for place in _undominated(np.array([one[0] for one in found]), odds, least)]

    def optima(self, draws: Places, least: float) -> list[Pick]:
        """The fastest pick in each of some *draws* whose every part survives with *least*; each once.

        Draws without any are left out.
        """
        best = np.full(len(draws), _OUT_OF_REACH)
        picks = np.zeros((len(draws), 1 + len(self.courses)), dtype=np.intp)
        for condition, own in enumerate(self.own_costs.tolist()):
            total = np.where(self.own_draws[condition, draws] >= least, own, _OUT_OF_REACH)
            chosen = np.full_like(picks, condition)
            for number, course in enumerate(self.courses, start=1):
                lines = course.lines(condition)
                holds = course.draws[np.ix_(lines, draws)] >= least
                costs = np.where(holds, course.costs[lines, None], _OUT_OF_REACH)
                chosen[:, number] = lines[costs.argmin(axis=0)]
                total = np.minimum(total + costs.min(axis=0), _OUT_OF_REACH)
            better = total < best
            best[better], picks[better] = total[better], chosen[better]
        return list(dict.fromkeys(map(tuple, picks[best < _OUT_OF_REACH].tolist())))


def _undominated(costs: NDArray[np.int64], odds: NDArray[np.floating], least: float) -> Places:
    """Places of those that are safer than all cheaper ones, cheapest first."""
    order = np.lexsort((-odds, costs))
    before = np.maximum.accumulate(np.concatenate([[least], odds[order][:-1]]))
    return order[odds[order] > before]


def _product(factors: Iterable[Floats], shape: tuple[int, int]) -> Floats:
    product = np.ones(shape, dtype=np.float32)
    for factor in factors:
        product *= factor
    return product


def _conditions(structure: Structure, budget: CallBudget) -> list[tuple[int, ...]]:
    """Legal assignments of the conditioning variables, as far as their own tables tell."""
    fixed = structure.conditions
    inside = [
        LocalConstraint(tuple(map(fixed.index, one.scope)), one.allowed)
        for one in structure.problem.constraints
        if set(one.scope) <= set(fixed)
    ]
    if any(not one.scope and not one.allowed.all() for one in inside):
        return []
    sizes = [structure.problem.variables[variable].size for variable in fixed]
    rows = legal_combinations(sizes, [one for one in inside if one.scope], budget) if fixed else [()]
    return [tuple(map(int, row)) for row in rows]


def _choices(group: Group, structure: Structure, condition: Sequence[int], budget: CallBudget) -> int:
    """How many choices the group has under a condition."""
    return len(group.choices(dict(zip(structure.conditions, condition, strict=True)), budget).costs)


def _course(group: Group, structure: Structure, conditions: NDArray[np.intp], budget: CallBudget) -> _Course:
    starts: dict[int, int] = {}
    rows: list[NDArray[np.int16]] = []
    behind: list[int] = []
    spans: list[tuple[int, int]] = []
    for number, condition in enumerate(conditions.tolist()):
        choices = group.choices(dict(zip(structure.conditions, condition, strict=True)), budget)
        size = len(choices.costs)
        if id(choices) not in starts:  # conditions that do not matter to the group share their choices
            starts[id(choices)] = len(behind)
            rows.append(choices.rows)
            behind += [number] * size
        spans.append((starts[id(choices)], size))
    place = np.full((len(spans), max((size for _, size in spans), default=0)), -1, dtype=np.intp)
    for number, (start, size) in enumerate(spans):
        place[number, :size] = np.arange(start, start + size)
    lines = np.concatenate(rows) if rows else np.empty((0, len(group.variables)), dtype=np.int16)
    return _Course(group.variables, lines, np.array(behind, dtype=np.intp), place)

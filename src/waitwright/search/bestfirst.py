"""Exact best-first search over conditions and groups.

Partial combinations wait in a heap under a lower bound of their cost: the exact cost of what is decided
plus the least possible cost of the rest.  Survival can only fall as groups are added, so a partial
combination whose odds are already below the level is dropped with all its completions.  Complete
combinations therefore come out in ascending order of cost, each with its exact odds.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from waitwright.search.enumerate import CallBudget
from waitwright.search.groups import Choices, Floats, Group, Listing
from waitwright.search.problem import Constraint, Problem
from waitwright.search.structure import Structure

_KEPT_PREFIXES = 1000
"""Partial survival products kept for each branch (8 KiB each with 2048 draws)."""


class SearchObserver:
    """Told what the search does; all methods do nothing, override what is wanted."""

    def opened(self, conditions: int, of: int) -> None:
        """*conditions* of *of* conditioning assignments have been expanded."""

    def bound(self, cost: int) -> None:
        """No combination that is still to come costs less than *cost*."""


@dataclass(frozen=True, slots=True)
class Combination:
    """A complete legal combination: choice number of every variable, exact cost, odds (1 without cloud)."""

    values: tuple[int, ...]
    cost: int
    odds: float
    changes: int


@dataclass(slots=True)
class Level:
    """The odds that a combination has to reach; may rise with the cost while the search runs.

    Attributes:
        odds: Level up to and including the cost ``until``, or everywhere while that is None.
        beyond: Level of everything dearer.
    """

    odds: float
    until: int | None = None
    beyond: float = 0.0

    def refuses(self, cost: int, odds: float, changes: int) -> bool:
        """Whether nothing of at least this *cost* and *changes*, and at most these *odds*, is wanted."""
        del changes
        return odds < self.at(cost)

    def at(self, cost: int) -> float:
        """The level for combinations of *cost*."""
        return self.odds if self.until is None or cost <= self.until else self.beyond

    def rise(self, cost: int, odds: float) -> None:
        """Let everything dearer than *cost* reach *odds*, and what it had to reach before; costs ascend."""
        odds = max(odds, self.odds if self.until is None else self.beyond)
        self.odds, self.until, self.beyond = self.at(cost), cost, odds


@dataclass(frozen=True, slots=True)
class _Branch:
    """One condition, expanded: the choices of each group and bounds for the groups still to come."""

    values: tuple[tuple[int, int], ...]
    base_cost: int
    base_survival: Floats | None
    base_changes: int
    groups: tuple[Choices, ...]
    members: tuple[tuple[int, ...], ...]
    rest_cost: tuple[int, ...]
    rest_changes: tuple[int, ...]
    rest_ceiling: tuple[Floats | None, ...]
    prefixes: dict[tuple[int, ...], Floats | None] = field(default_factory=dict)


_Partial: TypeAlias = tuple[_Branch, tuple[int, ...]]
"""A branch and what is picked of its first groups."""


@dataclass(slots=True)
class Effort:
    """What the search did, for progress, tests and benchmarks."""

    conditions: int = 0
    nodes: int = 0
    rows: int = 0


def _multiply(first: Floats | None, second: Floats | None) -> Floats | None:
    if first is None or second is None:
        return second if first is None else first
    return first * second


class BestFirst:
    """One run of the search; iterate over it for combinations in ascending order of cost.

    Attributes:
        at_most: What costs more does not come out; may be lowered on the way.
    """

    def __init__(
        self,
        structure: Structure,
        level: Level,
        budget: CallBudget,
        *,
        keep: int | None = None,
        listing: Listing = "every speed",
        at_most: int | None = None,
        observer: SearchObserver | None = None,
    ) -> None:
        """Make ready.

        Args:
            at_most: Combinations that cost more are of no use.
        """
        self._structure = structure
        self._problem = without_hopeless(structure.problem, level.odds)
        self._level = level
        self._budget = budget
        self._observer = observer or SearchObserver()
        self._groups = [
            Group(group, structure.conditions, self._problem, keep=keep, listing=listing)
            for group in structure.groups
        ]
        self.at_most = at_most
        self._conditions = self._legal_conditions()
        if at_most is not None:
            self._leave_out_above(at_most)
        self.effort = Effort()
        self.bound = 0

    def __iter__(self) -> Iterator[Combination]:
        """Combinations that reach the level, cheapest first.

        Raises:
            BudgetExhausted: when the budget of work runs out; :attr:`bound` is then a proven lower bound
                of everything that has not come out yet.
        """
        counter = itertools.count()
        heap: list[tuple[int, int, int, dict[int, int] | _Partial]] = []
        for condition in self._conditions:
            cost = self._least_cost(condition)
            heapq.heappush(heap, (cost, 0, next(counter), condition))
        while heap:
            cost, _, _, node = heapq.heappop(heap)
            if self.at_most is not None and cost > self.at_most:
                return
            if cost > self.bound:
                self.bound = cost
                self._observer.bound(cost)
            if isinstance(node, dict):
                opened = self._expand(node)
                self.effort.conditions += 1
                self._observer.opened(self.effort.conditions, len(self._conditions))
                if opened is not None:
                    bound = opened.base_cost + opened.rest_cost[0]
                    heapq.heappush(heap, (bound, 1, next(counter), (opened, ())))
                continue
            branch, picks = node
            self._budget.spend()
            self.effort.nodes += 1
            depth = len(picks)
            if picks and picks[-1] + 1 < len(branch.groups[depth - 1].costs):
                sibling = (*picks[:-1], picks[-1] + 1)
                bound = _cost(branch, sibling) + branch.rest_cost[depth]
                heapq.heappush(heap, (bound, 1, next(counter), (branch, sibling)))
            odds = self._odds(branch, picks)
            if self._level.refuses(cost, odds, _changes(branch, picks)):
                continue
            if depth == len(branch.groups):
                yield self._complete(branch, picks, odds)
            else:
                child = (*picks, 0)
                bound = _cost(branch, child) + branch.rest_cost[depth + 1]
                heapq.heappush(heap, (bound, 1, next(counter), (branch, child)))

    # ------------------------------------------------------------------------------ conditions

    def _legal_conditions(self) -> list[dict[int, int]]:
        """Legal assignments of the conditioning variables, as far as their own tables tell."""
        fixed = self._structure.conditions
        sizes = [range(self._problem.variables[variable].size) for variable in fixed]
        inside = [c for c in self._problem.constraints if set(c.scope) <= set(fixed)]
        found = []
        for values in itertools.product(*sizes):
            condition = dict(zip(fixed, values, strict=True))
            if all(c.allowed[tuple(condition[v] for v in c.scope)] for c in inside):
                found.append(condition)
        return found

    def _least_cost(self, condition: dict[int, int]) -> int:
        return self._own_cost(condition) + sum(group.least_cost(condition) for group in self._groups)

    def _leave_out_above(self, at_most: int) -> None:
        """Let each group drop what costs too much beside the least of all the rest, under any condition."""
        least = [[group.least_cost(condition) for group in self._groups] for condition in self._conditions]
        whole = [
            self._own_cost(condition) + sum(parts)
            for condition, parts in zip(self._conditions, least, strict=True)
        ]
        for place, group in enumerate(self._groups):
            rest = [total - parts[place] for total, parts in zip(whole, least, strict=True)]
            group.leave_out_above(at_most - min(rest, default=0))

    def _own_cost(self, condition: dict[int, int]) -> int:
        """Cost of the tables that the condition alone decides."""
        return sum(
            int(cost.values[tuple(condition[v] for v in cost.scope)])
            for cost in self._problem.costs
            if set(cost.scope) <= set(condition)
        )

    def _expand(self, condition: dict[int, int]) -> _Branch | None:
        survival: Floats | None = None
        for table in self._problem.survivals:
            if set(table.scope) <= set(condition):
                row = int(table.rows[tuple(condition[v] for v in table.scope)])
                survival = _multiply(survival, table.draws[row] if row else None)
        decided, cost = dict(condition), self._own_cost(condition)
        open_groups: list[tuple[Group, Choices]] = []
        for group in self._groups:
            choices = group.choices(condition, self._budget)
            self.effort.rows += len(choices.costs)
            if not len(choices.costs):
                return None
            if len(choices.costs) > 1:
                open_groups.append((group, choices))
                continue
            # A group without alternatives is part of the condition.
            decided.update(zip(group.variables, choices.rows[0].tolist(), strict=True))
            cost += int(choices.costs[0])
            survival = _multiply(survival, choices.survival(0))
        # Groups that endanger the machine most come first, so that hopeless branches end early.
        open_groups.sort(key=lambda pair: self._mean(pair[1].ceiling))
        rest_cost: list[int] = [0]
        rest_changes: list[int] = [0]
        rest_ceiling: list[Floats | None] = [None]
        for _, choices in reversed(open_groups):
            rest_cost.append(rest_cost[-1] + int(choices.costs[0]))
            rest_changes.append(rest_changes[-1] + int(choices.changes.min()))
            rest_ceiling.append(_multiply(rest_ceiling[-1], choices.ceiling))
        changes = sum(
            self._problem.variables[variable].current != value for variable, value in decided.items()
        )
        return _Branch(
            tuple(decided.items()),
            cost,
            survival,
            changes,
            tuple(choices for _, choices in open_groups),
            tuple(group.variables for group, _ in open_groups),
            tuple(reversed(rest_cost)),
            tuple(reversed(rest_changes)),
            tuple(reversed(rest_ceiling)),
        )

    # ------------------------------------------------------------------------------------ odds

    def _mean(self, survival: Floats | None) -> float:
        weights = self._problem.weights
        if survival is None or weights is None:
            return 1.0
        return float(weights @ survival)

    def _odds(self, branch: _Branch, picks: tuple[int, ...]) -> float:
        """Exact odds of a complete combination; an upper bound for a partial one."""
        if self._problem.weights is None:
            return 1.0
        survival = branch.base_survival
        if picks:
            last = branch.groups[len(picks) - 1].survival(picks[-1])
            survival = _multiply(self._prefix(branch, picks[:-1]), last)
        return self._mean(_multiply(survival, branch.rest_ceiling[len(picks)]))

    def _prefix(self, branch: _Branch, picks: tuple[int, ...]) -> Floats | None:
        """Survival of the decided groups; kept, because all children of a node ask for the same."""
        if not picks:
            return branch.base_survival
        known = branch.prefixes.get(picks)
        if known is None:
            if len(branch.prefixes) >= _KEPT_PREFIXES:
                branch.prefixes.clear()
            last = branch.groups[len(picks) - 1].survival(picks[-1])
            known = branch.prefixes[picks] = _multiply(self._prefix(branch, picks[:-1]), last)
        return known

    def _complete(self, branch: _Branch, picks: tuple[int, ...], odds: float) -> Combination:
        values = [variable.current for variable in self._problem.variables]
        for variable, value in branch.values:
            values[variable] = value
        for choices, variables, pick in zip(branch.groups, branch.members, picks, strict=True):
            for variable, value in zip(variables, choices.rows[pick].tolist(), strict=True):
                values[variable] = value
        return Combination(tuple(values), _cost(branch, picks), odds, _changes(branch, picks))


def _changes(branch: _Branch, picks: tuple[int, ...]) -> int:
    """How many variables differ from the current settings, at least, while groups are open."""
    decided = sum(int(choices.changes[pick]) for choices, pick in zip(branch.groups, picks, strict=False))
    return branch.base_changes + decided + branch.rest_changes[len(picks)]


def _cost(branch: _Branch, picks: tuple[int, ...]) -> int:
    decided = sum(int(choices.costs[pick]) for choices, pick in zip(branch.groups, picks, strict=False))
    return branch.base_cost + decided


def without_hopeless(problem: Problem, odds: float) -> Problem:
    """Combinations that one rule alone already puts below *odds* become illegal: survival only falls."""
    if problem.weights is None or odds <= 0:
        return problem
    extra = []
    for survival in problem.survivals:
        means: NDArray[np.float64] = survival.draws @ problem.weights
        means[0] = 1.0  # whatever the weights add up to after rounding
        allowed = (means >= odds)[survival.rows]
        if not allowed.all():
            extra.append(Constraint(survival.id, survival.scope, allowed))
    return replace(problem, constraints=(*problem.constraints, *extra))

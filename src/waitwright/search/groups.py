"""The choices of one independent group under one condition: legal rows, costs, survivals, ties."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from waitwright.search.enumerate import CallBudget, LocalConstraint, legal_combinations
from waitwright.search.problem import Problem, Survival

Floats = NDArray[np.float32]

_Scalar = TypeVar("_Scalar", bound=np.generic)

Listing = Literal["every speed", "worthwhile", "frontier"]
"""Which combinations matter: the preferred one of every speed; those that nothing beats in speed, odds and
number of changes; those that nothing beats in speed and odds."""

_LARGEST_TIE = 1500
"""More choices than this are left as they are: comparing all pairs would take longer."""

_BLOCK = 400
"""Choices that are compared with what stays so far, at once."""

_PIECE = 4_000_000
"""Pairs that are compared at once."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What a group may do under one condition, cheapest first.

    Attributes:
        rows: Choice numbers, one row for each combination, one column for each variable of the group.
        costs: Ascending, int64.
        changes: How many variables differ from the current settings.
        survival_rows: Row in each survival table of the group, one column each.
        tables: Those survival tables' draws.
        ceiling: Upper bound of the survival over all combinations, by draw; None without a cloud.
    """

    rows: NDArray[np.int16]
    costs: NDArray[np.int64]
    changes: NDArray[np.int64]
    survival_rows: NDArray[np.int32]
    tables: tuple[Floats, ...]
    ceiling: Floats | None
    _vectors: dict[tuple[int, ...], Floats] = field(default_factory=dict, repr=False)

    def survival(self, index: int) -> Floats | None:
        """Survival of combination *index* by draw; None where it survives in every draw."""
        # Many combinations survive alike: their product is kept once, not once for each of them.
        way = tuple(self.survival_rows[index].tolist())
        if way in self._vectors:
            return self._vectors[way]
        vector: Floats | None = None
        for table, row in zip(self.tables, way, strict=True):
            if row:
                vector = table[row] if vector is None else vector * table[row]
        if vector is not None:
            self._vectors[way] = vector
        return vector


class Group:
    """One independent group of variables and its choices under each condition, kept once computed."""

    def __init__(
        self,
        variables: tuple[int, ...],
        conditions: tuple[int, ...],
        problem: Problem,
        *,
        keep: int | None = None,
        listing: Listing = "every speed",
    ) -> None:
        """Pick the tables that touch the group.

        Args:
            keep: How many distinct costs can matter at most; None when survivals decide as well.
            listing: Which combinations matter.
        """
        self.variables = variables
        self._sizes = [problem.variables[variable].size for variable in variables]
        self._current = np.array([problem.variables[variable].current for variable in variables])
        members = frozenset(variables)
        self._constraints = [c for c in problem.constraints if members & frozenset(c.scope)]
        self._costs = [c for c in problem.costs if members & frozenset(c.scope)]
        self._survivals: list[Survival] = [s for s in problem.survivals if members & frozenset(s.scope)]
        near = frozenset().union(
            *(table.scope for table in problem.tables if members & frozenset(table.scope))
        )
        self._near = tuple(variable for variable in conditions if variable in near)
        self._at_least = [_row_order(survival.draws) for survival in self._survivals]
        self._keep = keep
        self._listing: Listing = listing
        self._known: dict[tuple[int, ...], Choices] = {}
        self._at_most: int | None = None

    def leave_out_above(self, cost: int) -> None:
        """Choices that cost more than *cost* are of no use, and are left out from now on."""
        self._at_most = cost
        self._known.clear()

    def least_cost(self, condition: Mapping[int, int]) -> int:
        """A lower bound of the group's cost under *condition*, without enumerating anything."""
        return sum(int(_sliced(cost.values, cost.scope, condition)[1].min()) for cost in self._costs)

    def choices(self, condition: Mapping[int, int], budget: CallBudget) -> Choices:
        """All choices under *condition*, cheapest first, equivalent ones once.

        Raises:
            BudgetExhausted: when *budget* runs out.
        """
        key = tuple(condition[variable] for variable in self._near)
        if key not in self._known:
            self._known[key] = self._enumerate(condition, budget)
        return self._known[key]

    def _enumerate(self, condition: Mapping[int, int], budget: CallBudget) -> Choices:
        constraints = []
        for constraint in self._constraints:
            scope, allowed = _sliced(constraint.allowed, constraint.scope, condition)
            if not allowed.all():
                constraints.append(LocalConstraint(self._places(scope), allowed))
        rows = legal_combinations(self._sizes, constraints, budget)
        costs = np.zeros(len(rows), dtype=np.int64)
        for cost in self._costs:
            scope, values = _sliced(cost.values, cost.scope, condition)
            costs += values[self._index(rows, scope)]
        if self._at_most is not None:
            cheap = costs <= self._at_most
            rows, costs = rows[cheap], costs[cheap]
        survival_rows = np.zeros((len(rows), len(self._survivals)), dtype=np.int32)
        for column, survival in enumerate(self._survivals):
            scope, table = _sliced(survival.rows, survival.scope, condition)
            survival_rows[:, column] = table[self._index(rows, scope)]
        changes = (rows != self._current).sum(axis=1)
        order = _order(rows, costs, changes)
        kept = self._distinct(costs[order], changes[order], survival_rows[order])
        kept = self._undominated(kept, costs[order], changes[order], survival_rows[order])
        pick = order[kept]
        tables = tuple(survival.draws for survival in self._survivals)
        return Choices(
            rows[pick],
            costs[pick],
            changes[pick],
            survival_rows[pick],
            tables,
            self._ceiling(survival_rows[pick]),
        )

    def _distinct(
        self, costs: NDArray[np.int64], changes: NDArray[np.int64], survival_rows: NDArray[np.int32]
    ) -> NDArray[np.int64]:
        """Places of the first of each set of choices that are alike in all that matters beside speed.

        Where every speed matters they must cost the same as well.
        """
        if not len(costs):
            return np.empty(0, dtype=np.int64)
        columns = list(survival_rows.T)
        if self._listing == "every speed":
            columns.append(np.cumsum(np.diff(costs, prepend=costs[0]) > 0))
        elif self._listing == "worthwhile":
            columns.append(changes)
        _, first = np.unique(_codes(columns, len(costs)), return_index=True)
        first.sort()
        return first[: self._keep] if self._keep is not None else first

    def _undominated(
        self,
        kept: NDArray[np.int64],
        costs: NDArray[np.int64],
        changes: NDArray[np.int64],
        survival_rows: NDArray[np.int32],
    ) -> NDArray[np.int64]:
        """Choices that no other beats: one at least as safe in every draw, and at least as good otherwise.

        Where every speed matters, the other one must cost the same and change no more.  Put in any
        combination it gives the same cost, odds at least as high, and no more changes, so nothing that
        could be listed is lost.  Where the listing is "worthwhile" it may be cheaper; on the frontier a
        cheaper one beats whatever it changes.
        """
        if len(kept) < 2 or not (self._survivals or self._listing == "worthwhile"):
            return kept
        if self._listing == "every speed":
            return self._unbeaten_ties(kept, costs, changes, survival_rows)
        stays = kept[:0]
        for start in range(0, len(kept), _BLOCK):
            # Cheapest first: what stays may beat what comes, never the other way round.
            block = kept[start : start + _BLOCK]
            if len(stays):
                beats = self._beats(
                    costs[stays][:, None],
                    changes[stays][:, None],
                    survival_rows[stays][:, None, :],
                    costs[block][None, :],
                    changes[block][None, :],
                    survival_rows[block][None, :, :],
                )
                block = block[~beats.any(axis=0)]
            tie = block[None, :]
            block = block[~self._beaten(costs[tie], changes[tie], survival_rows[tie])[0]]
            stays = np.concatenate([stays, block])
        return stays

    def _unbeaten_ties(
        self,
        kept: NDArray[np.int64],
        costs: NDArray[np.int64],
        changes: NDArray[np.int64],
        survival_rows: NDArray[np.int32],
    ) -> NDArray[np.int64]:
        """Choices that no other of the same cost beats."""
        starts = np.flatnonzero(np.diff(costs[kept], prepend=costs[kept[0]] - 1))
        sizes = np.diff(starts, append=len(kept))
        stays = np.ones(len(kept), dtype=bool)
        for size in np.unique(sizes[(sizes > 1) & (sizes <= _LARGEST_TIE)]).tolist():
            # All ties of one size at once, as many as fit into a fair piece of memory.
            ties = starts[sizes == size][:, None] + np.arange(size)
            for piece in np.array_split(ties, max(1, len(ties) * size * size // _PIECE)):
                places = kept[piece]
                stays[piece] = ~self._beaten(costs[places], changes[places], survival_rows[places])
        return kept[stays]

    def _beaten(
        self, costs: NDArray[np.int64], changes: NDArray[np.int64], rows: NDArray[np.int32]
    ) -> NDArray[np.bool_]:
        """Which of some choices, in order of preference, are beaten by another one that costs no more.

        Args:
            costs: Shape (ties, size); *changes* likewise, *rows* with one more axis for the tables.
        """
        beats = self._beats(
            costs[:, :, None],
            changes[:, :, None],
            rows[:, :, None, :],
            costs[:, None, :],
            changes[:, None, :],
            rows[:, None, :, :],
        )
        # Of two that beat each other the first stays.
        beats = beats & ~(beats.transpose(0, 2, 1) & np.tri(costs.shape[1], dtype=bool))
        beaten: NDArray[np.bool_] = beats.any(axis=1)
        return beaten

    def _beats(
        self,
        costs: NDArray[np.int64],
        changes: NDArray[np.int64],
        rows: NDArray[np.int32],
        other_costs: NDArray[np.int64],
        other_changes: NDArray[np.int64],
        other_rows: NDArray[np.int32],
    ) -> NDArray[np.bool_]:
        """Whether the first choices beat the others, each with each, in broadcast shape."""
        no_more = changes <= other_changes
        cheaper = costs < other_costs if self._listing == "frontier" else costs <= other_costs
        beats = np.asarray(cheaper & no_more)
        if self._listing == "frontier":
            beats = np.asarray(cheaper | ((costs == other_costs) & no_more))
        for column, at_least in enumerate(self._at_least):
            mine, others = rows[..., column], other_rows[..., column]
            if mine.size and (
                mine.min() != mine.max() or others.min() != others.max() or mine.min() != others.min()
            ):
                beats = np.asarray(beats & at_least[mine, others])
        return beats

    def _ceiling(self, survival_rows: NDArray[np.int32]) -> Floats | None:
        ceiling: Floats | None = None
        for column, survival in enumerate(self._survivals):
            used = np.unique(survival_rows[:, column])
            if len(used) and used[0] != 0:
                best = survival.draws[used].max(axis=0)
                ceiling = best if ceiling is None else ceiling * best
        return ceiling

    def _places(self, scope: Sequence[int]) -> tuple[int, ...]:
        return tuple(self.variables.index(variable) for variable in scope)

    def _index(self, rows: NDArray[np.int16], scope: Sequence[int]) -> tuple[NDArray[np.int16], ...]:
        return tuple(rows[:, place] for place in self._places(scope))


def _codes(columns: Iterable[NDArray[np.integer]], count: int) -> NDArray[np.int64]:
    """A number for each of *count* rows of whole numbers >= 0, the same where rows are the same."""
    codes, size = np.zeros(count, dtype=np.int64), 1
    for column in columns:
        span = int(column.max()) + 1
        if size * span > np.iinfo(np.int64).max:
            distinct, codes = np.unique(codes, return_inverse=True)
            size = len(distinct)
        codes, size = codes * span + column, size * span
    return codes


def _row_order(draws: Floats) -> NDArray[np.bool_]:
    """``order[a, b]``: row a survives at least as well as row b in every draw."""
    return np.array([(row >= draws).all(axis=1) for row in draws])


def _sliced(
    array: NDArray[_Scalar], scope: Sequence[int], condition: Mapping[int, int]
) -> tuple[tuple[int, ...], NDArray[_Scalar]]:
    """A table with the conditioning variables fixed, and the scope that is left."""
    index = tuple(condition.get(variable, slice(None)) for variable in scope)
    return tuple(variable for variable in scope if variable not in condition), np.asarray(array[index])


def _order(rows: NDArray[np.int16], costs: NDArray[np.int64], changes: NDArray[np.int64]) -> NDArray[np.intp]:
    """Cheapest first, then fewest changes, then lexicographic."""
    return np.lexsort([*rows.T[::-1], changes, costs])

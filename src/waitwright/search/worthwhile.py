"""The fastest combinations that are worth telling a person about.

A list of all speeds is mostly noise: the second entry differs from the first by a ten-thousandth.  Here
a slower combination is listed only if it is safer by a percent or changes fewer options than everything
faster.  The list is exact: nothing else has these properties.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from waitwright.search.bestfirst import BestFirst, Combination, Level, SearchObserver
from waitwright.search.enumerate import BudgetExhausted, CallBudget
from waitwright.search.problem import Problem
from waitwright.search.structure import take_apart
from waitwright.search.topk import DEFAULT_BUDGET, Ranking, preference


@dataclass(slots=True)
class _Worth(Level):
    """Refuses what something listed beats: as safe in percent, with no more changes."""

    listed: list[Combination] = field(default_factory=list)

    def refuses(self, cost: int, odds: float, changes: int) -> bool:
        """As :meth:`Level.refuses`."""
        if odds < self.odds:
            return True
        return any(beats(one, cost, odds, changes) for one in self.listed)


def beats(one: Combination, cost: int, odds: float, changes: int) -> bool:
    """Whether *one* costs no more than *cost*, is as safe in percent, and changes no more."""
    return one.cost <= cost and round(one.odds, 2) >= round(odds, 2) and one.changes <= changes


def worthwhile(
    problem: Problem,
    *,
    count: int,
    odds: float = 0.0,
    apart: int = 1,
    budget: int = DEFAULT_BUDGET,
    observer: SearchObserver | None = None,
) -> Ranking:
    """The *count* fastest combinations whose odds reach *odds*, without those that another one beats.

    Of combinations alike in speed, odds and changes the preferred one is listed (:func:`preference`), and
    so it is of all that cost less than *apart* more than the first of their set; but the first place is
    that of the very fastest.  The
    list ends at the latest with the
    current settings, if they reach the odds: nothing slower than what is there is worth a change unless it
    is safer, and then the trade-off curve tells.
    """
    structure = take_apart(problem)
    level = _Worth(odds)
    search = BestFirst(structure, level, CallBudget(budget), listing="worthwhile", observer=observer)
    tie: list[Combination] = []
    proven = True
    try:
        for combination in search:
            if tie and combination.cost > tie[0].cost:
                _list(tie, level.listed)
                if len(_sets(level.listed, apart)) > count or any(one.changes == 0 for one in level.listed):
                    break
            if not level.refuses(combination.cost, combination.odds, combination.changes):
                tie.append(combination)
        _list(tie, level.listed)
    except BudgetExhausted:
        proven = False
    groups = tuple(map(len, structure.groups))
    sets = _sets(level.listed, apart)[:count]
    best = [alike[0] if place == 0 else min(alike, key=preference) for place, alike in enumerate(sets)]
    return Ranking(tuple(best), proven, search.bound, search.effort, groups)


def _list(tie: list[Combination], listed: list[Combination]) -> None:
    """List what is not beaten among combinations of one cost, the preferred one first."""
    for one in sorted(tie, key=preference):
        if not any(beats(other, one.cost, one.odds, one.changes) for other in listed):
            listed.append(one)
    tie.clear()


def _sets(listed: list[Combination], apart: int) -> list[list[Combination]]:
    """The list cut into sets of as good as the same speed."""
    sets: list[list[Combination]] = []
    for one in listed:
        if sets and one.cost < sets[-1][0].cost + apart:
            sets[-1].append(one)
        else:
            sets.append([one])
    return sets

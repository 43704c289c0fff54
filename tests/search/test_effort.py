"""What a search tells of its effort."""

from __future__ import annotations

from hypothesis import given, settings

from waitwright.search.bestfirst import BestFirst, Level, SearchObserver
from waitwright.search.enumerate import CallBudget
from waitwright.search.groups import Group
from waitwright.search.problem import Problem
from waitwright.search.structure import take_apart
from waitwright.search.topk import fastest

from .strategies import problems
from .synthetic import synthetic


class Listener(SearchObserver):
    """Keeps all that it is told."""

    def __init__(self) -> None:
        self.opened_so_far: list[tuple[int, int]] = []
        self.bounds: list[int] = []

    def opened(self, conditions: int, of: int) -> None:
        """Keep it."""
        self.opened_so_far.append((conditions, of))

    def bound(self, cost: int) -> None:
        """Keep it."""
        self.bounds.append(cost)


@settings(max_examples=60)
@given(problems(cloud=False))
def test_progress_is_told_step_by_step(problem: Problem) -> None:
    """Conditions are counted one by one, none is left when all is listed, and bounds only rise."""
    listener = Listener()
    ranking = fastest(problem, count=10**6, observer=listener)

    counts = [conditions for conditions, _ in listener.opened_so_far]
    assert counts == list(range(1, len(counts) + 1))
    assert {of for _, of in listener.opened_so_far} <= {len(counts)}
    assert ranking.effort.conditions == len(counts)
    assert ranking.effort.nodes >= len(ranking.best)
    assert listener.bounds == sorted(set(listener.bounds))
    assert listener.bounds[-1:] in ([], [ranking.bound])
    assert all(combination.cost <= ranking.bound for combination in ranking.best)


def test_what_costs_too_much_is_left_out_early() -> None:
    """Told what the best may cost, a search keeps fewer choices, and finds all that cost no more."""
    problem = synthetic(14, 4)

    def run(at_most: int | None) -> BestFirst:
        search = BestFirst(take_apart(problem), Level(0.0), CallBudget(10**7), at_most=at_most)
        costs.append([combination.cost for combination in search])
        return search

    costs: list[list[int]] = []
    free = run(None)
    limit = costs[0][len(costs[0]) // 20]
    bounded = run(limit)

    assert costs[1] == [cost for cost in costs[0] if cost <= limit]
    assert bounded.effort.rows < 0.8 * free.effort.rows


def test_a_group_keeps_no_more_than_it_is_asked_for() -> None:
    """Where costs alone decide, a group has no use for more choices than the list is long."""
    problem = synthetic(14, 4)
    structure = take_apart(problem)
    for members in structure.groups:
        every, few = (
            Group(members, structure.conditions, structure.problem, keep=keep, listing="every speed")
            for keep in (None, 3)
        )
        condition = dict.fromkeys(structure.conditions, 0)
        whole = every.choices(condition, CallBudget(10**7))
        first = few.choices(condition, CallBudget(10**7))
        assert len(whole.costs) > 3
        assert first.costs.tolist() == whole.costs[:3].tolist()

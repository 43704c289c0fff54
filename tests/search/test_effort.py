"""What a search tells of its effort."""

from __future__ import annotations

from hypothesis import given, settings

from waitwright.search.bestfirst import SearchObserver
from waitwright.search.problem import Problem
from waitwright.search.topk import fastest

from .strategies import problems


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

"""The rated ranking against an integer optimiser, on spaces far too large to go through."""

from __future__ import annotations

import pytest

from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.search.compile import compile_rated
from waitwright.search.problem import Problem
from waitwright.search.topk import Ranking, fastest
from waitwright.workload.model import event_tables

from . import oracle
from .machines import PACKED
from .peers import Optimiser, flat_search
from .synthetic import synthetic

TOP = 20


def check(problem: Problem, ranking: Ranking) -> None:
    """The optimiser has the same optimum, and finds no further speed below the last place."""
    listed = [one.cost for one in ranking.best]
    assert ranking.proven
    assert len(listed) == TOP
    for one in ranking.best:
        assert oracle.is_legal(problem, one.values)
        assert oracle.cost_of(problem, one.values) == one.cost
    assert Optimiser(problem).costs(1) == listed[:1]
    assert Optimiser(problem).any_cost_between(listed) is None
    # It does find what is missing from the list.
    assert Optimiser(problem).any_cost_between([*listed[:7], *listed[8:]]) == listed[7]


@pytest.mark.parametrize("name", PACKED)
def test_top_20_of_a_packed_machine(name: str) -> None:
    """The 20 fastest rated speeds of a packed machine are exactly those of the optimiser.

    Second opinion: OR-Tools CP-SAT.
    """
    bench = put_on_bench(Question(name))
    events = event_tables(bench.machine, find_workload(bench.machine.rulebook, None))
    problem = compile_rated(bench.machine, bench.rules, events)

    check(problem, fastest(problem, count=TOP))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_top_20_of_a_trillion_combinations(seed: int) -> None:
    """The 20 lowest costs of 30 variables with more than 10^12 combinations are the optimiser's.

    Second opinion: OR-Tools CP-SAT.
    """
    problem = synthetic(30, group=4, seed=seed)
    assert problem.raw_size > 10**12

    check(problem, fastest(problem, count=TOP))


def test_top_20_by_asking_again_and_again() -> None:
    """Forbidding what was found and asking again, the optimiser names the same 20 speeds in order.

    Second opinion: OR-Tools CP-SAT.
    """
    problem = synthetic(16, group=3, seed=5)

    assert Optimiser(problem).costs(TOP) == [one.cost for one in fastest(problem, count=TOP).best]


def test_flat_search_of_all_constraints_at_once() -> None:
    """The constraint library by itself, given the whole problem at once, finds the same speeds.

    Second opinion: python-constraint2, given the whole problem at once.
    """
    problem = synthetic(12, group=3, seed=6)

    speeds = sorted(set(flat_search(problem)))

    assert [one.cost for one in fastest(problem, count=10**6).best] == speeds
    assert len(speeds) > 100

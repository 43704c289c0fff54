"""How many combinations the constraints leave."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from waitwright.search import feasible
from waitwright.search.enumerate import CallBudget
from waitwright.search.feasible import Feasibility
from waitwright.search.problem import Problem
from waitwright.search.structure import take_apart

from .oracle import is_legal, raw_combinations
from .strategies import problems


@settings(max_examples=60)
@given(problems(cloud=False, most=200), st.booleans())
def test_legal_combinations_are_counted(problem: Problem, dense: bool) -> None:
    """The number of legal combinations is what counting them one by one gives, tabulated or searched.

    Second opinion: every combination, tried one by one.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(feasible, "_DENSE", 10**6 if dense else 0)
        found = Feasibility(problem, CallBudget(10**9)).count()

    assert found == sum(is_legal(problem, values) for values in raw_combinations(problem))


@settings(max_examples=40)
@given(problems(cloud=False, most=200), st.integers(0, 20))
def test_a_count_that_was_cut_is_none(problem: Problem, budget: int) -> None:
    """With too little work to spend the count is right or unknown, never wrong."""
    found = Feasibility(problem, CallBudget(budget)).count()

    assert found in {None, sum(is_legal(problem, values) for values in raw_combinations(problem))}


@settings(max_examples=40)
@given(problems(cloud=False, most=200))
def test_every_new_question_costs_work_and_an_old_one_less(problem: Problem) -> None:
    """A question that was not asked before is paid for in each group; the same one again is known."""
    budget = CallBudget(10**9)
    asked = Feasibility(problem, budget)
    open_at_all = asked.stands({})
    groups = take_apart(replace(problem, costs=())).groups
    for place, variable in enumerate(problem.variables):
        if variable.size == 1:
            continue
        before = budget.left
        answer = asked.stands({place: 0})
        between = budget.left
        assert asked.stands({place: 0}) == answer
        assert budget.left == between
        if open_at_all and any(place in members for members in groups):
            assert between < before

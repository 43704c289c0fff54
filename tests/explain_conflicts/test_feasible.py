"""Feasibility of some choices against all combinations, for problems of every shape."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.search.oracle import is_legal, raw_combinations
from tests.search.strategies import problems
from waitwright.search import feasible
from waitwright.search.enumerate import CallBudget
from waitwright.search.feasible import Feasibility, Held, reduce_all
from waitwright.search.problem import Problem

ENOUGH = 10**9


@st.composite
def questions(draw: st.DrawFn) -> tuple[Problem, list[Held]]:
    """A problem, and some choices to hold, several times over."""
    problem = draw(problems(cloud=False, most=200))
    numbers = range(len(problem.variables))
    held = [
        {one: draw(st.integers(0, problem.variables[one].size - 1)) for one in sorted(chosen)}
        for chosen in draw(st.lists(st.frozensets(st.sampled_from(numbers)), min_size=1, max_size=6))
    ]
    return problem, list(held)


def by_brute_force(problem: Problem, held: Held) -> bool:
    """Whether any combination with *held* is legal."""
    return any(
        is_legal(problem, values) and all(values[one] == choice for one, choice in held.items())
        for values in raw_combinations(problem)
    )


@given(questions(), st.booleans())
@settings(max_examples=60)
def test_answers_are_those_of_brute_force(question: tuple[Problem, list[Held]], dense: bool) -> None:
    """A yes or no is what trying every combination says, tabulated or searched.

    Second opinion: every combination, tried one by one.
    """
    problem, asked = question
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(feasible, "_DENSE", 10**6 if dense else 0)
        found = Feasibility(problem, CallBudget(ENOUGH))
        for held in asked:
            assert found.stands(held) is by_brute_force(problem, held)


@given(questions(), st.integers(0, 30))
@settings(max_examples=40)
def test_a_cut_search_is_unknown(question: tuple[Problem, list[Held]], budget: int) -> None:
    """With too little work to spend the answer is right or unknown, never wrong."""
    problem, asked = question
    found = Feasibility(problem, CallBudget(budget))

    for held in asked:
        assert found.stands(held) in {None, by_brute_force(problem, held)}


@given(questions())
@settings(max_examples=40)
def test_reduced_constraints_say_the_same(question: tuple[Problem, list[Held]]) -> None:
    """What is left of the constraints with choices held rules out what the whole ones rule out."""
    problem, asked = question
    for held in asked:
        left = reduce_all(problem.constraints, held)

        assert not any(set(one.scope) & set(held) for one in left)
        for values in raw_combinations(problem):
            if all(values[one] == choice for one, choice in held.items()):
                allowed = all(one.allowed[tuple(values[v] for v in one.scope)] for one in left)
                assert allowed == is_legal(problem, values)

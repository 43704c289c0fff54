"""Legal combinations of one group against filtering all of them."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from waitwright.search.enumerate import (
    BudgetExhausted,
    CallBudget,
    LocalConstraint,
    legal_combinations,
)
from waitwright.search.problem import Problem

from . import oracle
from .strategies import problems

PLENTY = 10**9


def local(problem: Problem) -> tuple[list[int], list[LocalConstraint]]:
    """Sizes and constraints of *problem* as one group; constant tables belong to no group."""
    sizes = [variable.size for variable in problem.variables]
    return sizes, [LocalConstraint(c.scope, c.allowed) for c in problem.constraints if c.scope]


@settings(max_examples=200)
@given(problems(cloud=False))
def test_enumeration_is_filtering_all_combinations(problem: Problem) -> None:
    """The rows are all combinations that every constraint allows, in ascending order.

    Second opinion: every combination, tried one by one.
    """
    sizes, constraints = local(problem)

    rows = legal_combinations(sizes, constraints, CallBudget(PLENTY))

    assert rows.shape[1] == len(sizes)
    assert [tuple(row) for row in rows.tolist()] == [
        values
        for values in oracle.raw_combinations(problem)
        if all(c.allowed[tuple(values[v] for v in c.scope)] for c in constraints)
    ]


@given(problems(cloud=False), st.integers(0, 300))
def test_enumeration_is_complete_or_says_that_it_is_not(problem: Problem, budget: int) -> None:
    """Whatever the budget, the rows are either all of them or none at all.

    Second opinion: every combination, tried one by one.
    """
    sizes, constraints = local(problem)
    complete = legal_combinations(sizes, constraints, CallBudget(PLENTY))
    left = CallBudget(budget)

    try:
        rows = legal_combinations(sizes, constraints, left)
    except BudgetExhausted:
        assert left.left < 0
    else:
        assert np.array_equal(rows, complete)
        # An impossible variable ends the work before it begins.
        assert len(rows) <= budget - left.left


def test_combinations_are_paid_for_before_they_are_made() -> None:
    """A product of free choices that is larger than the budget takes neither time nor memory."""
    with pytest.raises(BudgetExhausted):
        legal_combinations([4] * 40, [], CallBudget(10**6))


def test_constraints_on_one_variable_narrow_its_choices_alone() -> None:
    """Unary constraints need no predicate calls: only the combinations that are left are paid for."""
    odd = LocalConstraint((0,), np.array([False, True, False, True]))
    budget = CallBudget(8)

    rows = legal_combinations([4, 4], [odd], budget)

    assert [tuple(row) for row in rows.tolist()] == list(product([1, 3], range(4)))
    assert budget.left == 0

"""No search goes on for ever."""

from __future__ import annotations

from hypothesis import given, settings

from waitwright.search.bestfirst import BestFirst, Level
from waitwright.search.enumerate import CallBudget
from waitwright.search.groups import Group
from waitwright.search.problem import Problem
from waitwright.search.structure import take_apart

from .strategies import problems


@settings(max_examples=60)
@given(problems(cloud=False))
def test_every_node_is_paid_for(problem: Problem) -> None:
    """Each node takes one from the budget of work, on top of what it takes to list the choices of groups."""
    structure = take_apart(problem)
    budget = CallBudget(10**9)
    search = BestFirst(structure, Level(0.0), budget)
    found = list(search)

    listing = CallBudget(10**9)
    groups = [Group(group, structure.conditions, structure.problem) for group in structure.groups]
    for condition in search._conditions:
        for group in groups:
            if not len(group.choices(condition, listing).costs):
                break
    assert len(found) <= search.effort.nodes
    assert listing.left - budget.left == search.effort.nodes

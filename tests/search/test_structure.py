"""Taking a problem apart: no table loses its meaning, and no way of cutting changes the answer."""

from __future__ import annotations

from collections.abc import Iterable
from unittest.mock import patch

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from waitwright.search import structure, topk
from waitwright.search.problem import Constraint, Cost, Problem, Variable
from waitwright.search.structure import Structure, components, take_apart
from waitwright.search.topk import Ranking, fastest

from . import oracle
from .strategies import levels, problems, shuffled
from .test_fastest import brute, check

MANY = settings(max_examples=200)


def cut(problem: Problem, conditions: Iterable[int]) -> Structure:
    """*problem* under *conditions* of a test's choice."""
    whole = take_apart(problem)
    fixed = frozenset(conditions) - frozenset(whole.free)
    rest = [v for v in range(len(problem.variables)) if v not in fixed and v not in whole.free]
    scopes = [frozenset(table.scope) for table in whole.problem.tables]
    return Structure(tuple(sorted(fixed)), components(rest, scopes), whole.free, whole.problem)


def flat(problem: Problem) -> Structure:
    """*problem* as one single group."""
    whole = take_apart(problem)
    rest = tuple(v for v in range(len(problem.variables)) if v not in whole.free)
    return Structure((), (rest,) if rest else (), whole.free, whole.problem)


def ranked(built: Structure, level: float = 0.0, apart: int = 1) -> Ranking:
    """The ranking that a search over *built* gives."""
    with patch.object(topk, "take_apart", lambda problem: built):
        return fastest(built.problem, count=8, odds=level, apart=apart)


@MANY
@given(problems(cloud=False), st.data())
def test_every_way_of_cutting_gives_the_flat_ranking(problem: Problem, data: st.DataObject) -> None:
    """Whichever variables are fixed first, the rated ranking is exactly that of one group of them all."""
    conditions = data.draw(st.sets(st.integers(0, len(problem.variables) - 1)))

    assert ranked(cut(problem, conditions)).best == ranked(flat(problem)).best


@MANY
@given(problems(), st.data(), levels(), st.sampled_from([1, 300]))
def test_every_way_of_cutting_gives_the_brute_force_ranking(
    problem: Problem, data: st.DataObject, level: float, apart: int
) -> None:
    """Whichever variables are fixed first, the ranking with odds is that of brute force.

    Second opinion: every combination, tried one by one.
    """
    combinations = brute(problem, level)
    conditions = data.draw(st.sets(st.integers(0, len(problem.variables) - 1)))

    for built in (flat(problem), cut(problem, conditions)):
        check(ranked(built, level, apart), combinations, 8, apart)


@MANY
@given(problems())
def test_conditions_that_are_chosen_for_little_work(problem: Problem) -> None:
    """Fixing as many variables as ever pays still gives the brute-force ranking.

    Second opinion: every combination, tried one by one.
    """
    combinations = brute(problem, 0.3)

    with patch.object(structure, "_ENOUGH", 0), patch.object(structure, "_WORTHWHILE", 1.0):
        check(fastest(problem, count=8, odds=0.3), combinations, 8, 1)


@MANY
@given(problems(cloud=False), st.data())
def test_the_order_of_tables_does_not_matter(problem: Problem, data: st.DataObject) -> None:
    """Tables in another order, with their axes turned, give the same rated ranking."""
    assert fastest(data.draw(shuffled(problem)), count=8).best == fastest(problem, count=8).best


@MANY
@given(problems(), st.data())
def test_the_order_of_tables_does_not_matter_to_odds(problem: Problem, data: st.DataObject) -> None:
    """The same with odds: the order of multiplication shows in none of the places."""
    combinations = brute(problem, 0.3)

    check(fastest(data.draw(shuffled(problem)), count=8, odds=0.3), combinations, 8, 1)


@MANY
@given(problems())
def test_trimmed_tables_say_the_same(problem: Problem) -> None:
    """Every combination is as legal, costs as much and survives as well by the trimmed tables."""
    trimmed = take_apart(problem).problem

    for values in oracle.raw_combinations(problem):
        assert oracle.is_legal(trimmed, values) == oracle.is_legal(problem, values)
        assert oracle.cost_of(trimmed, values) == oracle.cost_of(problem, values)
        assert np.isclose(oracle.odds_of(trimmed, values), oracle.odds_of(problem, values))


@MANY
@given(problems(), st.sampled_from([0, 20_000]))
def test_groups_share_no_table(problem: Problem, enough: int) -> None:
    """Every variable is a condition, free, or in one group, and no table reaches into two groups."""
    with patch.object(structure, "_ENOUGH", enough):
        built = take_apart(problem)

    members = [*built.conditions, *built.free, *(v for group in built.groups for v in group)]
    assert sorted(members) == list(range(len(problem.variables)))
    for table in built.problem.tables:
        assert sum(bool(set(group) & set(table.scope)) for group in built.groups) <= 1
        assert not set(built.free) & set(table.scope)


def test_one_option_that_touches_everything_is_fixed_first() -> None:
    """A hub with many spokes falls apart into the spokes once the hub is fixed."""
    spokes = range(1, 13)
    table = np.arange(16).reshape(4, 4)
    problem = Problem(
        tuple(Variable(f"v{n}", 4, 0) for n in range(13)),
        (),
        tuple(Cost(f"c{n}", (0, n), table) for n in spokes),
    )

    built = take_apart(problem)

    assert built.conditions == (0,)
    assert built.groups == tuple((n,) for n in spokes)


def test_two_options_that_hold_two_halves_together_are_fixed_first() -> None:
    """Where no single variable helps, a pair of them that does is found."""
    allowed = np.ones((4, 4), dtype=bool)
    allowed[0, 0] = False
    left, right, hubs = [0, 1, 2, 3], [4, 5, 6, 7], [8, 9]
    inner = [(a, b) for side in (left, right) for a in side for b in side if a < b]
    outer = [(one, hub) for one in (*left, *right) for hub in hubs]
    problem = Problem(
        tuple(Variable(f"v{n}", 4, 0) for n in range(10)),
        tuple(Constraint(f"{scope}", scope, allowed) for scope in [*inner, *outer]),
        (),
    )

    built = take_apart(problem)

    assert built.conditions == (8, 9)
    assert built.groups == ((0, 1, 2, 3), (4, 5, 6, 7))

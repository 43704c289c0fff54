"""The k fastest combinations against a walk through every combination."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from waitwright.search import groups
from waitwright.search.bestfirst import Combination, SearchObserver
from waitwright.search.problem import Constraint, Cost, Problem, Survival, Variable
from waitwright.search.topk import Ranking, fastest, first, hold

from . import oracle
from .strategies import levels, problems

MANY = settings(max_examples=200)
APARTS = st.sampled_from([1, 1, 2, 5, 300, 10**8])


def check(ranking: Ranking, combinations: list[Combination], count: int, apart: int) -> None:
    """Every place of *ranking* is what going through *combinations* gives."""
    classes = oracle.speeds(combinations, apart)
    assert ranking.proven
    assert len(ranking.best) == min(count, len(classes))
    for place, members in zip(ranking.best, classes, strict=False):
        assert oracle.is_preferred(place, members), (place, members)


def brute(problem: Problem, level: float) -> list[Combination]:
    """All combinations that reach *level*; gives the example up where rounding decides."""
    try:
        return oracle.reaching(oracle.legal(problem), level)
    except oracle.TooClose:
        assume(False)
        raise


@MANY
@given(problems(cloud=False), st.integers(1, 30), APARTS)
def test_rated_ranking_is_brute_force(problem: Problem, count: int, apart: int) -> None:
    """Without a cloud the ranking is the sorted list of all legal combinations, each speed once.

    Second opinion: every combination, tried one by one.
    """
    check(fastest(problem, count=count, apart=apart), oracle.legal(problem), count, apart)


@MANY
@given(problems(cloud=False), st.integers(1, 30))
def test_rated_ranking_names_the_one_preferred_combination(problem: Problem, count: int) -> None:
    """Of equal speeds the one with fewest changes, then first in choice order, is listed, exactly."""
    ranking = fastest(problem, count=count)

    classes = oracle.speeds(oracle.legal(problem), 1)[:count]
    assert list(ranking.best) == [min(one, key=lambda c: (c.changes, c.values)) for one in classes]


@MANY
@given(problems(), st.integers(1, 30), APARTS, levels())
def test_ranking_with_odds_is_brute_force(problem: Problem, count: int, apart: int, level: float) -> None:
    """With a cloud the ranking is the sorted list of all legal combinations that reach the odds.

    Second opinion: every combination, tried one by one.
    """
    combinations = brute(problem, level)

    check(fastest(problem, count=count, odds=level, apart=apart), combinations, count, apart)


@MANY
@given(problems(), levels(), st.data())
def test_first_is_brute_force_whatever_is_known_to_hold(
    problem: Problem, level: float, data: st.DataObject
) -> None:
    """The fastest is that of all combinations; knowing one that reaches the odds changes nothing.

    Second opinion: every combination, tried one by one.
    """
    combinations = brute(problem, level)
    at_most = (
        data.draw(st.none() | st.sampled_from([one.cost for one in combinations])) if combinations else None
    )
    best = first(problem, odds=level, at_most=at_most)

    if not combinations:
        assert best is None
    else:
        assert best is not None
        assert oracle.is_preferred(best, oracle.speeds(combinations, 1)[0])
        assert best == first(problem, odds=level)


@settings(max_examples=3)
@given(problems(cloud=False, most=100_000, least=40_000, roomy=True), st.sampled_from([1, 300]))
def test_large_rated_ranking_is_brute_force(problem: Problem, apart: int) -> None:
    """The rated ranking of up to 10^5 combinations, taken apart under conditions, is the sorted list.

    Second opinion: every combination, tried one by one.
    """
    check(fastest(problem, count=20, apart=apart), oracle.legal(problem), 20, apart)


@settings(max_examples=3)
@given(problems(most=20_000, least=10_000, roomy=True), st.sampled_from([1, 300]), levels())
def test_large_ranking_with_odds_is_brute_force(problem: Problem, apart: int, level: float) -> None:
    """With a cloud the ranking of up to 2x10^4 combinations is the sorted list of all that reach the odds.

    Second opinion: every combination, tried one by one.
    """
    combinations = brute(problem, level)

    check(fastest(problem, count=20, odds=level, apart=apart), combinations, 20, apart)


@MANY
@given(problems(), st.integers(1, 30), APARTS, levels())
def test_leaving_beaten_choices_out_loses_no_place(
    problem: Problem, count: int, apart: int, level: float
) -> None:
    """Choices of a group that another one of the same cost beats are missed by no place of the ranking."""
    combinations = brute(problem, level)
    with patch.object(groups, "_LARGEST_TIE", 0):
        all_kept = fastest(problem, count=count, odds=level, apart=apart)

    few_kept = fastest(problem, count=count, odds=level, apart=apart)
    assert few_kept.effort.rows <= all_kept.effort.rows
    for ranking in (all_kept, few_kept):
        check(ranking, combinations, count, apart)


@given(problems(), st.data())
def test_held_variables_keep_their_choice(problem: Problem, data: st.DataObject) -> None:
    """Holding variables gives the ranking of the combinations in which they have those choices."""
    fixed = {
        variable: data.draw(st.integers(0, problem.variables[variable].size - 1))
        for variable in data.draw(st.sets(st.integers(0, len(problem.variables) - 1)))
    }
    combinations = [
        one for one in brute(problem, 0.3) if all(one.values[v] == value for v, value in fixed.items())
    ]

    check(fastest(hold(problem, fixed), count=10, odds=0.3), combinations, 10, 1)


@given(problems(cloud=False), st.data())
def test_a_further_constraint_never_adds_a_combination(problem: Problem, data: st.DataObject) -> None:
    """Every combination of the narrower ranking is legal without the constraint, and no place gets faster."""
    first, second = data.draw(st.permutations(range(len(problem.variables))))[:2]
    shape = (problem.variables[first].size, problem.variables[second].size)
    allowed = np.array(
        data.draw(st.lists(st.booleans(), min_size=shape[0] * shape[1], max_size=shape[0] * shape[1]))
    )
    more = Constraint("more", (first, second), allowed.reshape(shape))
    narrower = Problem(problem.variables, (*problem.constraints, more), problem.costs)

    wide, narrow = fastest(problem, count=10).best, fastest(narrower, count=10).best
    assert len(narrow) <= len(wide)
    for before, after in zip(wide, narrow, strict=False):
        assert after.cost >= before.cost
    assert all(
        oracle.is_legal(problem, one.values) and more.allowed[one.values[first], one.values[second]]
        for one in narrow
    )


@MANY
@given(problems(), st.integers(1, 10), APARTS, st.integers(0, 400))
def test_a_search_that_gives_up_says_what_it_has_proven(
    problem: Problem, count: int, apart: int, budget: int
) -> None:
    """With too little work allowed, nothing that is missing costs less than the bound."""
    combinations = brute(problem, 0.3)
    classes = oracle.speeds(combinations, apart)

    ranking = fastest(problem, count=count, odds=0.3, apart=apart, budget=budget)

    if ranking.proven:
        check(ranking, combinations, count, apart)
        return
    assert len(ranking.best) <= count
    # Every place is right but the last one, of whose speed a better one may be still to come.
    for place, members in zip(ranking.best[:-1], classes, strict=False):
        assert oracle.is_preferred(place, members)
    if ranking.best:
        assert oracle.is_preferred(ranking.best[-1], [oracle.found(problem, ranking.best[-1].values)])
        assert ranking.best[-1].cost < classes[len(ranking.best) - 1][0].cost + apart
    missing = [one.cost for members in classes[len(ranking.best) :] for one in members]
    assert all(cost >= ranking.bound for cost in missing)


def test_enough_work_always_ends_in_a_proof() -> None:
    """The same search gives up with a budget of none and ends with one that its own effort tells."""
    ring = np.array([[True, False, True], [True, True, False], [False, True, True]])
    variables = tuple(Variable(f"v{n}", 3, 0) for n in range(6))
    problem = Problem(
        variables,
        tuple(Constraint(f"c{n}", (n, (n + 1) % 6), ring) for n in range(6)),
        (Cost("first", (0,), np.array([5, 3, 1])),),
    )

    nothing = fastest(problem, count=3, budget=0)
    assert (nothing.best, nothing.proven) == ((), False)
    assert nothing.bound <= 1
    assert [one.cost for one in fastest(problem, count=3, budget=2000).best] == [1, 3, 5]


def test_work_without_any_constraint_counts_before_it_is_done() -> None:
    """A group held together by costs alone ends the search early when it is larger than the budget."""
    rng = np.random.default_rng(3)
    pairs = [(a, b) for a in range(24) for b in range(a)]
    costs = tuple(Cost(f"c{a}-{b}", (a, b), rng.integers(0, 9, (4, 4))) for a, b in pairs)
    problem = Problem(tuple(Variable(f"v{n}", 4, 0) for n in range(24)), (), costs)

    ranking = fastest(problem, count=1, budget=100_000)

    assert (ranking.best, ranking.proven) == ((), False)


def test_combinations_without_a_predicate_count_as_work() -> None:
    """Variables of a group that no constraint touches multiply its combinations, and each one counts."""
    rng = np.random.default_rng(4)
    pairs = [(a, b) for a in range(16) for b in range(a)]
    costs = tuple(Cost(f"c{a}-{b}", (a, b), rng.integers(0, 9, (4, 4))) for a, b in pairs)
    unequal = Constraint("unequal", (0, 1), ~np.eye(4, dtype=bool))
    problem = Problem(tuple(Variable(f"v{n}", 4, 0) for n in range(16)), (unequal,), costs)

    assert not fastest(problem, count=1, budget=100_000).proven


def test_certain_odds_can_be_asked_for() -> None:
    """Odds of 1 are reached by what survives in every draw, although weights may add up to a little less."""
    weights = np.full(10, 0.1)
    weights /= np.nextafter(weights.sum(), 2)
    assert weights.sum() < 1
    draws = np.stack([np.ones(10), np.full(10, 0.99)]).astype(np.float32)
    problem = Problem(
        (Variable("v", 2, 0),),
        (),
        (Cost("c", (0,), np.array([2, 1])),),
        (Survival("s", (0,), np.array([0, 1], dtype=np.int32), draws),),
        weights,
    )

    assert [one.values for one in fastest(problem, count=2, odds=1.0).best] == [(0,)]


@pytest.mark.parametrize("allowed", [True, False])
def test_a_problem_without_variables(allowed: bool) -> None:
    """No options at all leave one combination, or none."""
    problem = Problem((), (Constraint("c", (), np.array(allowed)),), (Cost("k", (), np.array(7)),))

    assert [one.cost for one in fastest(problem, count=3).best] == ([7] if allowed else [])


def test_inert_variables_stay_as_they_are() -> None:
    """A variable that changes nothing is listed once, at its current choice."""
    problem = Problem(
        (Variable("a", 3, 2), Variable("b", 2, 1)),
        (Constraint("all", (0,), np.ones(3, dtype=bool)),),
        (Cost("b", (1, 0), np.array([[5, 5, 5], [9, 9, 9]])),),
    )

    assert fastest(problem, count=5).best == (
        Combination((2, 0), 5, 1.0, 1),
        Combination((2, 1), 9, 1.0, 0),
    )


def test_within_one_speed_and_odds_the_cheaper_one_goes_first() -> None:
    """Speeds that count as one are shown by the cheapest of those with equal odds and equal changes."""
    problem = Problem((Variable("a", 3, 0),), (), (Cost("a", (0,), np.array([90, 12, 10])),))

    assert [one.values for one in fastest(problem, count=1, apart=5).best] == [(2,)]


def test_combinations_that_survive_alike_share_their_draws() -> None:
    """A group keeps the draws of each way to survive once, however many combinations survive that way."""
    table = np.stack([np.ones(8), np.full(8, 0.9), np.full(8, 0.8)]).astype(np.float32)
    rows = np.arange(300, dtype=np.int32)[:, None] % 3
    whole = np.arange(300, dtype=np.int64)
    choices = groups.Choices(rows.astype(np.int16), whole, whole, rows, (table,), None)

    found = [choices.survival(index) for index in range(300)]

    assert found[0] is None
    assert len({id(one) for one in found}) == 3


class _Listener(SearchObserver):
    def __init__(self) -> None:
        self.heard: list[tuple[int, int]] = []
        self.bounds: list[int] = []

    def opened(self, conditions: int, of: int) -> None:
        self.heard.append((conditions, of))

    def bound(self, cost: int) -> None:
        self.bounds.append(cost)


@given(problems(cloud=False))
def test_progress_is_told(problem: Problem) -> None:
    """Conditions are counted up to at most all of them, and the bound only rises, up to the last place."""
    listener = _Listener()

    ranking = fastest(problem, count=5, observer=listener)

    assert [count for count, _ in listener.heard] == list(range(1, ranking.effort.conditions + 1))
    assert all(count <= of for count, of in listener.heard)
    assert listener.bounds == sorted(set(listener.bounds))
    if ranking.best:
        assert max(listener.bounds, default=0) >= ranking.best[-1].cost

"""The trade-off of speed against odds, against a walk through every combination."""

from __future__ import annotations

from itertools import pairwise
from unittest.mock import patch

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from waitwright.search import groups
from waitwright.search.bestfirst import Combination, Level
from waitwright.search.problem import Cost, Problem, Survival, Variable
from waitwright.search.topk import NOTICEABLE, frontier

from . import oracle
from .strategies import problems, shuffled

MANY = settings(max_examples=300)


def points(problem: Problem, least: float) -> list[list[Combination]]:
    """The frontier by brute force; gives the example up where rounding decides."""
    try:
        return oracle.trade_off(oracle.legal(problem), least)
    except oracle.TooClose:
        assume(False)
        raise


def check(problem: Problem, least: float, expected: list[list[Combination]]) -> None:
    """The search finds the *expected* frontier."""
    ranking = frontier(problem, least_odds=least)
    assert ranking.proven
    assert len(ranking.best) == len(expected)
    for place, members in zip(ranking.best, expected, strict=True):
        assert oracle.is_preferred(place, members), (place, members)


@MANY
@given(problems(), st.floats(0.0, 0.9))
def test_frontier_is_brute_force(problem: Problem, least: float) -> None:
    """The frontier lists, by cost, whatever is noticeably safer than everything faster.

    Second opinion: every combination, tried one by one.
    """
    check(problem, least, points(problem, least))


@settings(max_examples=3)
@given(problems(most=20_000, least=10_000, roomy=True))
def test_large_frontier_is_brute_force(problem: Problem) -> None:
    """The frontier of up to 2x10^4 combinations is whatever is noticeably safer than everything faster.

    Second opinion: every combination, tried one by one.
    """
    check(problem, 0.05, points(problem, 0.05))


@given(problems(), st.data())
def test_the_order_of_tables_does_not_matter(problem: Problem, data: st.DataObject) -> None:
    """Tables in another order, with their axes turned, give the same frontier."""
    check(data.draw(shuffled(problem)), 0.05, points(problem, 0.05))


@given(problems())
def test_leaving_beaten_choices_out_loses_no_point(problem: Problem) -> None:
    """Choices that a cheaper and safer one of the same group beats are missed by no point."""
    expected = points(problem, 0.05)

    check(problem, 0.05, expected)
    with patch.object(groups, "_LARGEST_TIE", 0):
        check(problem, 0.05, expected)


@given(problems())
def test_every_point_is_slower_and_safer_than_the_one_before(problem: Problem) -> None:
    """Along the frontier both cost and odds rise strictly."""
    best = frontier(problem, least_odds=0.05).best

    for faster, slower in pairwise(best):
        assert slower.cost > faster.cost
        assert slower.odds > faster.odds


@given(problems(), st.integers(0, 300))
def test_a_frontier_that_is_not_finished_is_its_beginning(problem: Problem, budget: int) -> None:
    """With too little work allowed, the points before the bound are those of the whole frontier."""
    expected = points(problem, 0.05)

    ranking = frontier(problem, least_odds=0.05, budget=budget)

    assert len(ranking.best) <= len(expected)
    if not ranking.proven:
        for place, members in zip(ranking.best[:-1], expected, strict=False):
            assert oracle.is_preferred(place, members)
        for members in expected[len(ranking.best) :]:
            assert members[0].cost >= ranking.bound


@given(problems(cloud=False))
def test_without_a_cloud_the_frontier_is_the_fastest_combination(problem: Problem) -> None:
    """Where all odds are certain nothing is safer than the fastest."""
    legal = oracle.legal(problem)

    best = frontier(problem, least_odds=0.05).best

    fastest = [one for one in legal if one.cost == legal[0].cost]
    assert list(best) == ([min(fastest, key=lambda c: (c.changes, c.values))] if legal else [])


def test_ties_do_not_depend_on_which_comes_first() -> None:
    """Of equal cost and percent the one with fewer changes is listed, whichever is found first."""
    draws = np.array([[1.0], [0.9032], [0.9030], [0.95]], dtype=np.float32)
    rows = np.array([1, 2, 3], dtype=np.int32)
    for current in (0, 1):
        problem = Problem(
            (Variable("v", 3, current),),
            (),
            (Cost("c", (0,), np.array([4, 4, 7])),),
            (Survival("s", (0,), rows, draws),),
            np.ones(1),
        )

        assert [one.values for one in frontier(problem, least_odds=0.05).best] == [(current,), (2,)]


def test_a_level_rises_for_what_is_dearer_only() -> None:
    """A level set from one cost on never falls, and leaves that cost and cheaper ones as they were."""
    level = Level(0.2)
    assert level.at(10**9) == 0.2

    level.rise(10, 0.5)
    level.rise(10, 0.4)
    assert (level.at(10), level.at(11)) == (0.2, 0.5)
    level.rise(12, 0.3)
    assert (level.at(12), level.at(13)) == (0.5, 0.5)
    level.rise(14, 0.5 + NOTICEABLE)
    assert (level.at(14), level.at(15)) == (0.5, 0.5 + NOTICEABLE)

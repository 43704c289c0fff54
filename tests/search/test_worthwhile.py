"""The list of what is worth telling, against a walk through every combination."""

from __future__ import annotations

from itertools import combinations, pairwise

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from waitwright.search.bestfirst import Combination
from waitwright.search.problem import Problem
from waitwright.search.worthwhile import worthwhile

from . import oracle
from .strategies import problems, shuffled

MANY = settings(max_examples=300)


def as_good(one: Combination, other: Combination) -> bool:
    """Whether *one* is as fast as *other*, as safe in percent, and no more of a change: all three."""
    safe, safe_too = round(100 * one.odds), round(100 * other.odds)
    return not (one.cost > other.cost or safe < safe_too or one.changes > other.changes)


def expected(problem: Problem, level: float) -> list[list[Combination]]:
    """For each place of the list, what may stand there; gives the example up where rounding decides."""
    try:
        reaching = oracle.reaching(oracle.legal(problem), level)
    except oracle.TooClose:
        assume(False)
        raise
    assume(not any(abs((100 * one.odds) % 1 - 0.5) < 1e-3 for one in reaching))
    places: list[list[Combination]] = []
    for members in oracle.speeds(reaching, 1):
        # Safest first: of one speed, a less safe one is listed only if it changes less.
        for safest in sorted({(-round(one.odds, 2), one.changes) for one in members}):
            alike = [one for one in members if (-round(one.odds, 2), one.changes) == safest]
            known = [one for place in places for one in place]
            if not any(as_good(one, alike[0]) for one in known):
                places.append(alike)
        if places and places[-1][0].changes == 0:
            break
    return places


def check(
    problem: Problem, level: float, places: list[list[Combination]], count: int, apart: int = 1
) -> None:
    """The search lists what is expected, once for each set of as good as the same speed."""
    sets: list[list[Combination]] = []
    for place in places:
        if sets and place[0].cost < sets[-1][0].cost + apart:
            sets[-1] += place
        else:
            sets.append(list(place))
    # The first place is that of the very fastest.
    places = [places[0], *sets[1:]] if places else []
    ranking = worthwhile(problem, count=count, odds=level, apart=apart)
    assert ranking.proven
    assert len(ranking.best) == min(count, len(places))
    for chosen, members in zip(ranking.best, places, strict=False):
        assert oracle.is_preferred(chosen, members), (chosen, members)


@MANY
@given(problems(), st.floats(0.0, 0.9), st.integers(1, 12), st.sampled_from([1, 2, 7, 50]))
def test_list_is_brute_force(problem: Problem, level: float, count: int, apart: int) -> None:
    """Listed is, by cost, what nothing as fast beats in odds (in percent) and number of changes.

    Second opinion: every combination, tried one by one.
    """
    check(problem, level, expected(problem, level), count, apart)


@settings(max_examples=3)
@given(problems(most=20_000, least=10_000, roomy=True))
def test_large_list_is_brute_force(problem: Problem) -> None:
    """Of up to 2x10^4 combinations, too, the list is what nothing as fast beats in odds and changes.

    Second opinion: every combination, tried one by one.
    """
    check(problem, 0.3, expected(problem, 0.3), 20)


@given(problems(), st.data())
def test_the_order_of_tables_does_not_matter(problem: Problem, data: st.DataObject) -> None:
    """Tables in another order, with their axes turned, give the same list."""
    check(data.draw(shuffled(problem)), 0.2, expected(problem, 0.2), 10)


@given(problems())
def test_nothing_listed_is_beaten(problem: Problem) -> None:
    """Costs rise, and nothing on the list is beaten by something faster on it."""
    best = worthwhile(problem, count=20, odds=0.1).best

    assert all(faster.cost < slower.cost for faster, slower in pairwise(best))
    assert not any(as_good(a, b) for a, b in combinations(best, 2))

"""Ranking of machines against the exact engine, asked about every combination one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from waitwright.api.opening import Question, find_workload, put_on_bench
from waitwright.api.rank import Wish, rank
from waitwright.belief.outlook import Outlook, outlook
from waitwright.search.bestfirst import Combination
from waitwright.search.compile import choice_numbers, compile_likely, compile_rated, settings_of
from waitwright.search.problem import Problem
from waitwright.search.topk import fastest
from waitwright.timing.margins import margins
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

from . import oracle
from .grid import Grid, spread
from .machines import PACKED, Workshop, large, workshops
from .test_fastest import check


def exactly(shop: Workshop, problem: Problem, view: Outlook | None = None) -> list[Combination]:
    """Every combination that the exact engine lets stand, with cost and odds of its own, cheapest first.

    Costs are held against the exact times to within the rounding of each event to whole picoseconds.

    Args:
        view: Gives the odds; logic alone decides then what stands.
    """
    kept = []
    for chosen in shop.settings():
        if not (shop.stands(chosen) if view is None else shop.is_logical(chosen)):
            continue
        values = choice_numbers(shop.machine, chosen)
        cost = oracle.cost_of(problem, values)
        assert abs(cost - shop.cost(chosen)) <= len(problem.costs) / 2 + 1e-3
        odds = 1.0 if view is None else view.odds(chosen)
        kept.append(Combination(values, cost, odds, oracle.changes_of(problem, values)))
    return sorted(kept, key=lambda one: one.cost)


def gathered(shop: Workshop, problem: Problem, view: Outlook | None = None) -> list[Combination]:
    """As :func:`exactly`, for large machines: rule by rule, then a hundred combinations judged whole."""
    grid = Grid(shop)
    costs = np.zeros(grid.shape, dtype=np.int64)
    for cost in problem.costs:
        costs += spread(cost.values, cost.scope, grid.shape)
    assert np.abs(costs - grid.cost).max() <= len(problem.costs) / 2 + 1e-3

    standing = grid.rated if view is None else grid.logical
    some = Random(5).sample(range(standing.size), 100)
    for place in zip(*np.unravel_index(some, grid.shape), strict=True):
        chosen = settings_of(shop.machine, place)
        assert standing[place] == (shop.stands(chosen) if view is None else shop.is_logical(chosen))
        assert grid.cost[place] == pytest.approx(float(shop.cost(chosen)), rel=1e-12)

    kept = []
    for values in map(tuple, np.argwhere(standing).tolist()):
        odds = 1.0 if view is None else view.odds(settings_of(shop.machine, values))
        kept.append(Combination(values, int(costs[values]), odds, oracle.changes_of(problem, values)))
    return sorted(kept, key=lambda one: one.cost)


@settings(max_examples=12)
@given(workshops(free=5, most=150), st.sampled_from([1, 10_000]))
def test_rated_ranking_of_a_machine_is_brute_force(shop: Workshop, apart: int) -> None:
    """The rated ranking lists what the exact engine lets stand, by exact time.

    Second opinion: every combination, tried one by one, by the exact engine.
    """
    problem = compile_rated(shop.machine, shop.rules, event_tables(shop.machine, shop.work))
    combinations = exactly(shop, problem)

    assert combinations == oracle.legal(problem)
    check(fastest(problem, count=10, apart=apart), combinations, 10, apart)


@pytest.mark.parametrize("seed", [3, 10])
def test_rated_ranking_of_a_large_machine_is_brute_force(seed: int) -> None:
    """The rated ranking of machines of about 10^5 combinations is what the exact engine lets stand.

    Second opinion: every combination, tried one by one, by the exact engine.
    """
    shop = large(seed, most=200_000)
    problem = compile_rated(shop.machine, shop.rules, event_tables(shop.machine, shop.work))
    combinations = gathered(shop, problem)

    assert problem.raw_size >= 100_000
    assert len(combinations) > 100
    check(fastest(problem, count=50), combinations, 50, 1)


@settings(max_examples=12)
@given(workshops(free=5, most=150), st.sampled_from([1, 10_000]), st.floats(0.01, 0.98))
def test_ranking_of_a_machine_with_odds_is_brute_force(shop: Workshop, apart: int, wish: float) -> None:
    """With odds, the ranking lists what logic allows and the outlook of one combination at a time favours.

    Second opinion: every combination, tried one by one, by the outlook of a single one.
    """
    events = event_tables(shop.machine, shop.work)
    view = outlook(shop.machine, shop.rules)
    problem = compile_likely(shop.machine, shop.rules, events, view.tables, view.cloud)
    combinations = exactly(shop, problem, view)
    level = clear_level(combinations, wish)

    ranking = fastest(problem, count=10, odds=level, apart=apart)

    check(ranking, [one for one in combinations if one.odds >= level], 10, apart)


def clear_level(combinations: list[Combination], wish: float) -> float:
    """The level nearest to *wish* that no odds come close to: half way between two of them."""
    steps = pairwise(sorted({0.0, 1.0, *(one.odds for one in combinations)}))
    halves = [(below + above) / 2 for below, above in steps if above - below > 10 * oracle.CLOSE]
    return min(halves, key=lambda half: abs(half - wish))


@pytest.mark.parametrize("seed", [6, 13])
def test_ranking_of_a_large_machine_with_odds_is_brute_force(seed: int) -> None:
    """With odds, machines of about 10^4 combinations are ranked right at low, middling and high odds.

    Second opinion: every combination, tried one by one, by the outlook of a single one.
    """
    shop = large(seed, most=20_000)
    view = outlook(shop.machine, shop.rules)
    problem = compile_likely(
        shop.machine, shop.rules, event_tables(shop.machine, shop.work), view.tables, view.cloud
    )
    combinations = gathered(shop, problem, view)

    assert problem.raw_size >= 10_000
    sizes = [len(combinations)]
    for wish in (0.1, 0.5, 0.95):
        level = clear_level(combinations, wish)
        wanted = [one for one in combinations if one.odds >= level]
        check(fastest(problem, count=50, odds=level), wanted, 50, 1)
        sizes.append(len(wanted))
    assert len(set(sizes)) >= 3, "the levels must tell combinations apart"


@settings(max_examples=4)
@given(st.sampled_from(PACKED), st.data())
def test_rank_lists_what_stands_among_the_free_options(name: str, data: st.DataObject) -> None:
    """``rank`` with all but four options fixed names every speed that stands, in order, with its gain."""
    bench = put_on_bench(Question(name))
    machine = replace(bench.machine, current=bench.settings)
    order = data.draw(st.permutations(machine.options))
    free, fixed = order[:4], order[4:]
    pricer = Pricer(machine, event_tables(machine, find_workload(machine.rulebook, None)))
    standing = []
    for chosen in product(*([choice.id for choice in option.choices] for option in free)):
        tried = machine.settings_with(dict(zip([option.id for option in free], chosen, strict=True)))
        if margins(machine, bench.rules, tried).stands:
            standing.append(tried)
    speeds = sorted({pricer.total(tried) for tried in standing})

    wish = Wish(rated=True, top=len(speeds) + 1, fix=tuple(str(o.id) for o in fixed), apart=0, every=True)
    view = rank(Question(name), wish)

    assert view.verdict == ("all" if speeds else "none")
    baseline = pricer.total(machine.current)
    assert [one.gain for one in view.results] == [round(gain(baseline, cost), 6) for cost in speeds]
    listed = [{str(o): str(c) for o, c in tried.items()} for tried in standing]
    assert all(one.settings in listed for one in view.results)


@pytest.mark.parametrize("name", PACKED)
def test_choice_numbers_and_settings_name_the_same(name: str) -> None:
    """Settings turned to numbers and back are the same settings."""
    machine = put_on_bench(Question(name)).machine

    assert settings_of(machine, choice_numbers(machine, machine.current)) == machine.current

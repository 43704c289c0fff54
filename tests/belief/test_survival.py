"""Survival tables against computations of another kind: ledgers draw by draw, and scipy's quadrature."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import reduce
from math import exp

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, stats

from waitwright._resources import packed_logbook, packed_names
from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import Cloud, cloud_at, prior_cloud
from waitwright.belief.evidence import joint_survivals, log_survival
from waitwright.belief.faults import faults_of, latents_with_faults
from waitwright.belief.hazard import RATE_AT_EDGE, STEEPNESS_PS, STEEPNESS_SHARE
from waitwright.belief.latents import (
    SURROUNDINGS,
    UNKNOWN_ABILITY,
    UNKNOWN_DELAY,
    Latents,
    ability_name,
    delay_name,
    latents_of,
)
from waitwright.belief.outlook import Outlook, outlook
from waitwright.belief.strikes import Strikes, log_rate_of
from waitwright.belief.survival import RuleSurvival, survivals
from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine, Member
from waitwright.machine.facts import OverlaidFacts
from waitwright.rulebook.domain import Budget, Limit
from waitwright.timing.bind import Bound, BoundRules
from waitwright.timing.margins import BudgetMargin, LimitMargin, margins

from .bench import (
    ABILITY_RATIO,
    ABILITY_SIGMA,
    CLOCKS,
    DELAY_RATIO,
    DELAY_SIGMA,
    at,
    packed_machine,
    small_machine,
)

Floats = NDArray[np.float64]

MACHINES = packed_names("machines")
HOURS = 10.0


def gumbel(margin: Floats, steepness: float) -> Floats:
    """Odds of surviving the soak at *margin*, by scipy."""
    centre = steepness * np.log(HOURS * RATE_AT_EDGE)
    with np.errstate(over="ignore"):  # hopeless margins are as good as none
        return np.asarray(stats.gumbel_r.cdf(margin, loc=centre, scale=steepness))


def random_settings(machine: Machine, count: int, seed: int) -> list[Settings]:
    """Combinations of random choices; half of the options keep their current one."""
    random = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        settings = dict(machine.current)
        for option in machine.options:
            if random.random() < 0.5:
                settings[option.id] = option.choices[random.integers(len(option.choices))].id
        found.append(settings)
    return found


def row(machine: Machine, table: RuleSurvival, settings: Settings) -> Floats:
    """The survival of one rule in each draw."""
    return np.exp(log_survival(machine, [table], settings)[0])


# -------------------------------------------------------------------- draw by draw, from ledgers


def members(machine: Machine, bound: Bound[Budget] | Bound[Limit], role: str) -> tuple[Member, ...]:
    """The parts that a rule means by *role*."""
    own = bound.member
    return (own,) if own is not None and own.role == role else machine.members.get(role, ())


def by_ledger(
    machine: Machine, cloud: Cloud, margin: BudgetMargin | LimitMargin, settings: Settings
) -> Floats:
    """Survival in each draw from an exact ledger, whose lines are scaled one by one.

    Where several parts share a role, each needs its own time, and the longest counts.
    """
    facts = FactTable(machine, settings).under(margin.bound.member)
    if isinstance(margin, LimitMargin):
        return limit_by_ledger(machine, cloud, margin, facts)
    total = np.zeros(cloud.draws)
    for line in margin.sources:
        total += float(line.time or 0)
    terms = [term for term in margin.bound.rule.spend if term.when is None or facts.value(term.when)]
    for line, term in zip(margin.delays, terms, strict=True):
        parts = members(machine, margin.bound, line.part)
        needs = [
            float(facts.under(one).value(term.time) or 0)
            * cloud.factor(delay_name(one.item.slot, one.item.part.id))
            * cloud.factor(SURROUNDINGS)
            for one in parts
        ]
        total -= reduce(np.maximum, needs) if needs else float(line.time or 0)
    return gumbel(total, STEEPNESS_PS)


def limit_by_ledger(
    machine: Machine, cloud: Cloud, margin: LimitMargin, facts: FactTable | OverlaidFacts
) -> Floats:
    """The same for a limit; of several parts the first to give way decides."""
    rule = margin.bound.rule
    parts = members(machine, margin.bound, rule.part)
    if not parts:
        return np.full(cloud.draws, float(margin.verdict == "holds"))
    distances = []
    for one in parts:
        own = facts.under(one)
        value, rating = float(own.value(rule.quantity) or 0), float(own.value(rule.rating) or 0)
        ability = cloud.factor(ability_name(one.item.slot, one.item.part.id))
        distance = rating * ability - value if rule.sense == "at most" else value - rating / ability
        distances.append(distance / rating)
    return gumbel(reduce(np.minimum, distances), STEEPNESS_SHARE)


@pytest.mark.parametrize("name", MACHINES)
def test_tables_agree_with_the_exact_ledgers_draw_by_draw(name: str) -> None:
    """Under random settings every rule survives in each draw as its scaled ledger says."""
    machine, rules = packed_machine(name)
    cloud = prior_cloud(machine, seed=1, draws=256)
    tables = {table.bound.id: table for table in survivals(machine, rules, cloud, hours=HOURS)}
    risky = 0

    for settings in random_settings(machine, 25, seed=7):
        found = margins(machine, rules, settings)
        found_margins: list[BudgetMargin | LimitMargin] = [*found.budgets, *found.limits]
        judged = {margin.bound.id: margin for margin in found_margins}
        for rule, table in tables.items():
            ours = row(machine, table, settings)
            margin = judged.get(rule)
            if margin is None or margin.verdict == "unchecked":
                assert (ours == 1).all(), rule
                continue
            theirs = by_ledger(machine, cloud, margin, settings)
            np.testing.assert_allclose(ours, theirs, atol=2e-6, rtol=0, err_msg=rule)
            risky += bool(theirs.min() < 0.5)
    assert risky > 20


@pytest.mark.parametrize("name", MACHINES)
def test_every_rule_that_decides_has_a_table_and_no_other(name: str) -> None:
    """Advisory rules are left out, all others are in, budgets before limits."""
    machine, rules = packed_machine(name)
    tables = survivals(machine, rules, prior_cloud(machine, draws=2), hours=4)
    budgets = [bound.id for bound in rules.budgets if not bound.rule.advisory]
    limits = [bound.id for bound in rules.limits if not bound.rule.advisory]

    assert [table.bound.id for table in tables] == budgets + limits


@pytest.mark.parametrize("name", MACHINES)
def test_causes_of_failure_are_the_rules_that_the_tables_call_risky(name: str) -> None:
    """What may stop a combination strikes in each draw at the rate behind the table; the rest is safe."""
    machine, rules = packed_machine(name)
    for settings in random_settings(machine, 12, seed=5):
        assert_causes_agree(machine, rules, settings)


def assert_causes_agree(machine: Machine, rules: BoundRules, settings: Settings) -> None:
    """Causes and tables of one combination say the same in every draw."""
    cloud = prior_cloud(machine, seed=1, draws=64)
    causes = {cause.rule: cause for cause in causes_of(machine, rules, cloud.latents, settings)}
    for table in survivals(machine, rules, cloud, hours=HOURS):
        ours = row(machine, table, settings)
        cause = causes.get(table.bound.id)
        theirs = np.ones(cloud.draws) if cause is None else np.exp(-HOURS * np.exp(log_rate_of(cause, cloud)))
        np.testing.assert_allclose(ours, theirs, atol=3e-6, rtol=0, err_msg=table.bound.id)


@pytest.mark.parametrize("name", ["tollgate-386dx33", "saltpan-486dx40"])
def test_many_causes_together_strike_as_each_alone(name: str) -> None:
    """Rates of all causes at once are those of one cause after the other, in clouds of any size."""
    machine, rules = packed_machine(name)
    for settings, draws in zip(random_settings(machine, 3, seed=6), (1, 128, 2048), strict=True):
        latents = latents_with_faults(machine)
        cloud = prior_cloud(machine, seed=2, draws=draws, latents=latents)
        causes = (*causes_of(machine, rules, latents, settings), *faults_of(machine, latents, settings))
        together = Strikes(causes).log_rates(cloud)
        assert together.shape == (len(causes), draws)
        for cause, logs in zip(causes, together, strict=True):
            np.testing.assert_allclose(logs, log_rate_of(cause, cloud), rtol=1e-9, atol=1e-9)


def test_joint_survivals_are_the_product_over_all_rules() -> None:
    """Survival of several combinations at once is the product of each rule's, draw by draw."""
    machine, rules = packed_machine("tollgate-486dx2")
    cloud = prior_cloud(machine, seed=3, draws=128)
    tables = survivals(machine, rules, cloud, hours=HOURS)
    wishes = [machine.current, *random_settings(machine, 5, seed=7)]
    joint = joint_survivals(machine, tables, wishes, cloud.draws)
    for wish, ours in zip(wishes, joint, strict=True):
        theirs = np.exp(np.sum(log_survival(machine, tables, wish), axis=0))
        np.testing.assert_allclose(ours, theirs, atol=1e-6)
    assert joint.min() < 0.01 and joint.max() > 0.9
    assert joint_survivals(machine, tables, [], cloud.draws).shape == (0, 128)


# ----------------------------------------------------------------------------------- quadrature


def small_outlook(*, cache: str = '"ram-20"', memory: str = "", more: str = "") -> Outlook:
    """The outlook of a small machine for a soak of some hours."""
    machine, rules = small_machine(cache=cache, memory=memory, more=more)
    return outlook(machine, rules, hours=HOURS)


def expected(survives: Callable[[float], float]) -> float:
    """The mean of *survives* over one standard normal unknown, by quadrature."""
    value, _ = integrate.quad(
        lambda z: stats.norm.pdf(z) * survives(z), -8, 8, limit=400, points=np.linspace(-4, 4, 17)
    )
    return float(value)


def delay(z: float, sigma: float = DELAY_SIGMA) -> float:
    """A delay's factor without its surroundings."""
    return DELAY_RATIO * exp(sigma * z)


def ability(z: float) -> float:
    """An ability's factor."""
    return ABILITY_RATIO * exp(ABILITY_SIGMA * z)


def soak(margin: float, steepness: float) -> float:
    """Odds of surviving the soak at *margin*, written out."""
    return exp(-HOURS * RATE_AT_EDGE * exp(min(-margin / steepness, 500.0)))


@pytest.mark.parametrize("clock", CLOCKS)
def test_a_limit_with_one_unknown_is_its_integral(clock: str) -> None:
    """Odds of one clock rating equal the integral over its part's ability, to 3 in 1000."""
    odds = small_outlook().rule_odds(at(clock))
    value = float(clock)

    top = expected(lambda z: soak((33 * ability(z) - value) / 33, STEEPNESS_SHARE))
    low = expected(lambda z: soak((value - 20 / ability(z)) / 20, STEEPNESS_SHARE))
    assert odds["cpu.top"] == pytest.approx(top, abs=3e-3)
    assert odds["cpu.low"] == pytest.approx(low, abs=3e-3)


@pytest.mark.parametrize("clock", CLOCKS)
def test_a_budget_of_one_delay_is_its_integral(clock: str) -> None:
    """Odds of a budget with one part's delay equal the integral over part and surroundings together."""
    view = small_outlook()
    surroundings = view.cloud.latents.items[view.cloud.latents.index(SURROUNDINGS)]
    middle, sigma = exp(surroundings.mean), float(np.hypot(DELAY_SIGMA, surroundings.sigma))
    half = 500_000 / float(clock)

    odds = expected(lambda z: soak(half - 20_000 * middle * delay(z, sigma), STEEPNESS_PS))
    assert view.rule_odds(at(clock))["access"] == pytest.approx(odds, abs=3e-3)
    assert view.rule_odds(at(clock))["output"] == pytest.approx(odds, abs=3e-3)


def calm(machine: Machine, draws: int = 2048) -> Cloud:
    """A cloud in surroundings that do not vary, so that two unknowns are left in a budget of two parts."""
    cloud = prior_cloud(machine, draws=draws)
    items = tuple(
        replace(one, mean=0.0, sigma=0.0) if one.name == SURROUNDINGS else one for one in cloud.latents.items
    )
    return cloud_at(Latents(items), cloud.z, cloud.weights)


def rule_rows(machine: Machine, rules: BoundRules, cloud: Cloud, clock: str) -> Mapping[str, Floats]:
    """Each rule's survival by draw at one clock."""
    tables = survivals(machine, rules, cloud, hours=HOURS)
    return {table.bound.id: row(machine, table, at(clock)) for table in tables}


@pytest.mark.parametrize("clock", ["30", "33", "36"])
def test_a_budget_of_two_delays_is_its_double_integral(clock: str) -> None:
    """Odds of a budget with the delays of two parts equal the integral over both.

    Second opinion: scipy's quadrature.
    """
    machine, rules = small_machine()
    cloud = calm(machine)
    period = 1_000_000 / float(clock)

    def inside(one: float, other: float) -> float:
        left = period - 20_000 * (delay(one) + delay(other))
        return float(stats.norm.pdf(one) * stats.norm.pdf(other)) * soak(left, STEEPNESS_PS)

    odds, _ = integrate.dblquad(inside, -6, 6, -6, 6, epsabs=1e-5, epsrel=1e-5)
    assert cloud.weights @ rule_rows(machine, rules, cloud, clock)["read"] == pytest.approx(odds, abs=3e-3)


def test_of_parts_that_nothing_is_known_of_99_in_100_keep_their_data_sheet() -> None:
    """A part without spread, run just at its rating or with no time to spare, survives 99 soaks in 100."""
    ratio, sigma = UNKNOWN_ABILITY
    able = expected(lambda z: soak(ratio * exp(sigma * z) - 1, STEEPNESS_SHARE))
    surroundings = latents_of(small_machine()[0]).items[0]
    ratio, sigma = UNKNOWN_DELAY[0] * exp(surroundings.mean), np.hypot(UNKNOWN_DELAY[1], surroundings.sigma)
    timely = expected(lambda z: soak(30_000 * (1 - ratio * exp(sigma * z)), STEEPNESS_PS))

    assert able == pytest.approx(0.99, abs=0.005)
    assert timely == pytest.approx(0.99, abs=0.005)


# ---------------------------------------------------------------------------- shared part factors


def covariance(weights: Floats, one: Floats, other: Floats) -> float:
    """Weighted covariance of two survivals: 0 where they have nothing in common."""
    return float(weights @ (one * other) - (weights @ one) * (weights @ other))


@pytest.mark.parametrize("clock", ["32", "33", "34", "36"])
def test_rules_that_share_a_part_hold_and_fail_together(clock: str) -> None:
    """Where budgets share a part, odds of the whole are clearly above the product of their odds."""
    view = small_outlook()
    alone = view.rule_odds(at(clock))

    assert view.odds(at(clock)) > float(np.prod(list(alone.values()))) + 0.02


def test_rules_of_different_parts_are_independent() -> None:
    """In surroundings that do not vary, odds of budgets without a common part multiply."""
    machine, rules = small_machine()
    cloud = calm(machine)

    for clock in ("34", "36", "38"):
        rows = rule_rows(machine, rules, cloud, clock)
        assert abs(covariance(cloud.weights, rows["access"], rows["output"])) < 3e-3
        assert covariance(cloud.weights, rows["access"], rows["read"]) > 0.02


def test_surroundings_tie_all_delays_together() -> None:
    """Budgets without a common part still hold and fail together through their surroundings."""
    view = small_outlook(more="[environment]\ncase_c = 25")
    rows = rule_rows(*small_machine(), view.cloud, "36")
    weights = view.cloud.weights
    still = rule_rows(*small_machine(), calm(view.machine), "36")

    assert covariance(weights, rows["access"], rows["output"]) > 0.003
    assert abs(covariance(weights, still["access"], still["output"])) < 0.001


# ------------------------------------------------------------------------------ mixed banks, limits

MIXED = '[{ part = "ram-20", count = 2 }, { part = "ram-15", count = 2 }]'


@pytest.mark.parametrize("clock", ["30", "34", "40"])
def test_in_a_mixed_bank_the_worst_part_decides_in_each_draw(clock: str) -> None:
    """Each part of a mixed bank has its own delay, rating and factors; the one that binds decides."""
    machine, rules = small_machine(cache=MIXED)
    cloud = prior_cloud(machine, draws=512)
    rows = rule_rows(machine, rules, cloud, clock)

    def factor(grade: int, kind: str) -> Floats:
        return cloud.factor(f"cache/ram-{grade}/{kind}")

    slowest = np.maximum(20_000 * factor(20, "delay"), 15_000 * factor(15, "delay"))
    margin = 500_000 / float(clock) - slowest * cloud.factor(SURROUNDINGS)
    np.testing.assert_allclose(rows["access"], gumbel(margin, STEEPNESS_PS), atol=2e-6, rtol=0)
    shares = [
        (rated * factor(grade, "ability") - float(clock)) / rated for grade, rated in ((20, 33), (15, 40))
    ]
    np.testing.assert_allclose(
        rows["ram.top"], gumbel(np.minimum(*shares), STEEPNESS_SHARE), atol=2e-6, rtol=0
    )


def test_causes_of_failure_know_each_part_of_a_mixed_bank() -> None:
    """With a mixed cache bank, causes and tables agree as well."""
    machine, rules = small_machine(cache=MIXED)

    for clock in ("17", "30", "34", "40", "42"):
        assert_causes_agree(machine, rules, at(clock))


def test_a_second_part_in_a_bank_only_costs() -> None:
    """Odds with a mixed bank are no better than with either part alone, and worse than the better one's."""
    mixed = small_outlook(cache=MIXED).odds(at("32"))
    slow, quick = small_outlook().odds(at("32")), small_outlook(cache='"ram-15"').odds(at("32"))

    assert mixed < quick
    assert mixed <= slow + 3e-3


def test_a_rating_that_no_part_bears_is_kept_or_not() -> None:
    """A bare count has odds 1 up to and at its rating, and 0 past it."""
    view = small_outlook()

    odds = [view.rule_odds(at(clock))["board.top"] for clock in ("38", "40", "42")]
    assert odds == pytest.approx([1, 1, 0], abs=1e-9)


def test_the_sense_of_a_limit_is_respected() -> None:
    """A better part bears a higher clock and a lower one; odds fall on the side of the rating only."""
    view = small_outlook()
    top = [view.rule_odds(at(clock))["cpu.top"] for clock in CLOCKS]
    low = [view.rule_odds(at(clock))["cpu.low"] for clock in CLOCKS]

    assert top == sorted(top, reverse=True)
    assert low == sorted(low)
    assert (top[0], low[-1]) == (1, 1)
    machine, rules = small_machine()
    rows = rule_rows(machine, rules, view.cloud, "17")["cpu.low"]
    able = view.cloud.factor(ability_name("cpu", "cpu"))
    assert rows[able > 1.25].min() > 0.98
    assert rows[able < 1.1].max() < 0.01


def test_slow_refresh_is_borne() -> None:
    """Modules that keep their charge some fifty times as long as promised bear 60 us a row."""
    view = small_outlook(memory='{ part = "module", size_mb = 1, refresh = "rows" }')

    assert view.rule_odds(at("25"))["refresh"] > 0.99


def test_a_rule_that_does_not_apply_survives() -> None:
    """A limit whose numbers are unknown, since no memory is fitted, costs nothing."""
    assert small_outlook().rule_odds(at("25"))["refresh"] == 1


def test_supply_is_not_excused_by_a_good_part() -> None:
    """A supply outside of the CPU's rating has no odds, however able the CPU is."""
    machine, rules = packed_machine("tollgate-486dx2")
    low = replace(machine, constants={**machine.constants, "cpu.supply_min": Fraction(11, 2)})

    odds = outlook(low, rules, only=low.current).rule_odds(low.current)
    assert odds["cpu.supply.min"] < 1e-9
    assert odds["cpu.supply.max"] == pytest.approx(1)


# ------------------------------------------------------------------------------- the whole outlook


@pytest.mark.parametrize("name", MACHINES)
def test_one_combination_alone_has_the_odds_of_the_whole_table(name: str) -> None:
    """Tabulating one combination only gives the same odds, rule by rule, as tabulating all."""
    machine, rules = packed_machine(name)
    whole = outlook(machine, rules, seed=2)

    for settings in random_settings(machine, 4, seed=3):
        alone = outlook(machine, rules, seed=2, only=settings)
        assert alone.odds(settings) == pytest.approx(whole.odds(settings), abs=2e-6)
        assert alone.rule_odds(settings) == pytest.approx(whole.rule_odds(settings), abs=2e-6)


@pytest.mark.parametrize("name", MACHINES)
def test_odds_settle_between_seeds(name: str) -> None:
    """Odds of one combination differ by less than 0.02 from one seed to the next, 0.04 after a logbook.

    What a logbook tells leaves fewer draws that carry weight.
    """
    machine, rules = packed_machine(name)
    apart = 0.02 if packed_logbook(name) is None else 0.04

    for settings in random_settings(machine, 6, seed=11):
        odds = [outlook(machine, rules, seed=seed, only=settings).odds(settings) for seed in range(4)]
        assert max(odds) - min(odds) < apart


def test_a_longer_soak_is_harder() -> None:
    """Odds fall with the length of the soak test."""
    machine, rules = small_machine()
    odds = [outlook(machine, rules, hours=hours).odds(at("30")) for hours in (0.1, 1, 4, 24, 240)]

    assert odds == sorted(odds, reverse=True)
    assert odds[0] > odds[-1] + 0.1


def test_tables_share_rows() -> None:
    """Combinations in the same situation share a row, and row 0 is the one that always survives."""
    machine, rules = packed_machine(MACHINES[0])
    for table in survivals(machine, rules, prior_cloud(machine, draws=64), hours=4):
        assert (table.draws[0] == 1).all()
        assert table.rows.max() < len(table.draws)
        assert set(np.unique(table.rows)) | {0} == set(range(len(table.draws)))

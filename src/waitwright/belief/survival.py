"""How each rule fares in every draw of the cloud, tabulated over the choices it depends on.

Identical situations share one row of draws: the tables stay small however many combinations there are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.hazard import STEEPNESS_PS, STEEPNESS_SHARE, certain_margin, survival
from waitwright.belief.latents import SURROUNDINGS, ability_name, delay_name
from waitwright.ids import OptionId
from waitwright.machine import Machine, Member
from waitwright.machine.vector import VectorFacts
from waitwright.rulebook.domain import Budget, Limit
from waitwright.timing.bind import Bound, BoundRules
from waitwright.timing.tables import BudgetTable, budget_table, limit_table, term_times

Floats = NDArray[np.float64]
Rows = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class RuleSurvival:
    """One rule in the cloud.

    Attributes:
        scope: Options that the rule depends on; ``rows`` has one axis for each.
        rows: Row of ``draws`` for each combination of the scope; row 0 survives in every draw.
        draws: Probability of surviving the soak, by row and draw.
    """

    bound: Bound[Budget] | Bound[Limit]
    scope: tuple[OptionId, ...]
    rows: NDArray[np.int32]
    draws: Rows


def survivals(machine: Machine, rules: BoundRules, cloud: Cloud, *, hours: float) -> tuple[RuleSurvival, ...]:
    """Survival of every rule that decides (advisory ones are left out)."""
    budgets = [budget_survival(machine, b, cloud, hours=hours) for b in rules.budgets if not b.rule.advisory]
    limits = [limit_survival(machine, b, cloud, hours=hours) for b in rules.limits if not b.rule.advisory]
    return (*budgets, *limits)


# ----------------------------------------------------------------------------------- budgets

_Scaled = Sequence[tuple[str, Floats]]
"""A delay that scales with part factors: for each part in its role, the unknown and the times."""


def budget_survival(machine: Machine, bound: Bound[Budget], cloud: Cloud, *, hours: float) -> RuleSurvival:
    """One budget: margin in each draw from the part factors of its delays, then the hazard of the soak."""
    table = budget_table(machine, bound)
    if not table.applies.any():
        return _never(bound, table.applies.shape, cloud)
    fixed, scaled = _terms(machine, table)
    columns = [fixed, *(times for term in scaled for _, times in term)]
    cases, which = _cases(columns, table.applies)
    around = cloud.factor(SURROUNDINGS)
    places = iter(range(1, len(columns)))
    needs = [[(next(places), cloud.factor(name) * around) for name, _ in term] for term in scaled]
    # Most cases are safe even if every delay were the longest of all draws.
    least = cases[:, 0].copy()
    for need in needs:
        least -= np.maximum.reduce([_longest(cases[:, i], load) for i, load in need])
    risky = least < certain_margin(STEEPNESS_PS, hours)
    margins = np.repeat(cases[risky, :1], cloud.draws, axis=1)
    for need in needs:
        margins -= np.maximum.reduce([cases[risky, i, None] * load for i, load in need])
    return _table(bound, table.applies, which, risky, survival(margins, STEEPNESS_PS, hours))


def _longest(times: Floats, load: Floats) -> Floats:
    """The most that *times* come to under any of the factors *load*."""
    longest: Floats = np.maximum(times * load.max(), times * load.min())
    return longest


def _terms(machine: Machine, table: BudgetTable) -> tuple[Floats, list[_Scaled]]:
    """Time that does not vary from part to part (available minus spent), and the delays that do.

    What the board has available counts at its promised value, whatever part it comes from.
    """
    bound = table.bound
    fixed = sum(table.available, np.zeros(table.applies.shape))
    scaled: list[_Scaled] = []
    for term, times in zip(bound.rule.spend, table.spend, strict=True):
        members = _members(machine, bound, term.part)
        if not members:
            fixed = fixed - times
        elif len(members) == 1:
            scaled.append([(_delay(members[0]), times)])
        else:
            scaled.append([(_delay(one), term_times(_facts(machine, bound, one), term)) for one in members])
    return fixed, scaled


def _delay(member: Member) -> str:
    return delay_name(member.item.slot, member.item.part.id)


# ------------------------------------------------------------------------------------ limits


def limit_survival(machine: Machine, bound: Bound[Limit], cloud: Cloud, *, hours: float) -> RuleSurvival:
    """One limit: the rating is scaled by the ability of the part that bears it; a bare count is not.

    Where several parts bear it, each has its own rating and ability, and the one that gives way first
    decides.  An ability of 1.2 lets a lower bound be undercut by as much.
    """
    table = limit_table(machine, bound)
    members = _members(machine, bound, bound.rule.part)
    if not table.applies.any() or not (members or table.short.any()):
        return _never(bound, table.applies.shape, cloud)
    if not members:
        draws = np.stack([np.ones(cloud.draws), np.zeros(cloud.draws)]).astype(np.float32)
        return RuleSurvival(bound, bound.scope, table.short.astype(np.int32), draws)
    columns: list[Floats] = []
    for member in members:
        if len(members) == 1:
            columns += [table.value, table.rating]
        else:
            facts = _facts(machine, bound, member)
            columns += [facts.numbers(bound.rule.quantity), facts.numbers(bound.rule.rating)]
    cases, which = _cases(columns, table.applies)
    distances: list[Floats] = []
    for place, member in enumerate(members):
        value, rating = cases[:, 2 * place, None], cases[:, 2 * place + 1, None]
        ability = cloud.factor(ability_name(member.item.slot, member.item.part.id))
        distance = rating * ability - value if bound.rule.sense == "at most" else value - rating / ability
        distances.append(_share(distance, np.abs(rating)))
    margins = np.minimum.reduce(distances)
    risky = margins.min(axis=1) < certain_margin(STEEPNESS_SHARE, hours)
    return _table(bound, table.applies, which, risky, survival(margins[risky], STEEPNESS_SHARE, hours))


def _share(distance: Floats, rating: Floats) -> Floats:
    """*distance* as a share of the rating; without end where the rating is nothing."""
    endless = np.where(distance < 0, -np.inf, np.inf)
    return np.divide(distance, rating, out=endless, where=rating > 0)


# ------------------------------------------------------------------------------------ shared


def _members(machine: Machine, bound: Bound[Budget] | Bound[Limit], role: str) -> tuple[Member, ...]:
    """The parts that play *role* for a rule; a rule that applies to each of several means its own."""
    if bound.member is not None and bound.member.role == role:
        return (bound.member,)
    return machine.members.get(role, ()) if role else ()


def _facts(machine: Machine, bound: Bound[Budget] | Bound[Limit], member: Member) -> VectorFacts:
    """Facts as *member*, one of several in its role, has them; the rule's own part keeps its facts."""
    if bound.member is None:
        return VectorFacts(machine, bound.scope, member)
    return VectorFacts(machine, bound.scope, bound.member, extra=member.facts)


def _cases(columns: Sequence[Floats], applies: NDArray[np.bool_]) -> tuple[Floats, NDArray[np.intp]]:
    """The distinct rows of *columns* where the rule applies, and which of them each place has."""
    situations = np.stack([column[applies] for column in columns], axis=1)
    cases, which = np.unique(situations, axis=0, return_inverse=True)
    return cases, which.ravel()


def _never(bound: Bound[Budget] | Bound[Limit], shape: tuple[int, ...], cloud: Cloud) -> RuleSurvival:
    rows = np.zeros(shape, dtype=np.int32)
    return RuleSurvival(bound, bound.scope, rows, np.ones((1, cloud.draws), dtype=np.float32))


def _table(
    bound: Bound[Budget] | Bound[Limit],
    applies: NDArray[np.bool_],
    which: NDArray[np.intp],
    risky: NDArray[np.bool_],
    survived: Floats,
) -> RuleSurvival:
    """Rows of the risky cases, whose survival is *survived*; all cases that are safe share row 0."""
    row_of = np.where(risky, np.cumsum(risky), 0).astype(np.int32)
    draws = np.ones((len(survived) + 1, survived.shape[1]), dtype=np.float32)
    draws[1:] = survived
    rows = np.zeros(applies.shape, dtype=np.int32)
    rows[applies] = row_of[which]
    return RuleSurvival(bound, bound.scope, rows, draws)

"""How each rule fares in every draw of the cloud, tabulated over the choices it depends on.

Identical situations share one row of draws: the tables stay small however many combinations there are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.hazard import STEEPNESS_PS, STEEPNESS_SHARE, certain_margin, survival
from waitwright.belief.latents import SURROUNDINGS, ability_name, delay_name
from waitwright.ids import OptionId
from waitwright.machine import Machine, Member
from waitwright.machine.vector import VectorFacts
from waitwright.rulebook.domain import Budget, Limit, Term
from waitwright.timing.bind import Bound, BoundRules
from waitwright.timing.tables import budget_table, limit_table, term_times

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


def survivals(
    machine: Machine, rules: BoundRules, cloud: Cloud, *, hours: float
) -> tuple[RuleSurvival, ...]:
    """Survival of every rule that decides (advisory ones are left out)."""
    budgets = [budget_survival(machine, b, cloud, hours=hours) for b in rules.budgets if not b.rule.advisory]
    limits = [limit_survival(machine, b, cloud, hours=hours) for b in rules.limits if not b.rule.advisory]
    return (*budgets, *limits)


# ----------------------------------------------------------------------------------- budgets


@dataclass(frozen=True, slots=True)
class _ScaledTerm:
    """A delay that scales with part factors: for each part in its role, the unknown and the time over the grid."""

    parts: tuple[tuple[str, Floats], ...]


def budget_survival(machine: Machine, bound: Bound[Budget], cloud: Cloud, *, hours: float) -> RuleSurvival:
    """One budget: margin in each draw from the part factors of its delays, then the hazard of the soak."""
    table = budget_table(machine, bound)
    fixed, scaled = _terms(machine, bound)
    columns = [fixed, *(times for term in scaled for _, times in term.parts)]
    situations = np.stack([column[table.applies] for column in columns], axis=1)
    unique, which = np.unique(situations, axis=0, return_inverse=True)
    margins = np.repeat(unique[:, :1], cloud.draws, axis=1)
    column = 1
    for term in scaled:
        needed = []
        for name, _ in term.parts:
            needed.append(unique[:, column, None] * _delay_factor(cloud, name))
            column += 1
        margins -= np.maximum.reduce(needed)
    return _table(bound, table.applies, margins, which.ravel(), STEEPNESS_PS, hours)


def _terms(machine: Machine, bound: Bound[Budget]) -> tuple[Floats, list[_ScaledTerm]]:
    """Time that does not vary from part to part (available minus spent), and the delays that do."""
    facts = VectorFacts(machine, bound.scope, bound.member)
    fixed = np.zeros(facts.shape)
    for term in bound.rule.available:
        fixed = fixed + term_times(facts, term)
    scaled = []
    for term in bound.rule.spend:
        members = _members(machine, bound, term.part)
        if members:
            scaled.append(_ScaledTerm(tuple(_member_time(machine, bound, term, one) for one in members)))
        else:
            fixed = fixed - term_times(facts, term)
    return fixed, scaled


def _members(machine: Machine, bound: Bound[Budget] | Bound[Limit], role: str) -> tuple[Member, ...]:
    if bound.member is not None and bound.member.role == role:
        return (bound.member,)
    return machine.members.get(role, ()) if role else ()


def _member_time(
    machine: Machine, bound: Bound[Budget], term: Term, member: Member
) -> tuple[str, Floats]:
    """A term's time over the grid as one part of the role has it; the rule's own part keeps its facts."""
    own = bound.member
    beside = own is not None and own.role != member.role
    facts = VectorFacts(
        machine, bound.scope, own if beside else member, extra=member.facts if beside else None
    )
    return delay_name(member.item.slot, member.item.part.id), term_times(facts, term)


def _delay_factor(cloud: Cloud, name: str) -> Floats:
    return cloud.factor(name) * cloud.factor(SURROUNDINGS)


# ------------------------------------------------------------------------------------ limits


def limit_survival(machine: Machine, bound: Bound[Limit], cloud: Cloud, *, hours: float) -> RuleSurvival:
    """One limit: the rating is scaled by the ability of the part that bears it; a bare count is not."""
    table = limit_table(machine, bound)
    members = _members(machine, bound, bound.rule.part)
    if not members:
        rows = table.short.astype(np.int32)
        draws = np.stack([np.ones(cloud.draws), np.zeros(cloud.draws)]).astype(np.float32)
        return RuleSurvival(bound, bound.scope, rows, draws)
    situations = np.stack([table.value[table.applies], table.rating[table.applies]], axis=1)
    unique, which = np.unique(situations, axis=0, return_inverse=True)
    factors = [cloud.factor(ability_name(one.item.slot, one.item.part.id)) for one in members]
    upper = bound.rule.sense == "at most"
    # The weakest part binds; an ability of 1.2 lets a lower bound be undercut by as much.
    weakest = np.minimum.reduce(factors)
    rating = unique[:, 1, None] * (weakest if upper else 1.0 / weakest)
    distance = rating - unique[:, 0, None] if upper else unique[:, 0, None] - rating
    margins = distance / np.maximum(np.abs(unique[:, 1, None]), np.finfo(float).tiny)
    return _table(bound, table.applies, margins, which.ravel(), STEEPNESS_SHARE, hours)


# ------------------------------------------------------------------------------------- rows


def _table(
    bound: Bound[Budget] | Bound[Limit],
    applies: NDArray[np.bool_],
    margins: Floats,
    which: NDArray[np.intp],
    steepness: float,
    hours: float,
) -> RuleSurvival:
    """Survival rows of the distinct situations; those that are safe in every draw share row 0."""
    risky = (margins < certain_margin(steepness, hours)).any(axis=1)
    row_of = np.zeros(len(margins), dtype=np.int32)
    row_of[risky] = np.arange(1, int(risky.sum()) + 1)
    draws = np.ones((int(risky.sum()) + 1, margins.shape[1]), dtype=np.float32)
    draws[1:] = survival(margins[risky], steepness, hours)
    rows = np.zeros(applies.shape, dtype=np.int32)
    rows[applies] = row_of[which]
    return RuleSurvival(bound, bound.scope, rows, draws)

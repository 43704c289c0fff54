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


class Situations:
    """What each rule that decides can meet on a machine, laid out once; then priced in any cloud."""

    def __init__(self, machine: Machine, rules: BoundRules) -> None:
        """Tabulate every rule (advisory ones are left out)."""
        self._rules: tuple[_BudgetCases | _LimitCases, ...] = (
            *(_BudgetCases(machine, bound) for bound in rules.budgets if not bound.rule.advisory),
            *(_LimitCases(machine, bound) for bound in rules.limits if not bound.rule.advisory),
        )

    def survivals(self, cloud: Cloud, *, hours: float) -> tuple[RuleSurvival, ...]:
        """Survival of every rule through a soak test of *hours*."""
        return tuple(rule.survival(cloud, hours) for rule in self._rules)


def survivals(machine: Machine, rules: BoundRules, cloud: Cloud, *, hours: float) -> tuple[RuleSurvival, ...]:
    """Survival of every rule that decides, in one cloud."""
    return Situations(machine, rules).survivals(cloud, hours=hours)


# ----------------------------------------------------------------------------------- budgets

_Scaled = Sequence[tuple[str, Floats]]
"""A delay that scales with part factors: for each part in its role, the unknown and the times."""


class _BudgetCases:
    """One budget: margin in each draw from the part factors of its delays, then the hazard of the soak."""

    def __init__(self, machine: Machine, bound: Bound[Budget]) -> None:
        self._bound, table = bound, budget_table(machine, bound)
        self._applies = table.applies
        self._needs: list[list[tuple[int, str]]] = []
        if table.applies.any():
            fixed, scaled = _terms(machine, table)
            columns = [fixed, *(times for term in scaled for _, times in term)]
            self._cases, self._which = _cases(columns, table.applies)
            places = iter(range(1, len(columns)))
            self._needs = [[(next(places), name) for name, _ in term] for term in scaled]

    def survival(self, cloud: Cloud, hours: float) -> RuleSurvival:
        """The budget in *cloud*."""
        if not self._applies.any():
            return _never(self._bound, self._applies.shape, cloud)
        around = cloud.factor(SURROUNDINGS)
        loads = {name: cloud.factor(name) * around for need in self._needs for _, name in need}
        # Most cases are safe even if every delay were the longest of all draws.
        least = self._cases[:, 0].copy()
        for need in self._needs:
            least -= np.maximum.reduce([_longest(self._cases[:, i], loads[name]) for i, name in need])
        risky = least < certain_margin(STEEPNESS_PS, hours)
        cases = self._cases[risky]
        margins = np.repeat(cases[:, :1], cloud.draws, axis=1)
        for need in self._needs:
            margins -= np.maximum.reduce([cases[:, i, None] * loads[name] for i, name in need])
        survived = survival(margins, STEEPNESS_PS, hours)
        return _table(self._bound, self._applies, self._which, risky, survived)


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


class _LimitCases:
    """One limit: the rating is scaled by the ability of the part that bears it; a bare count is not.

    Where several parts bear it, each has its own rating and ability, and the one that gives way first
    decides.  An ability of 1.2 lets a lower bound be undercut by as much.
    """

    def __init__(self, machine: Machine, bound: Bound[Limit]) -> None:
        self._bound, table = bound, limit_table(machine, bound)
        members = _members(machine, bound, bound.rule.part)
        self._applies, self._short = table.applies, table.short
        self._bearers = [ability_name(member.item.slot, member.item.part.id) for member in members]
        columns: list[Floats] = []
        for member in members:
            if len(members) == 1:
                columns += [table.value, table.rating]
            else:
                facts = _facts(machine, bound, member)
                columns += [facts.numbers(bound.rule.quantity), facts.numbers(bound.rule.rating)]
        if columns and table.applies.any():
            self._cases, self._which = _cases(columns, table.applies)

    def survival(self, cloud: Cloud, hours: float) -> RuleSurvival:
        """The limit in *cloud*."""
        if not self._applies.any() or not (self._bearers or self._short.any()):
            return _never(self._bound, self._applies.shape, cloud)
        if not self._bearers:
            draws = np.stack([np.ones(cloud.draws), np.zeros(cloud.draws)]).astype(np.float32)
            return RuleSurvival(self._bound, self._bound.scope, self._short.astype(np.int32), draws)
        distances: list[Floats] = []
        for place, name in enumerate(self._bearers):
            value, rating = self._cases[:, 2 * place, None], self._cases[:, 2 * place + 1, None]
            ability = cloud.factor(name)
            upper = self._bound.rule.sense == "at most"
            distance = rating * ability - value if upper else value - rating / ability
            distances.append(_share(distance, np.abs(rating)))
        margins = np.minimum.reduce(distances)
        risky = margins.min(axis=1) < certain_margin(STEEPNESS_SHARE, hours)
        survived = survival(margins[risky], STEEPNESS_SHARE, hours)
        return _table(self._bound, self._applies, self._which, risky, survived)


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

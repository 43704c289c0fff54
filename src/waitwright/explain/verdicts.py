"""One rule under one combination, of whatever kind the rule is."""

from __future__ import annotations

from fractions import Fraction
from math import inf
from typing import TypeGuard

import numpy as np
from numpy.typing import NDArray

from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Budget, Limit, LogicRule
from waitwright.timing.bind import Bound, BoundRules
from waitwright.timing.margins import Broken, BudgetMargin, LimitMargin, broken, budget_margin, limit_margin
from waitwright.timing.tables import budget_table, limit_table

AnyBound = Bound[Budget] | Bound[Limit] | Bound[LogicRule]
Verdict = BudgetMargin | LimitMargin | Broken
"""What a rule says under one combination."""


def is_budget(bound: AnyBound) -> TypeGuard[Bound[Budget]]:
    """Whether the rule is a budget."""
    return isinstance(bound.rule, Budget)


def is_limit(bound: AnyBound) -> TypeGuard[Bound[Limit]]:
    """Whether the rule is a limit."""
    return isinstance(bound.rule, Limit)


def is_logic(bound: AnyBound) -> TypeGuard[Bound[LogicRule]]:
    """Whether the rule is an exact requirement."""
    return isinstance(bound.rule, LogicRule)


def deciding(rules: BoundRules) -> dict[str, AnyBound]:
    """The rules that decide whether a combination stands, by id; advisory ones are left out."""
    bounds: list[AnyBound] = [*rules.logic, *rules.budgets, *rules.limits]
    return {bound.id: bound for bound in bounds if not advisory(bound)}


def advisory(bound: AnyBound) -> bool:
    """Whether the rule is shown and explained but decides nothing."""
    return not isinstance(bound.rule, LogicRule) and bound.rule.advisory


def verdict_of(machine: Machine, bound: AnyBound, settings: Settings) -> Verdict | None:
    """What the rule says under *settings*; None where it does not apply, or holds and has no numbers."""
    facts = FactTable(machine, settings)
    if is_budget(bound):
        return budget_margin(machine, bound, facts)
    if is_limit(bound):
        return limit_margin(machine, bound, facts)
    return next(iter(broken([bound], facts)), None) if is_logic(bound) else None


def fails(verdict: Verdict | None) -> bool:
    """Whether a rule is broken for certain."""
    if isinstance(verdict, Broken):
        return verdict.known
    return verdict is not None and verdict.verdict == "falls short"


def distance(verdict: Verdict) -> float:
    """How far a rule is from failing, in base units and negative where it fails; 0 for logic."""
    if isinstance(verdict, Broken) or verdict.margin is None:
        return 0.0
    return float(verdict.margin)


def leeway(verdict: Verdict | None) -> float:
    """How far a rule is from failing as a share of what there is; without end where it does not apply.

    A broken logic rule is below everything.
    """
    if isinstance(verdict, Broken):
        return -inf if verdict.known else inf
    if verdict is None or verdict.margin is None:
        return inf
    whole = verdict.available if isinstance(verdict, BudgetMargin) else verdict.rating
    return float(Fraction(verdict.margin) / abs(Fraction(whole))) if whole else float(verdict.margin)


def distances(machine: Machine, bound: AnyBound) -> NDArray[np.float64] | None:
    """:func:`distance` over the rule's scope, -inf where unknown; None for logic."""
    if is_budget(bound):
        return np.nan_to_num(budget_table(machine, bound).margin, nan=-np.inf)
    if is_limit(bound):
        table = limit_table(machine, bound)
        apart = table.rating - table.value
        return np.nan_to_num(apart if bound.rule.sense == "at most" else -apart, nan=-np.inf)
    return None

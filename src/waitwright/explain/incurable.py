"""Rules that no setting cures: where they are broken, a part has to change."""

from __future__ import annotations

from waitwright.explain.verdicts import AnyBound, fails, verdict_of
from waitwright.machine import Machine
from waitwright.timing.bind import BoundRules
from waitwright.timing.tables import budget_table, limit_table, logic_table


def incurable(machine: Machine, rules: BoundRules, *, rated: bool = False) -> tuple[AnyBound, ...]:
    """The rules that every combination of choices breaks.

    Args:
        rated: Ask budgets and limits as well, by data-sheet limits; else exact requirements alone, as parts
            may do better than their data sheets promise.
    """

    def broken_now(bound: AnyBound) -> bool:
        """Quick, and clears nearly all of them."""
        return fails(verdict_of(machine, bound, dict(machine.current)))

    found: list[AnyBound] = [
        bound for bound in rules.logic if broken_now(bound) and logic_table(machine, bound).all()
    ]
    if rated:
        found += [
            bound
            for bound in rules.budgets
            if not bound.rule.advisory and broken_now(bound) and budget_table(machine, bound).short.all()
        ]
        found += [
            bound
            for bound in rules.limits
            if not bound.rule.advisory and broken_now(bound) and limit_table(machine, bound).short.all()
        ]
    return tuple(found)

"""Which clock a budget is counted in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeGuard

from waitwright.expr import Value
from waitwright.ids import FactName
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Budget
from waitwright.timing.bind import Bound
from waitwright.units import Exact

_PERIOD = "_period"
"""How facts that are the period of a clock end."""


@dataclass(frozen=True, slots=True)
class Beat:
    """A clock by name, and its period in picoseconds."""

    clock: str
    period: Exact


def beat_of(machine: Machine, bound: Bound[Budget], facts: FactTable) -> Beat | None:
    """The clock that most of the available time of *bound* is told in; None where it comes from no clock."""
    view = facts.under(bound.member)
    found: list[tuple[Exact, Beat]] = []
    for term in bound.rule.available:
        time = view.value(term.time)
        name = next(_periods(machine, sorted(term.time.names), frozenset()), "")
        period = facts(name) if name else None
        if _is_time(time) and _is_time(period) and period > 0:
            found.append((time, Beat(_clock(machine, name), period)))
    return max(found, key=lambda pair: pair[0])[1] if found else None


def _is_time(value: Value) -> TypeGuard[Exact]:
    return isinstance(value, int | Fraction) and not isinstance(value, bool)


def _clock(machine: Machine, period: str) -> str:
    return machine.rulebook.facts[FactName(period)].title.removesuffix(" period")


def _periods(machine: Machine, names: list[str], seen: frozenset[str]) -> Iterator[str]:
    """Period facts among *names*, then among the facts that those are computed from."""
    yield from (name for name in names if name.endswith(_PERIOD) and FactName(name) in machine.rulebook.facts)
    for name in names:
        fact = machine.rulebook.facts.get(FactName(name))
        if fact is not None and name not in seen and not name.endswith(_PERIOD):
            yield from _periods(machine, sorted(fact.expression.names), seen | {name})

"""Time of a unit of work: events x rate x time, exact for one combination, tabulated for the search."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from waitwright.expr import Value, evaluate
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine
from waitwright.machine.vector import VectorFacts
from waitwright.rulebook.domain import Event, Scalar, Workload
from waitwright.units import Exact, tidy

TRAIT_PREFIX = "work."


@dataclass(frozen=True, slots=True)
class EventTime:
    """What one event costs per 1000 instructions.  ``time`` is in picoseconds, None where unknown."""

    event: Event
    rate: Exact | None
    time: Exact | None

    @property
    def total(self) -> Exact | None:
        """Rate times time, in picoseconds."""
        if self.rate is None or self.time is None:
            return None
        return tidy(Fraction(self.rate) * self.time)


@dataclass(frozen=True, slots=True)
class EventTable:
    """An event's cost over the choices of the options it depends on: picoseconds, rounded to int64."""

    event: Event
    scope: tuple[OptionId, ...]
    values: NDArray[np.int64]


Pricing = Callable[[Machine], tuple[EventTable, ...]]
"""What the events of some work cost on a machine, whatever its parts."""


def trait_facts(workload: Workload) -> dict[str, Scalar]:
    """The workload's traits as facts."""
    return {f"{TRAIT_PREFIX}{name}": value.value for name, value in workload.traits.items()}


def event_times(
    machine: Machine, workload: Workload, settings: Mapping[OptionId, ChoiceId]
) -> tuple[EventTime, ...]:
    """Every event's rate and time under *settings*, exact."""
    facts = FactTable(machine, settings)
    traits = trait_facts(workload)

    def lookup(name: str) -> Value:
        return traits[name] if name in traits else facts(name)

    return tuple(
        EventTime(event, _number(evaluate(event.rate, lookup)), _number(evaluate(event.time, lookup)))
        for event in machine.rulebook.events.values()
    )


def event_tables(machine: Machine, workload: Workload) -> tuple[EventTable, ...]:
    """Every event's cost as a table; an unknown rate or time counts as no cost (it never changes)."""
    traits = trait_facts(workload)
    tables = []
    for event in machine.rulebook.events.values():
        scope = machine.scope_of(event.rate, event.time)
        facts = VectorFacts(machine, scope, extra=traits)
        costs = np.nan_to_num(facts.numbers(event.rate) * facts.numbers(event.time), nan=0.0)
        tables.append(EventTable(event, scope, np.rint(costs).astype(np.int64)))
    return tuple(tables)


def _number(value: Value) -> Exact | None:
    return value if isinstance(value, int | Fraction) and not isinstance(value, bool) else None

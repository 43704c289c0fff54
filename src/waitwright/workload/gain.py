"""Gain of one combination over another, and the share of each changed option in it.

The time of a unit of work is a sum of tables.  A change of several options is shared out among them
by averaging over all orders in which they could be made (the Shapley value), table by table, so the
shares add up to the whole exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import combinations
from math import factorial

from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.workload.model import EventTable

Choices = Mapping[OptionId, ChoiceId]


def total_cost(machine: Machine, tables: Sequence[EventTable], settings: Choices) -> int:
    """Picoseconds per 1000 instructions under *settings*, as the search counts them."""
    return sum(_cost(machine, table, settings) for table in tables)


def gain(before: int, after: int) -> float:
    """Speed after over speed before, minus one: 0.12 means 12 % faster."""
    return float(Fraction(before, after) - 1)


def shares(
    machine: Machine, tables: Sequence[EventTable], before: Choices, after: Choices
) -> dict[OptionId, float]:
    """Share of each changed option in the gain; they add up to :func:`gain`.

    An option that changes nothing has share 0.  A share is negative where an option costs speed.
    """
    changed = [option.id for option in machine.options if before[option.id] != after[option.id]]
    saved = dict.fromkeys(changed, Fraction(0))
    for table in tables:
        inside = [option for option in changed if option in table.scope]
        for option, value in _shapley(machine, table, inside, before, after).items():
            saved[option] += value
    whole = total_cost(machine, tables, after)
    return {option: float(value / whole) for option, value in saved.items()}


def _shapley(
    machine: Machine, table: EventTable, inside: Sequence[OptionId], before: Choices, after: Choices
) -> dict[OptionId, Fraction]:
    """Time saved in one table, shared among the changed options of its scope."""
    size = len(inside)
    costs: dict[frozenset[OptionId], int] = {}
    for count in range(size + 1):
        for made in combinations(inside, count):
            mixed = {option: after[option] if option in made else before[option] for option in table.scope}
            costs[frozenset(made)] = _cost(machine, table, mixed)
    shared: dict[OptionId, Fraction] = {}
    for option in inside:
        others = [other for other in inside if other != option]
        value = Fraction(0)
        for count in range(size):
            weight = Fraction(factorial(count) * factorial(size - count - 1), factorial(size))
            for made in combinations(others, count):
                first = frozenset(made)
                value += weight * (costs[first] - costs[first | {option}])
        shared[option] = value
    return shared


def _cost(machine: Machine, table: EventTable, settings: Choices) -> int:
    index = tuple(_place(machine, option, settings[option]) for option in table.scope)
    return int(table.values[index])


def _place(machine: Machine, option_id: OptionId, choice_id: ChoiceId) -> int:
    choices = machine.option(option_id).choices
    return next(place for place, choice in enumerate(choices) if choice.id == choice_id)

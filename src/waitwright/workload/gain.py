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


def gain(before: int, after: int) -> float:
    """Speed after over speed before, minus one: 0.12 means 12 % faster."""
    return float(Fraction(before, after) - 1)


class Pricer:
    """Prices combinations in picoseconds per 1000 instructions, as the search counts them."""

    def __init__(self, machine: Machine, tables: Sequence[EventTable]) -> None:
        self._options = [option.id for option in machine.options]
        self._place = {
            option.id: {choice.id: place for place, choice in enumerate(option.choices)}
            for option in machine.options
        }
        self._tables = tables
        self._touching = {
            option: [table for table in tables if option in table.scope] for option in self._options
        }

    def total(self, settings: Choices) -> int:
        """Cost of *settings*."""
        return sum(self._cost(table, settings) for table in self._tables)

    def step(self, settings: Choices, option: OptionId, choice: ChoiceId) -> int:
        """By how much the cost changes when *option* goes to *choice* and all else stays."""
        changed = {**settings, option: choice}
        touched = self._touching[option]
        return sum(self._cost(table, changed) - self._cost(table, settings) for table in touched)

    def shares(self, before: Choices, after: Choices) -> dict[OptionId, float]:
        """Share of each changed option in the gain; they add up to :func:`gain`.

        An option that changes nothing has share 0.  A share is negative where an option costs speed.
        """
        changed = [option for option in self._options if before[option] != after[option]]
        saved = dict.fromkeys(changed, Fraction(0))
        for table in self._tables:
            inside = [option for option in changed if option in table.scope]
            for option, value in self._shapley(table, inside, before, after).items():
                saved[option] += value
        whole = self.total(after)
        return {option: float(value / whole) for option, value in saved.items()}

    def _shapley(
        self, table: EventTable, inside: Sequence[OptionId], before: Choices, after: Choices
    ) -> dict[OptionId, Fraction]:
        """Time saved in one table, shared among the changed options of its scope."""
        size = len(inside)
        costs: dict[frozenset[OptionId], int] = {}
        for count in range(size + 1):
            for made in combinations(inside, count):
                mixed = {
                    option: after[option] if option in made else before[option] for option in table.scope
                }
                costs[frozenset(made)] = self._cost(table, mixed)
        shared: dict[OptionId, Fraction] = {}
        for option in inside:
            others = [other for other in inside if other != option]
            value = Fraction(0)
            for count in range(size):
                weight = Fraction(factorial(count) * factorial(size - count - 1), factorial(size))
                subsets = map(frozenset, combinations(others, count))
                value += weight * sum(costs[made] - costs[made | {option}] for made in subsets)
            shared[option] = value
        return shared

    def _cost(self, table: EventTable, settings: Choices) -> int:
        return int(table.values[tuple(self._place[option][settings[option]] for option in table.scope)])

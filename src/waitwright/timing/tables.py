"""Rules tabulated over the choices of the options they depend on.

Margins are computed in floating point for all combinations at once.  Where one comes out within a
picosecond of zero the exact engine decides, so that a margin of exactly zero is never called short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine
from waitwright.machine.vector import VectorFacts
from waitwright.rulebook.domain import Budget, Limit, LogicRule, Term
from waitwright.timing.bind import Bound
from waitwright.timing.margins import budget_margin, limit_margin

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]

_DOUBTFUL_PS = 1.0
_DOUBTFUL_SHARE = 1e-9


@dataclass(frozen=True, slots=True)
class BudgetTable:
    """A budget over its scope; arrays have one axis for each option of the scope.

    Attributes:
        applies: True where the budget is in force and all its numbers are known.
        margin: Picoseconds; nan where it does not apply or is unknown.
        short: True where it falls short by rated values.
        available: The time of each term, in the rule's order; nan where unknown, 0 where it does not count.
        spend: The same for what is spent.
    """

    bound: Bound[Budget]
    applies: Mask
    margin: Floats
    short: Mask
    available: tuple[Floats, ...]
    spend: tuple[Floats, ...]


@dataclass(frozen=True, slots=True)
class LimitTable:
    """A limit over its scope: value and rating in base units."""

    bound: Bound[Limit]
    applies: Mask
    value: Floats
    rating: Floats
    short: Mask


def budget_table(machine: Machine, bound: Bound[Budget]) -> BudgetTable:
    """Margins of *bound* for every combination of its scope."""
    facts = VectorFacts(machine, bound.scope, bound.member)
    available = tuple(term_times(facts, term) for term in bound.rule.available)
    spend = tuple(term_times(facts, term) for term in bound.rule.spend)
    margin = sum(available, np.zeros(facts.shape)) - sum(spend, np.zeros(facts.shape))
    applies = (facts.truths(bound.rule.when) == 1) & ~np.isnan(margin)
    short = np.array(applies & (margin < 0))
    for index in np.argwhere(applies & (np.abs(margin) < _DOUBTFUL_PS)):
        found = budget_margin(machine, bound, FactTable(machine, _settings(machine, bound, index)))
        short[tuple(index)] = found is not None and found.verdict == "falls short"
    return BudgetTable(bound, applies, np.where(applies, margin, np.nan), short, available, spend)


def limit_table(machine: Machine, bound: Bound[Limit]) -> LimitTable:
    """Value against rating of *bound* for every combination of its scope."""
    facts = VectorFacts(machine, bound.scope, bound.member)
    value, rating = facts.numbers(bound.rule.quantity), facts.numbers(bound.rule.rating)
    applies = (facts.truths(bound.rule.when) == 1) & ~np.isnan(value) & ~np.isnan(rating)
    over = value > rating if bound.rule.sense == "at most" else value < rating
    doubtful = np.abs(value - rating) <= _DOUBTFUL_SHARE * np.abs(rating)
    short = np.array(applies & over)
    for index in np.argwhere(applies & doubtful):
        found = limit_margin(machine, bound, FactTable(machine, _settings(machine, bound, index)))
        short[tuple(index)] = found is not None and found.verdict == "falls short"
    return LimitTable(bound, applies, value, rating, short)


def logic_table(machine: Machine, bound: Bound[LogicRule]) -> Mask:
    """True where the logic rule is broken for certain."""
    facts = VectorFacts(machine, bound.scope, bound.member)
    applies = facts.truths(bound.rule.when) == 1
    broken: Mask = applies & (facts.truths(bound.rule.require) == 0)
    return broken


def term_times(facts: VectorFacts, term: Term) -> Floats:
    """A term's time over the grid, picoseconds; 0 where it does not count, nan where unknown."""
    times = facts.numbers(term.time)
    if term.when is None:
        return times
    counts = facts.truths(term.when)
    return np.where(np.isnan(counts), np.nan, np.where(counts == 1, times, 0.0))


def _settings(machine: Machine, bound: Bound[Budget] | Bound[Limit], index: NDArray[np.int64]) -> Settings:
    chosen = {
        option: machine.option(option).choices[place].id
        for option, place in zip(bound.scope, index.tolist(), strict=True)
    }
    return machine.settings_with(chosen)

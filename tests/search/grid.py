"""The exact engine asked about every combination of a large machine.

A rule's verdict and an event's time depend on few options.  The engine answers for each choice of those,
once, and the answers are spread over all combinations.  Nothing of the search has a part in it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import partial
from itertools import product
from math import prod
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from waitwright.expr import Value, evaluate
from waitwright.ids import OptionId
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Budget, Event, Limit, LogicRule, Scalar
from waitwright.timing.bind import Bound
from waitwright.timing.margins import broken, budget_margin, limit_margin
from waitwright.workload.model import trait_facts

from .machines import Workshop

Number = TypeVar("Number", np.int64, np.float64)
Question = tuple[tuple[OptionId, ...], Callable[[FactTable], float]]
"""Options that an answer depends on, and the engine's answer."""


class Grid:
    """All combinations of *shop*, one axis for each option.

    Attributes:
        logical: Whether no requirement between options is broken for certain.
        rated: Whether, besides, no rule is broken by rated values.
        cost: Exact time of 1000 instructions in picoseconds, as far as a float holds it.
    """

    def __init__(self, shop: Workshop) -> None:
        machine, rules = shop.machine, shop.rules
        self._machine = machine
        self.shape = tuple(len(option.choices) for option in machine.options)
        self.logical = self._all((one.scope, partial(_is_met, one)) for one in rules.logic)
        self.rated = (
            self.logical
            & self._all((one.scope, partial(_keeps, machine, one)) for one in rules.budgets)
            & self._all((one.scope, partial(_stays_within, machine, one)) for one in rules.limits)
        )
        traits = trait_facts(shop.work)
        self.cost = np.zeros(self.shape)
        for table in self._answers(
            (machine.scope_of(event.rate, event.time), partial(_time, event, traits))
            for event in machine.rulebook.events.values()
        ):
            self.cost += table

    def _all(self, questions: Iterable[Question]) -> NDArray[np.bool_]:
        whole = np.ones(self.shape, dtype=bool)
        for table in self._answers(questions):
            whole &= table != 0
        return whole

    def _answers(self, questions: Iterable[Question]) -> Iterable[NDArray[np.float64]]:
        """For each question the answers, in a shape that spreads over all combinations."""
        asked = defaultdict(list)
        for scope, ask in questions:
            asked[scope].append(ask)
        for scope, asks in asked.items():
            places = [place for place, option in enumerate(self._machine.options) if option.id in scope]
            choices = [[choice.id for choice in self._machine.options[place].choices] for place in places]
            rows = []
            for chosen in product(*choices):
                tried = dict(zip([self._machine.options[place].id for place in places], chosen, strict=True))
                facts = FactTable(self._machine, self._machine.settings_with(tried))
                rows.append([ask(facts) for ask in asks])
            for column in np.array(rows, dtype=np.float64).T:
                yield spread(column, places, self.shape)


def spread(answers: NDArray[Number], axes: Sequence[int], shape: Sequence[int]) -> NDArray[Number]:
    """*answers* for each choice of some *axes*, in ascending order, as an array that fits *shape*."""
    assert list(axes) == sorted(axes) and answers.size == prod(shape[axis] for axis in axes)
    return answers.reshape([size if axis in axes else 1 for axis, size in enumerate(shape)])


def _is_met(bound: Bound[LogicRule], facts: FactTable) -> bool:
    return not any(one.known for one in broken([bound], facts))


def _keeps(machine: Machine, bound: Bound[Budget], facts: FactTable) -> bool:
    margin = budget_margin(machine, bound, facts)
    return bound.rule.advisory or margin is None or margin.verdict != "falls short"


def _stays_within(machine: Machine, bound: Bound[Limit], facts: FactTable) -> bool:
    margin = limit_margin(machine, bound, facts)
    return bound.rule.advisory or margin is None or margin.verdict != "falls short"


def _time(event: Event, traits: dict[str, Scalar], facts: FactTable) -> float:
    def lookup(name: str) -> Value:
        return traits[name] if name in traits else facts(name)

    rate, time = evaluate(event.rate, lookup), evaluate(event.time, lookup)
    if rate is None or time is None:
        return 0.0
    assert isinstance(rate, int | Fraction) and isinstance(time, int | Fraction)
    return float(Fraction(rate) * time)

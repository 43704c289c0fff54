"""Facts for all combinations of a few options at once, as floats: the fast counterpart of ``facts``.

Each option of the scope is one axis.  Values are broadcastable arrays, numbers in base units.

Dozens of rules ask for the same computed facts (periods of clocks, lengths of commands).  Such a fact is
worked out once for a machine, over just the options that it depends on, and laid over each rule's scope.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from waitwright.expr import Expression
from waitwright.expr.vector import Many, evaluate_many
from waitwright.ids import OptionId
from waitwright.machine.constants import Member
from waitwright.machine.machine import OWN_PREFIX, Machine
from waitwright.rulebook.domain import Scalar


class VectorFacts:
    """Facts of *machine* over every combination of the options in *scope*; others stay as they are.

    Args:
        scope: Options in the board's order.
        member: The part that its role means, for rules that apply to each of several.
        extra: Further facts, e.g. the traits of a workload.
    """

    def __init__(
        self,
        machine: Machine,
        scope: Sequence[OptionId],
        member: Member | None = None,
        extra: Mapping[str, Scalar] | None = None,
    ) -> None:
        self._machine = machine
        self._scope = tuple(scope)
        self._inside = frozenset(self._scope)
        self._sizes = tuple(len(machine.option(option).choices) for option in self._scope)
        self._first = {**(extra or {}), **(member.facts if member is not None else {})}
        self._cache: dict[str, Many] = {}

    @property
    def shape(self) -> tuple[int, ...]:
        """One axis for each option of the scope."""
        return self._sizes

    def __call__(self, name: str) -> Many:
        """The values of fact *name* over the grid, broadcastable to :attr:`shape`."""
        if name not in self._cache:
            self._cache[name] = self._find(name)
        return self._cache[name]

    def numbers(self, expression: Expression) -> NDArray[np.float64]:
        """*expression* over the whole grid; nan where unknown."""
        value = np.asarray(evaluate_many(expression, self), dtype=np.float64)
        return np.array(np.broadcast_to(value, self.shape))

    def truths(self, expression: Expression | None) -> NDArray[np.float64]:
        """A flag over the whole grid as 1 (true), 0 (false), nan (unknown); no expression is true."""
        if expression is None:
            return np.ones(self.shape)
        return self.numbers(expression)

    def _find(self, name: str) -> Many:
        if name in self._first:
            return _plain(self._first[name])
        machine = self._machine
        if name in machine.constants:
            return _plain(machine.constants[name])
        definition = machine.definitions.get(name)
        if definition is not None:
            return self._shared(name) if self._is_shared(name) else evaluate_many(definition, self)
        own = name.removeprefix(OWN_PREFIX)
        option_id = machine.setters.get(own)
        if option_id is None:
            return _plain(None)
        option = machine.option(option_id)
        if option_id not in self._scope:
            return _plain(option.choice(machine.current[option_id]).sets.get(own))  # type: ignore[call-overload]
        axis = self._scope.index(option_id)
        shape = [1] * len(self._scope)
        shape[axis] = len(option.choices)
        values = [_plain(choice.sets.get(own)) for choice in option.choices]  # type: ignore[call-overload]
        kind = object if any(isinstance(value, str) for value in values) else np.float64
        if all(isinstance(value, bool) for value in values):
            kind = np.bool_
        return np.array(values, dtype=kind).reshape(shape)

    def _is_shared(self, name: str) -> bool:
        """Whether fact *name* is the same for every rule over these options."""
        machine = self._machine
        return machine.scope_of_fact(name) <= self._inside and machine.names_behind(name).isdisjoint(
            self._first
        )

    def _shared(self, name: str) -> Many:
        """Fact *name* from the machine's grid, with an axis of length 1 for every option it ignores."""
        machine = self._machine
        scope = machine.scope_of_fact(name)
        if name not in machine.grids:
            facts = VectorFacts(machine, machine.in_order(scope))
            machine.grids[name] = evaluate_many(machine.definitions[name], facts)
        grid = machine.grids[name]
        if not isinstance(grid, np.ndarray):
            return grid
        sizes = iter(grid.shape)
        return grid.reshape([next(sizes) if option in scope else 1 for option in self._scope])


def _plain(value: Scalar | None) -> Many:
    if value is None:
        return float("nan")
    return float(value) if isinstance(value, int | Fraction) and not isinstance(value, bool) else value

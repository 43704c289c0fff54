"""Values of facts for one combination of settings: the one look-up that all rules go through."""

from __future__ import annotations

from collections.abc import Mapping

from waitwright.expr import Expression, Value, evaluate
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine.constants import Member
from waitwright.machine.machine import OWN_PREFIX, Machine
from waitwright.rulebook.domain import Scalar


class FactTable:
    """Facts of *machine* under *settings*, computed when asked for and kept.

    Calling the table with a fact name gives its exact value in base units, or None when it is unknown.
    """

    __slots__ = ("_cache", "_chosen", "_machine")

    def __init__(self, machine: Machine, settings: Mapping[OptionId, ChoiceId]) -> None:
        self._machine = machine
        self._cache: dict[str, Value] = dict(machine.constants)
        self._chosen: dict[str, Scalar] = {}
        for option in machine.options:
            chosen = option.choice(settings[option.id])
            self._chosen.update((str(name), value) for name, value in chosen.sets.items())

    def __call__(self, name: str) -> Value:
        """The value of fact *name*, None where unknown."""
        try:
            return self._cache[name]
        except KeyError:
            value = self._cache[name] = self._find(name)
            return value

    def _find(self, name: str) -> Value:
        definition = self._machine.definitions.get(name)
        if definition is not None:
            return evaluate(definition, self)
        return self._chosen.get(name.removeprefix(OWN_PREFIX))

    def under(self, member: Member | None) -> FactTable | OverlaidFacts:
        """The same facts as a rule sees them that applies to one part (or to none)."""
        return self if member is None else OverlaidFacts(self, member)

    def value(self, expression: Expression) -> Value:
        """The value of *expression* here."""
        return evaluate(expression, self)


class OverlaidFacts:
    """A :class:`FactTable` in which one role means one part: its facts go before those of the machine."""

    __slots__ = ("_base", "_facts")

    def __init__(self, base: FactTable, member: Member) -> None:
        self._base = base
        self._facts = member.facts

    def __call__(self, name: str) -> Value:
        """The value of fact *name*, the part's own first."""
        return self._facts[name] if name in self._facts else self._base(name)

    def value(self, expression: Expression) -> Value:
        """The value of *expression* here."""
        return evaluate(expression, self)

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

    __slots__ = ("_cache", "_chosen", "machine")

    def __init__(self, machine: Machine, settings: Mapping[OptionId, ChoiceId]) -> None:
        self.machine = machine
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
        definition = self.machine.definitions.get(name)
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
    """A :class:`FactTable` in which one role means one part: its facts go before those of the machine.

    So do the facts that are computed from them.
    """

    __slots__ = ("_base", "_cache", "_facts", "machine")

    def __init__(self, base: FactTable | OverlaidFacts, member: Member) -> None:
        self._base = base
        self._facts = member.facts
        self._cache: dict[str, Value] = dict(member.facts)
        self.machine: Machine = base.machine

    def under(self, member: Member | None) -> OverlaidFacts:
        """These facts with another part's in front."""
        return self if member is None else OverlaidFacts(self, member)

    def __call__(self, name: str) -> Value:
        """The value of fact *name*, the part's own first."""
        if name in self._cache:
            return self._cache[name]
        if self.machine.names_behind(name).isdisjoint(self._facts):
            return self._base(name)
        value = self._cache[name] = evaluate(self.machine.definitions[name], self)
        return value

    def value(self, expression: Expression) -> Value:
        """The value of *expression* here."""
        return evaluate(expression, self)

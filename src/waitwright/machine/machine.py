"""A machine: profile, board and rulebook joined into facts, options and their dependencies."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from waitwright.expr import Expression
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine.constants import Member
from waitwright.machine.fitting import Fitted
from waitwright.rulebook.domain import LogicRule, Provenance, Rulebook, Scalar
from waitwright.rulebook.profiles import BoardProfile, MachineProfile, OptionDef

if TYPE_CHECKING:
    from waitwright.expr.vector import Many  # brings numpy along

OWN_PREFIX = "own."
"""Before the name of a parameter that an automatic mode overrides: what its option sets.  Not for rules."""


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine as the engine sees it.  Built by :func:`waitwright.machine.build.build_machine`.

    Attributes:
        name: How the user names it (file stem).
        options: All options in the board's order, with the owner's labels.
        current: The current choice of every option.
        fitted: What sits in each slot.
        members: By role, the parts that play it.
        constants: Facts that no option can change, in base units.
        sources: Where part facts come from.
        setters: Parameter name to the option that sets it.
        definitions: Facts computed from others: derived facts, defaults, and parameters that the
            automatic mode overrides.
        rules: Logic rules of the rulebook and of the board.
        grids: Computed facts over the options that they depend on, as far as anybody asked; see
            :mod:`waitwright.machine.vector`.
    """

    name: str
    profile: MachineProfile
    board: BoardProfile
    rulebook: Rulebook
    options: tuple[OptionDef, ...]
    current: Mapping[OptionId, ChoiceId]
    fitted: tuple[Fitted, ...]
    members: Mapping[str, tuple[Member, ...]]
    constants: Mapping[str, Scalar]
    sources: Mapping[str, Provenance]
    setters: Mapping[str, OptionId]
    definitions: Mapping[str, Expression]
    rules: tuple[LogicRule, ...]
    _scopes: dict[str, frozenset[OptionId]] = field(default_factory=dict, compare=False, repr=False)
    _by_id: dict[OptionId, OptionDef] = field(default_factory=dict, compare=False, repr=False)
    # What follows from the other fields is found anew when one of them is replaced.
    _behind: dict[str, frozenset[str]] = field(default_factory=dict, init=False, compare=False, repr=False)
    grids: dict[str, Many] = field(default_factory=dict, init=False, compare=False, repr=False)

    @property
    def title(self) -> str:
        """The machine's title in the profile."""
        return self.profile.title

    def option(self, option_id: OptionId) -> OptionDef:
        """The option with that id.

        Raises:
            KeyError: if there is none.
        """
        if not self._by_id:
            self._by_id.update({option.id: option for option in self.options})
        return self._by_id[option_id]

    def scope_of_fact(self, name: str) -> frozenset[OptionId]:
        """The options that can change the value of fact *name*."""
        known = self._scopes.get(name)
        if known is not None:
            return known
        if name in self.definitions:
            scope = frozenset().union(*map(self.scope_of_fact, self.definitions[name].names))
        else:
            setter = self.setters.get(name.removeprefix(OWN_PREFIX))
            scope = frozenset() if setter is None else frozenset({setter})
        self._scopes[name] = scope
        return scope

    def names_behind(self, name: str) -> frozenset[str]:
        """The names that fact *name* rests on, through all definitions, itself included."""
        known = self._behind.get(name)
        if known is None:
            known = frozenset({name})
            if name in self.definitions:
                known = known.union(*map(self.names_behind, self.definitions[name].names))
            self._behind[name] = known
        return known

    def in_order(self, options: Iterable[OptionId]) -> tuple[OptionId, ...]:
        """*options* in the board's order."""
        wanted = frozenset(options)
        return tuple(option.id for option in self.options if option.id in wanted)

    def scope_of(self, *expressions: Expression | None) -> tuple[OptionId, ...]:
        """The options that any of *expressions* depends on, in the board's order."""
        found: set[OptionId] = set()
        for expression in expressions:
            if expression is not None:
                for name in expression.names:
                    found |= self.scope_of_fact(name)
        return self.in_order(found)

    def settings_with(self, changes: Mapping[OptionId, ChoiceId]) -> Settings:
        """The current settings with *changes* applied."""
        return {**self.current, **changes}

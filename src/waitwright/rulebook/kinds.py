"""The vocabulary of the rule language: every declared fact, its kind, and the roles it speaks of.

A name is declared when it is a parameter, a derived or counted fact, ``ROLE.present``, or a part fact
``ROLE.ROW``, ``ROLE.ROW_max``, ``ROLE.ROW_min``, ``ROLE.ROW_typ`` of the role's kind of part.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from waitwright.expr import FLAG, TEXT, Expression, Kind
from waitwright.rulebook.domain import Rulebook
from waitwright.units import UNITS

SUFFIXES = ("", "_max", "_min", "_typ")
TRAIT_PREFIX = "work."
"""Events name the traits of the work as ``work.NAME``."""


def kind_of_unit(unit: str) -> Kind:
    """What values of *unit* are to the rule language.

    Raises:
        KeyError: if there is no such unit.
    """
    if unit == "flag":
        return FLAG
    return TEXT if unit == "text" else UNITS[unit].dimension


def part_facts(rulebook: Rulebook) -> Iterator[tuple[str, str, Kind]]:
    """``(fact name, role, kind)`` of everything a data sheet may say of the part in each role."""
    by_kind: dict[str, list[tuple[str, Kind]]] = {}
    for row in rulebook.rows.values():
        kind = kind_of_unit(row.unit)
        suffixes = SUFFIXES if row.unit in UNITS else ("",)
        by_kind.setdefault(row.kind, []).extend((row.name + suffix, kind) for suffix in suffixes)
    for role in rulebook.roles.values():
        for name, kind in by_kind.get(role.kind, ()):
            yield f"{role.name}.{name}", role.name, kind


def fact_kinds(rulebook: Rulebook) -> dict[str, Kind]:
    """Every declared fact name with its kind."""
    kinds: dict[str, Kind] = {name: kind for name, _, kind in part_facts(rulebook)}
    kinds.update((f"{role}.present", FLAG) for role in rulebook.roles)
    for words in (rulebook.counted, rulebook.parameters, rulebook.facts):
        kinds.update((name, kind_of_unit(word.unit)) for name, word in words.items())
    return kinds


def definitions(rulebook: Rulebook) -> dict[str, Expression]:
    """Facts that are computed from others: derived facts, and defaults of parameters."""
    defaults = {
        str(name): word.default for name, word in rulebook.parameters.items() if word.default is not None
    }
    return defaults | {str(name): fact.expression for name, fact in rulebook.facts.items()}


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What checks of expressions need to know.

    Attributes:
        kinds: Every declared fact with its kind.
        each_roles: For facts that speak of one part among several, the ``each`` roles they need,
            directly or through the facts they are computed from.
    """

    kinds: Mapping[str, Kind]
    each_roles: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, rulebook: Rulebook) -> Vocabulary:
        """The vocabulary of *rulebook*."""
        kinds = fact_kinds(rulebook)
        needs: dict[str, frozenset[str]] = {}
        for role in rulebook.roles.values():
            if role.each:
                prefix = f"{role.name}."
                needs.update(
                    (name, frozenset({str(role.name)}))
                    for name in kinds
                    if name.startswith(prefix) and name != f"{prefix}present"
                )
        _spread_needs(needs, definitions(rulebook))
        return cls(kinds, needs)

    def with_traits(self, rulebook: Rulebook) -> Vocabulary:
        """This vocabulary with the traits of work, which only events may name."""
        traits = {
            f"{TRAIT_PREFIX}{name}": kind_of_unit(trait.unit) for name, trait in rulebook.traits.items()
        }
        return Vocabulary({**self.kinds, **traits}, self.each_roles)


def _spread_needs(needs: dict[str, frozenset[str]], computed: Mapping[str, Expression]) -> None:
    """Facts computed from a fact of an ``each`` role need that role too; to a fixed point."""
    changed = True
    while changed:
        changed = False
        for name, expression in computed.items():
            inner = frozenset().union(*(needs.get(part, frozenset()) for part in expression.names))
            if not inner <= needs.get(name, frozenset()):
                needs[name] = needs.get(name, frozenset()) | inner
                changed = True

"""What the catalogue could put in place of fitted parts, and the machine that comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from waitwright.explain.members import PartGroup
from waitwright.explain.verdicts import AnyBound
from waitwright.machine import Machine, build_machine
from waitwright.rulebook.domain import Part
from waitwright.rulebook.fits import fitting_parts, misfit
from waitwright.timing.bind import BoundRules, bind, expressions_of
from waitwright.units import FREQUENCY, TIME, UNITS

EMPTY = "none"
"""In place of a part: nothing."""

_MAY_BE_LEFT_OUT = {"card", "drive", "floppy", "coprocessor"}
"""Kinds of parts without which a machine still is one."""

_COUNTED_FROM = {"l2": "sram", "memory": "dram", "vl": "card", "isa": "card", "pci": "card", "disk": "drive"}
"""First word of a counted fact, and the kind of parts that it is counted from."""


class Exchanger:
    """Machines like one machine but for some parts, each built once."""

    def __init__(self, machine: Machine) -> None:
        """Exchange parts of *machine*, on top of what-if parts that it has already."""
        self._machine = machine
        self._book = machine.rulebook
        self._fitted = what_if_of(machine)
        self._known: dict[tuple[tuple[str, str], ...], tuple[Machine, BoundRules]] = {}

    def built(self, exchange: Mapping[PartGroup, str]) -> tuple[Machine, BoundRules]:
        """The machine with a part id, or :data:`EMPTY`, in every slot of some groups; its rules bound."""
        parts = {str(slot): part for group, part in exchange.items() for slot in group.slots}
        key = tuple(sorted(parts.items()))
        if key not in self._known:
            old = self._machine
            new = build_machine(old.name, old.profile, old.board, self._book, {**self._fitted, **parts})
            self._known[key] = (new, bind(new))
        return self._known[key]

    def candidates(self, group: PartGroup) -> tuple[Part, ...]:
        """Every other part of the catalogue that fits all slots of *group*, cards of one purpose only."""
        slots = [slot for slot in self._machine.board.slots if slot.id in group.slots]
        wanted = purpose_of(group.part)
        return tuple(
            part
            for part in fitting_parts(slots[0], self._book)
            if part.id != group.part.id
            and purpose_of(part) == wanted
            and not any(misfit(slot, part, self._book) for slot in slots[1:])
        )

    def best(self, group: PartGroup, names: frozenset[str]) -> tuple[str, ...]:
        """Part ids that could do better than any other as far as the facts *names* go.

        A part is left out where another one is as good or better in every time and clock rating that is
        asked for and equal in all else.  :data:`EMPTY` comes first where the slot may stay empty.
        """
        asked = {name.rpartition(".")[2] for name in names}
        kept: list[Part] = []
        for part in self.candidates(group):
            if not any(self._as_good(other, part, asked) for other in kept):
                kept = [*(other for other in kept if not self._as_good(part, other, asked)), part]
        left_out = (EMPTY,) if group.part.kind in _MAY_BE_LEFT_OUT else ()
        return (*left_out, *(part.id for part in kept))

    def _as_good(self, one: Part, other: Part, asked: set[str]) -> bool:
        """Whether *one* does for every rule what *other* does, as far as the facts *asked* go."""
        for name in asked:
            mine, its = one.values.get(name), other.values.get(name)
            if mine is None or its is None:
                if mine is not its:
                    return False
                continue
            if mine.value == its.value:
                continue
            row = self._book.rows.get((one.kind, name)) or self._book.rows.get(
                (one.kind, name.removesuffix("_max"))
            )
            if row is None or row.unit not in UNITS or UNITS[row.unit].dimension not in {TIME, FREQUENCY}:
                return False
            if not isinstance(mine.value, int | Fraction) or not isinstance(its.value, int | Fraction):
                return False
            if mine.value > its.value if row.worst == "max" else mine.value < its.value:
                return False
        return True


def names_of(machine: Machine, bound: AnyBound) -> frozenset[str]:
    """Every fact that the rule rests on, through all definitions."""
    stated = (one for one in expressions_of(bound.rule) if one is not None)
    return frozenset().union(*(machine.names_behind(name) for one in stated for name in one.names))


def bears_on(machine: Machine, group: PartGroup, bound: AnyBound) -> bool:
    """Whether exchanging *group* can change what the rule says."""
    if bound.member is not None and bound.member.item.slot in group.slots:
        return True
    named = names_of(machine, bound)
    roles = [role for role in machine.rulebook.roles.values() if role.kind == group.part.kind]
    for role in roles:
        if role.each and bound.member is not None and bound.member.role == role.name:
            continue  # it speaks of another one of these
        members = machine.members[role.name]
        if any(one.item.slot in group.slots for one in members) and any(
            name.startswith(f"{role.name}.") for name in named
        ):
            return True
    return any(_COUNTED_FROM.get(name.partition(".")[0]) == group.part.kind for name in named)


def purpose_of(part: Part) -> str:
    """What a card is for; empty for other parts."""
    value = part.values.get("purpose")
    return "" if value is None else str(value.value)


def what_if_of(machine: Machine) -> dict[str, str]:
    """What-if parts that *machine* has already, and slots that it leaves empty."""
    parts = {str(item.slot): str(item.part.id) for item in machine.fitted if item.fresh}
    filled = {item.slot for item in machine.fitted}
    return {**{str(slot): EMPTY for slot in machine.profile.fit if slot not in filled}, **parts}

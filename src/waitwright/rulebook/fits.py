"""Which part goes into which slot."""

from __future__ import annotations

from collections.abc import Iterator

from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.profiles import SlotDef

_PLUGS_INTO: dict[str, frozenset[str]] = {
    "isa8": frozenset({"isa8", "isa16", "vl"}),
    "isa16": frozenset({"isa16", "vl"}),
    "vl": frozenset({"vl"}),
    "pci": frozenset({"pci"}),
}
"""Slots that take a card of each bus: a local-bus connector extends a 16-bit ISA slot."""


def kind_for(slot: SlotDef, rulebook: Rulebook) -> str:
    """The kind of part that *slot* takes."""
    return rulebook.roles[slot.role].kind if slot.role else "card"


def misfit(slot: SlotDef, part: Part, rulebook: Rulebook) -> str:
    """Why *part* does not go into *slot*; an empty text where it does."""
    kind = kind_for(slot, rulebook)
    if part.kind != kind:
        return f"slot {slot.id!r} takes a part of kind {kind!r}, {part.id!r} is of kind {part.kind!r}"
    if slot.accepts and part.family not in slot.accepts:
        return f"slot {slot.id!r} takes {', '.join(slot.accepts)}; {part.id!r} is of family {part.family!r}"
    if slot.bus and "buses" in part.values:
        plug = str(part.values["buses"].value)
        if slot.bus not in _PLUGS_INTO.get(plug, frozenset()):
            return f"slot {slot.id!r} is on bus {slot.bus!r}; {part.id!r} plugs into {plug!r}"
    return ""


def fitting_parts(slot: SlotDef, rulebook: Rulebook) -> Iterator[Part]:
    """Every part of the catalogue that goes into *slot*."""
    return (part for part in rulebook.parts.values() if not misfit(slot, part, rulebook))

"""What is fitted where: slots and parts joined, with what-if replacements.

A :class:`Fitted` is one physical group of equal parts in one slot; it is the unit that has its own
part factor in the cloud.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from waitwright.errors import UsageError
from waitwright.ids import SlotId
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.fits import fitting_parts, misfit
from waitwright.rulebook.profiles import BoardProfile, FitDef, MachineProfile, SlotDef
from waitwright.units import Exact

CPU = "cpu"
"""Role without which nothing runs."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A part in a slot.

    Attributes:
        role: Role that rules use for it; empty for cards, which take part as cards.
        bus: Bus that a card really uses, or the bus that carries a drive's port; else empty.
        size: Bytes of one module, for memory.
        refresh: Refresh class of a memory module.
        wanted: How many parts fill the slot.
        fresh: True where a what-if part replaced the profile's one.
    """

    slot: SlotId
    title: str
    role: str
    part: Part
    count: int
    wanted: int
    bus: str = ""
    size: Exact | None = None
    refresh: Part | None = None
    fresh: bool = False


def parse_what_if(texts: Iterable[str]) -> dict[str, str]:
    """``SLOT=PART`` texts as a mapping.

    Raises:
        UsageError: if a text has no ``=`` or names one slot twice.
    """
    wishes: dict[str, str] = {}
    for text in texts:
        slot, equals, part = text.partition("=")
        if not equals or not slot or not part:
            raise UsageError(f"--part {text}: expected SLOT=PART, or SLOT=none for an empty slot")
        if slot in wishes:
            raise UsageError(f"--part {text}: slot {slot!r} is given twice")
        wishes[slot] = part
    return wishes


def fit(
    board: BoardProfile, profile: MachineProfile, rulebook: Rulebook, what_if: Mapping[str, str]
) -> tuple[Fitted, ...]:
    """All fitted parts in the board's slot order, *what_if* (slot to part id or ``none``) applied.

    Raises:
        UsageError: if a what-if names an unknown slot or part, a slot with a soldered part, or a part that
            the slot cannot take; or if no CPU is fitted.
    """
    slots = {str(slot.id): slot for slot in board.slots}
    for slot_id in what_if:
        if slot_id not in slots:
            raise UsageError(f"--part {slot_id}=...: no such slot{hint_behind(slot_id, slots)}")
        soldered = slots[slot_id].soldered
        if soldered:
            raise UsageError(f"--part {slot_id}=...: {soldered!r} is soldered there and cannot be exchanged")
    fitted: list[Fitted] = []
    by_slot: dict[str, Fitted] = {}
    for slot in board.slots:
        for found in _fill(slot, profile.fit.get(slot.id, ()), what_if.get(str(slot.id)), rulebook):
            by_slot[str(slot.id)] = found
            fitted.append(found)
    sockets = [slot.id for slot in board.slots if slot.role == CPU]
    if sockets and not any(item.role == CPU for item in fitted):
        raise UsageError(f"slot {sockets[0]!r} is empty: without a CPU there is no timing; fit one")
    return tuple(_with_port_bus(item, slots[str(item.slot)], by_slot) for item in fitted)


def _fill(slot: SlotDef, fits: Sequence[FitDef], wish: str | None, rulebook: Rulebook) -> tuple[Fitted, ...]:
    """What sits in one slot; a cache or memory bank may hold several parts (mixed)."""
    if wish == "none":
        return ()
    if wish is not None:
        part = _wished_part(slot, wish, rulebook)
        old = fits[0] if fits else None
        count = sum(one.count for one in fits) if fits else slot.chips
        return (_fitted(slot, part, count, old, rulebook, fresh=True),)
    if fits:
        return tuple(
            _fitted(slot, rulebook.parts[one.part], one.count, one, rulebook, fresh=False) for one in fits
        )
    if slot.soldered:
        return (_fitted(slot, rulebook.parts[slot.soldered], slot.chips, None, rulebook, fresh=False),)
    return ()


def _fitted(
    slot: SlotDef, part: Part, count: int, given: FitDef | None, rulebook: Rulebook, *, fresh: bool
) -> Fitted:
    size = given.size if given is not None else None
    refresh = rulebook.parts[given.refresh] if given is not None and given.refresh else None
    bus = str(part.values["buses"].value) if part.kind == "card" and "buses" in part.values else ""
    return Fitted(slot.id, slot.title, slot.role, part, count, slot.chips, bus, size, refresh, fresh)


def _wished_part(slot: SlotDef, wish: str, rulebook: Rulebook) -> Part:
    part = rulebook.parts.get(wish)
    if part is None:
        hint = hint_behind(wish, (candidate.id for candidate in fitting_parts(slot, rulebook)))
        raise UsageError(f"--part {slot.id}={wish}: no such part{hint}")
    problem = misfit(slot, part, rulebook)
    if problem:
        raise UsageError(f"--part {slot.id}={wish}: {problem}")
    return part


def _with_port_bus(item: Fitted, slot: SlotDef, by_slot: Mapping[str, Fitted]) -> Fitted:
    """Drives use the bus of the card that carries their port, or the board's own port."""
    if not slot.on:
        return item
    if slot.on.startswith("board-"):
        bus = slot.on.removeprefix("board-")
    else:
        carrier = by_slot.get(slot.on)
        bus = carrier.bus if carrier is not None else ""
    return replace(item, bus=bus)

"""What can be exchanged: parts from the spares box or the catalogue, and the machine that comes of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from waitwright.explain.exchange import EMPTY, names_of, purpose_of, what_if_of
from waitwright.explain.verdicts import deciding
from waitwright.machine import Machine, build_machine
from waitwright.rulebook.domain import Part
from waitwright.rulebook.fits import misfit
from waitwright.rulebook.profiles import SlotDef
from waitwright.timing.bind import BoundRules
from waitwright.units import FREQUENCY, TIME, UNITS


@dataclass(frozen=True, slots=True)
class Exchange:
    """Parts put in place of others.

    Attributes:
        role: What the parts do; a card's purpose for cards.
        slots: Slot to part id, or :data:`EMPTY`.
        counts: How many of each part it takes.
    """

    role: str
    slots: Mapping[str, str]
    counts: Mapping[str, int]


def exchanged(machine: Machine, exchanges: Iterable[Exchange]) -> Machine:
    """*machine* with *exchanges* made, on top of what-if parts that it has, with the same settings."""
    slots = {slot: part for exchange in exchanges for slot, part in exchange.slots.items()}
    parts = {**what_if_of(machine), **slots}
    changed = build_machine(machine.name, machine.profile, machine.board, machine.rulebook, parts)
    return replace(changed, current=machine.current)


def stock_of(machine: Machine) -> dict[str, int]:
    """How many of each part lie in the owner's spares box."""
    return {part: sum(lots) for part, lots in _lots(machine).items()}


def from_spares(machine: Machine) -> tuple[Exchange, ...]:
    """What can be made of the owner's spares, in the order of the profile; equal parts go together.

    Where no part fills every place, two together may: one the first bank, the other the second.
    """
    found: list[Exchange] = []
    for name, counts in _lots(machine).items():
        part = machine.rulebook.parts[name]
        if part.kind == "card":
            taken = {slot for exchange in found for slot in exchange.slots}
            found += _card(machine, part, taken)
        else:
            found += _chips(machine, part, counts)
    return (*found, *_joined(machine, found))


def from_market(machine: Machine) -> tuple[Exchange, ...]:
    """Other grades of what is fitted, and every CPU that the socket takes; nothing slower in all respects."""
    found: list[Exchange] = []
    plenty = [sum(slot.chips for slot in machine.board.slots)]
    for part in machine.rulebook.parts.values():
        alike = [item.part for item in machine.fitted if item.part.family == part.family]
        if part in alike or any(_no_better(machine, part, one) for one in alike):
            continue
        if alike or part.kind == "cpu":
            found += _card(machine, part) if part.kind == "card" else _chips(machine, part, plenty)
    return tuple(found)


def _lots(machine: Machine) -> dict[str, list[int]]:
    """The spares by part: how many chips each lot has."""
    lots: dict[str, list[int]] = {}
    for spare in machine.profile.spares:
        lots.setdefault(spare.part, []).append(spare.count)
    return lots


def _no_better(machine: Machine, part: Part, fitted: Part) -> bool:
    """Whether *part*, another grade of *fitted*, has no delay shorter and no clock rating higher.

    Only the limit that rules live by counts, and a grade that differs in more than times and clocks, such
    as one that answers another mode, is always looked at.
    """
    for name, value in part.values.items():
        base, _, end = name.rpartition("_")
        row = machine.rulebook.rows.get((part.kind, name))
        if row is None and end in {"min", "typ"}:
            continue
        row = row or machine.rulebook.rows.get((part.kind, base))
        other = fitted.values.get(name)
        if row is None or other is None or value.value == other.value:
            continue
        mine, its = value.value, other.value
        if (
            row.unit in {"flag", "text"}
            or not isinstance(mine, int | Fraction)
            or not isinstance(its, int | Fraction)
        ):
            return False
        timed = row.unit in UNITS and UNITS[row.unit].dimension in {TIME, FREQUENCY}
        if timed and (mine < its if row.worst == "max" else mine > its):
            return False
    return True


def figures_read(machine: Machine, rules: BoundRules) -> frozenset[str]:
    """Figures of data sheets that some rule reads that decides, whatever part they are of."""
    names = frozenset().union(*(names_of(machine, bound) for bound in deciding(rules).values()))
    return frozenset(name.partition(".")[2] for name in names)


@dataclass(frozen=True, slots=True)
class Grades:
    """Compares exchanges on one machine by the *figures* of their parts that rules read.

    Parts of one family spread alike, so that a shorter delay is shorter in every draw.
    """

    machine: Machine
    figures: frozenset[str]

    def as_good(self, one: Exchange, other: Exchange) -> bool:
        """Whether *one* does whatever *other* does, at any odds: same places, no figure worse."""
        return one.slots.keys() == other.slots.keys() and all(
            self._part_as_good(part, other.slots[slot]) for slot, part in one.slots.items()
        )

    def improves(self, exchange: Exchange) -> bool:
        """Whether it only puts parts as good in every figure in place of what is there."""
        there: dict[str, list[str]] = {}
        for item in self.machine.fitted:
            there.setdefault(str(item.slot), []).append(str(item.part.id))
        return all(
            slot in there and all(self._part_as_good(part, one) for one in there[slot])
            for slot, part in exchange.slots.items()
        )

    def _part_as_good(self, one: str, other: str) -> bool:
        if one == other:
            return True
        if EMPTY in {one, other}:
            return False
        book = self.machine.rulebook
        mine, its = book.parts[one], book.parts[other]
        if mine.family != its.family:
            return False
        for name in self.figures & (mine.values.keys() | its.values.keys()):
            if name not in mine.values or name not in its.values:
                return False
            value, against = mine.values[name].value, its.values[name].value
            row = book.rows.get((mine.kind, name)) or book.rows.get((mine.kind, name.removesuffix("_max")))
            if value == against:
                continue
            # What a least value is good for differs from row to row: only equal ones compare.
            timed = row is not None and row.unit in UNITS and UNITS[row.unit].dimension in {TIME, FREQUENCY}
            if row is None or not timed:
                return False
            if not isinstance(value, int | Fraction) or not isinstance(against, int | Fraction):
                return False
            if value > against if row.worst == "max" else value < against:
                return False
        return True


def _chips(machine: Machine, part: Part, counts: Iterable[int]) -> list[Exchange]:
    """Exchanges of chips, modules, drives, CPU or generator, for each role that the part can play.

    Every place is filled from one lot, so that no bank is mixed; as many places as the lots allow.  Drives
    are no bank: each place is an exchange by itself, and what is put on a free port replaces the others.
    """
    found = []
    for role in dict.fromkeys(slot.role for slot in machine.board.slots if slot.role):
        if part.kind == "drive":
            found += [_exchange(machine, role, slots) for slots in _drive_places(machine, role, part)]
            continue
        lots = sorted(counts, reverse=True)
        slots: dict[str, str] = {}
        for slot in _places(machine, role, part):
            lot = next((place for place, left in enumerate(lots) if left >= slot.chips), None)
            if lot is not None:
                lots[lot] -= slot.chips
                slots[slot.id] = part.id
        if slots:
            found.append(_exchange(machine, role, slots))
    return found


def _drive_places(machine: Machine, role: str, part: Part) -> Iterator[dict[str, str]]:
    """A drive in place of each one fitted, or on a port without one while the fitted ones come out."""
    there = {item.slot: item.part.id for item in machine.fitted}
    drives = [slot for slot in machine.board.slots if slot.role == role and not slot.soldered]
    for slot in drives:
        if misfit(slot, part, machine.rulebook) or there.get(slot.id) == part.id:
            continue
        if slot.id in there:
            yield {slot.id: part.id}
        elif slot.on.startswith("board-") or slot.on in there:
            yield {**{one.id: EMPTY for one in drives if one.id in there}, slot.id: part.id}


def _joined(machine: Machine, found: Iterable[Exchange]) -> list[Exchange]:
    """Pairs of parts for one role of which neither fills every place: one before, the other behind."""
    joined: list[Exchange] = []
    for first, second in combinations(found, 2):
        (part,), (other,) = first.counts, second.counts
        if first.role != second.role or machine.rulebook.parts[part].kind == "card":
            continue
        places = [slot.id for slot in _places(machine, first.role, machine.rulebook.parts[other])]
        behind = [slot for slot in places if slot not in first.slots][: len(second.slots)]
        if behind:
            slots = {**first.slots, **{str(slot): other for slot in behind}}
            if all(one.slots != slots for one in joined):
                joined.append(_exchange(machine, first.role, slots))
    return joined


def _exchange(machine: Machine, role: str, slots: Mapping[str, str]) -> Exchange:
    chips = {str(slot.id): slot.chips for slot in machine.board.slots}
    counts = {
        part: sum(chips[slot] for slot, there in slots.items() if there == part)
        for part in slots.values()
        if part != EMPTY
    }
    return Exchange(role, slots, counts)


def _places(machine: Machine, role: str, part: Part) -> list[SlotDef]:
    """Slots of a role that a part may go into."""
    return [
        slot
        for slot in machine.board.slots
        if slot.role == role and not slot.soldered and _worth_filling(machine, slot, part)
    ]


def _worth_filling(machine: Machine, slot: SlotDef, part: Part) -> bool:
    """The part fits, is not all that is there, and does not go into an empty bank of unknown size."""
    there = [item for item in machine.fitted if item.slot == slot.id]
    if misfit(slot, part, machine.rulebook) or {item.part.id for item in there} == {part.id}:
        return False
    return bool(there) or slot.role == "coprocessor"


def _card(machine: Machine, part: Part, promised: Collection[str] = ()) -> list[Exchange]:
    """A card in place of the one with the same purpose: in its slot, or in a free one that takes it.

    A card is on the same bus in whichever slot it sits, so that one slot stands for all.

    Args:
        promised: Slots that other exchanges take; another one is better, so that both can be made.
    """
    wanted = purpose_of(part)
    cards = [item for item in machine.fitted if item.part.kind == "card"]
    old = [item for item in cards if wanted and purpose_of(item.part) == wanted]
    taken = {item.slot for item in machine.fitted}
    if any(item.part.id == part.id for item in old):
        return []
    card_slots = [slot for slot in machine.board.slots if slot.bus]
    preferred = [slot for slot in card_slots if old and slot.id == old[0].slot]
    # A local-bus card in an ISA slot is no use, and an ISA card need not block a local-bus slot.
    preferred += [slot for slot in card_slots if slot.id not in taken]
    bus = str(part.values["buses"].value)
    for slot in sorted(preferred, key=lambda one: (one.bus != bus, one.id in promised)):
        if not misfit(slot, part, machine.rulebook):
            slots: dict[str, str] = {item.slot: EMPTY for item in old}
            slots[slot.id] = part.id
            return [_exchange(machine, wanted or "card", slots)]
    return []

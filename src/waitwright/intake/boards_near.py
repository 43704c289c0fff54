"""Which packed board comes closest to the owner's: ranked, with what speaks for and against each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from waitwright.ids import ParameterName
from waitwright.rulebook.domain import Part, Rulebook
from waitwright.rulebook.fits import fitting_parts, misfit
from waitwright.rulebook.profiles import BoardProfile, SlotDef
from waitwright.units import Exact, from_base

BUSES: Mapping[str, str] = {"isa": "ISA", "vl": "local bus", "pci": "PCI"}
"""Buses as owners name them, and how they are told."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is known of the owner's board.

    Attributes:
        cpu: The CPU in its socket.
        cache_kb: Second-level cache in KB; 0 for none, None where it is not known.
        buses: Kinds of slots, of :data:`BUSES`.
        pins: Contacts of its memory modules: 30, 72, or both; empty where they are not known.
    """

    cpu: Part | None = None
    cache_kb: int | None = None
    buses: frozenset[str] = frozenset()
    pins: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class NearBoard:
    """A packed board, how far it is from the owner's (0: nothing speaks against it), and why."""

    name: str
    board: BoardProfile
    distance: int
    alike: tuple[str, ...]
    unlike: tuple[str, ...]


def rank_boards(boards: Mapping[str, BoardProfile], wanted: Wanted, rulebook: Rulebook) -> list[NearBoard]:
    """All *boards*, the closest first; of equally close ones in order of their names."""
    ranked = []
    for name, board in boards.items():
        remarks = list(_compare(board, wanted, rulebook))
        ranked.append(
            NearBoard(
                name,
                board,
                sum(weight for weight, _ in remarks),
                tuple(text for weight, text in remarks if not weight),
                tuple(text for weight, text in sorted(remarks, key=lambda one: -one[0]) if weight),
            )
        )
    return sorted(ranked, key=lambda near: (near.distance, near.name))


def _compare(board: BoardProfile, wanted: Wanted, rulebook: Rulebook) -> Iterator[tuple[int, str]]:
    """Remarks, each with its weight: 0 where the boards agree, else how much speaks against this one."""
    if wanted.cpu is not None:
        yield from _compare_cpu(board, wanted.cpu, rulebook)
    yield from _compare_buses(board, wanted.buses)
    if wanted.cache_kb is not None:
        yield from _compare_cache(board, wanted.cache_kb, rulebook)
    width = bus_width(wanted.cpu)
    pins = {pins_of(slot, width) for slot in memory_banks(board)} - {0}
    if wanted.pins and pins:
        told = " and ".join(f"{one}-pin" for one in sorted(pins))
        if wanted.pins & pins:
            yield 0, f"{told} modules"
        else:
            yield 10, f"takes {told} modules"


def _compare_cpu(board: BoardProfile, cpu: Part, rulebook: Rulebook) -> Iterator[tuple[int, str]]:
    title = cpu.title.partition(",")[0]
    sockets = [slot for slot in board.slots if slot.role == "cpu"]
    if not any(takes(slot, cpu, rulebook) for slot in sockets):
        soldered = [slot.soldered for slot in sockets if slot.soldered]
        yield 100, f"has a {rulebook.parts[soldered[0]].title} soldered" if soldered else f"takes no {title}"
        return
    yield 0, f"takes a {title}"
    clock = cpu.values.get("host_clock")
    if clock is None or not isinstance(clock.value, int | Fraction):
        return
    made = host_clocks(board)
    mhz = f"{float(from_base(clock.value, 'MHz')):.4g} MHz"
    if any(abs(Fraction(one) / clock.value - 1) < Fraction(1, 100) for one in made):
        yield 0, f"makes {mhz}"
    elif made:
        yield 15, f"does not make {mhz}"


def _compare_buses(board: BoardProfile, buses: Iterable[str]) -> Iterator[tuple[int, str]]:
    wanted = set(buses)
    here = {slot.bus.rstrip("816") for slot in board.slots if slot.bus}
    for bus, title in BUSES.items():
        if not wanted:
            return
        if bus in wanted and bus in here:
            yield 0, title
        elif bus in wanted:
            yield 20, f"has no {title} slot"
        elif bus in here:
            yield 5, f"has {title} too"


def _compare_cache(board: BoardProfile, cache_kb: int, rulebook: Rulebook) -> Iterator[tuple[int, str]]:
    sizes = cache_sizes(board, rulebook)
    if not cache_kb and not sizes:
        yield 0, "no cache"
    elif not cache_kb:
        yield 6, "has sockets for cache chips"
    elif not sizes:
        yield 25, "has no cache"
    elif cache_kb in sizes:
        yield 0, f"{cache_kb} KB of cache"
    else:
        yield 8, f"holds {', '.join(str(size) for size in sizes)} KB of cache"


def takes(slot: SlotDef, part: Part, rulebook: Rulebook) -> bool:
    """Whether *part* goes into *slot*, or is soldered there."""
    return slot.soldered == part.id if slot.soldered else not misfit(slot, part, rulebook)


def host_clocks(board: BoardProfile) -> list[Exact]:
    """The host clocks that some choice of the board sets, rising."""
    name = ParameterName("host_clock")
    values = {
        choice.sets[name] for option in board.options for choice in option.choices if name in choice.sets
    }
    if name in board.fixed:
        values.add(board.fixed[name])
    return sorted(value for value in values if isinstance(value, int | Fraction))


def cache_sizes(board: BoardProfile, rulebook: Rulebook) -> list[int]:
    """KB of cache that the board's data sockets can hold, filled from the first bank on, rising."""
    sizes: set[int] = set()
    sums = {0}
    for slot in board.slots:
        if slot.role != "l2.data":
            continue
        fitting = [rulebook.parts[slot.soldered]] if slot.soldered else fitting_parts(slot, rulebook)
        chips = {int(from_base(size, "KB")) for part in fitting if (size := chip_size(part))}
        sums = {before + slot.chips * chip for before in sums for chip in chips}
        sizes |= sums
    return sorted(sizes)


def chip_size(part: Part) -> Exact | None:
    """Bytes of one static RAM."""
    value = part.values.get("size")
    return value.value if value is not None and isinstance(value.value, int | Fraction) else None


def memory_banks(board: BoardProfile) -> list[SlotDef]:
    """The board's memory banks in its order."""
    return [slot for slot in board.slots if slot.role == "dram"]


def bus_width(cpu: Part | None) -> int:
    """Data bits of *cpu*; 32 where that is not known."""
    value = cpu.values.get("bus_width") if cpu is not None else None
    return int(value.value) if value is not None and isinstance(value.value, int) else 32


def pins_of(bank: SlotDef, width: int) -> int:
    """Contacts of the modules that *bank* takes on a bus of *width* bits; 0 where that is open.

    A bank is as wide as the bus: 30-pin modules are 8 bits wide, 72-pin ones 32.
    """
    if bank.chips * 8 == width:
        return 30
    return 72 if bank.chips * 32 == width else 0

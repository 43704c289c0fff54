"""A workshop for tests of speed: packed machines with other parts, on boards with other fixed parameters.

Nothing here knows a formula.  Every time that a test compares comes out of the rulebook's expressions.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from waitwright.api.opening import open_machine
from waitwright.expr import Value
from waitwright.ids import ChoiceId, OptionId, ParameterName, PartId, Settings, SlotId
from waitwright.machine import FactTable, Machine, build_machine
from waitwright.rulebook.domain import Rulebook, Scalar, Workload
from waitwright.rulebook.profiles import FitDef, SlotDef
from waitwright.search.compile import compile_rated, settings_of
from waitwright.search.topk import fastest
from waitwright.timing.bind import bind
from waitwright.units import Exact, from_base, tidy, to_base
from waitwright.workload.model import event_tables, event_times

BUS_EVENTS = (
    "core", "narrow-bus", "l2-read", "memory-read", "memory-read-row", "evicted-line",
    "l2-write", "memory-write", "memory-write-row", "refresh-hold",
)  # fmt: skip
"""What CPU, caches and memory do by themselves, without display, ports, drive and firmware."""


PACKED = ("tollgate-386dx33", "tollgate-486dx2")


@dataclass(frozen=True)
class Shop:
    """The packed rulebook, and machines built from packed parts."""

    book: Rulebook
    _opened: dict[tuple[str, tuple[str, ...]], Machine] = field(default_factory=dict)

    def machine(self, name: str, *parts: str) -> Machine:
        """The packed machine *name* with ``SLOT=PART`` replacements."""
        key = (name, parts)
        if key not in self._opened:
            self._opened[key] = open_machine(name, self.book, parts)
        return self._opened[key]

    def work(self, name: str, **traits: str) -> Workload:
        """The packed workload *name* with some traits replaced."""
        work = self.book.workloads[name]
        changed = {
            trait: replace(work.traits[trait], value=to_base(value, self.book.traits[trait].unit))
            for trait, value in traits.items()
        }
        return replace(work, traits={**work.traits, **changed})

    def best(self, machine: Machine, work: Workload) -> Settings:
        """The fastest settings that every data-sheet maximum allows."""
        problem = compile_rated(machine, bind(machine), event_tables(machine, work))
        return settings_of(machine, fastest(problem, count=1).best[0].values)


def rebuilt(
    machine: Machine,
    fixed: Mapping[str, Scalar],
    *,
    keep: Collection[str] | None = None,
    slots: Iterable[SlotDef] = (),
    fit: Mapping[str, FitDef | None] | None = None,
) -> Machine:
    """*machine* on a board that differs.

    Args:
        fixed: Parameters that the board sets for good, in base units; options that set them go.
        keep: Options to keep of the others; None for all.  What options that go set besides stays as it is.
        slots: Slots that replace those of the same id.
        fit: What sits in some slots; None for an empty one.
    """
    other = {slot.id: slot for slot in slots}
    board = machine.board
    options = tuple(
        option
        for option in board.options
        if (keep is None or option.id in keep) and not any(name in fixed for name in option.parameters)
    )
    stays = {
        name: value
        for option in board.options
        if option not in options
        for name, value in option.choice(machine.current[option.id]).sets.items()
    }
    board = replace(
        board,
        fixed={**board.fixed, **stays, **{ParameterName(name): value for name, value in fixed.items()}},
        options=options,
        automatics=(),
        slots=tuple(other.get(slot.id, slot) for slot in board.slots),
    )
    fitted = fit_of(machine)
    fitted.update((SlotId(slot), () if given is None else (given,)) for slot, given in (fit or {}).items())
    current = {option.id: machine.current[option.id] for option in options}
    profile = replace(machine.profile, board=board, fit=fitted, current=current)
    return build_machine(machine.name, profile, board, machine.rulebook)


def fit_of(machine: Machine) -> dict[SlotId, tuple[FitDef, ...]]:
    """What sits in the sockets of *machine*, replacements included."""
    soldered = {slot.id for slot in machine.board.slots if slot.soldered}
    fit: dict[SlotId, tuple[FitDef, ...]] = {}
    for item in machine.fitted:
        if item.slot not in soldered:
            refresh = item.refresh.id if item.refresh is not None else None
            given = FitDef(item.part.id, item.count, item.size, refresh)
            fit[item.slot] = (*fit.get(item.slot, ()), given)
    return fit


def slot_of(machine: Machine, name: str) -> SlotDef:
    """The slot *name* of a machine's board."""
    return next(slot for slot in machine.board.slots if slot.id == name)


def one(part: str, count: int = 1) -> FitDef:
    """*count* equal parts in a slot."""
    return FitDef(PartId(part), count)


def set_to(machine: Machine, choices: Mapping[str, str] | None = None) -> Settings:
    """The current settings of *machine* with some choices replaced."""
    return machine.settings_with(
        {OptionId(option): ChoiceId(choice) for option, choice in (choices or {}).items()}
    )


def times(machine: Machine, work: Workload, choices: Mapping[str, str] | None = None) -> dict[str, Exact]:
    """Picoseconds per 1000 instructions by event; every one must be known."""
    found: dict[str, Exact] = {}
    for event in event_times(machine, work, set_to(machine, choices)):
        assert event.total is not None, f"{event.event.id} is unknown"
        found[event.event.id] = event.total
    return found


def time(
    machine: Machine,
    work: Workload,
    choices: Mapping[str, str] | None = None,
    *,
    events: Collection[str] | None = None,
) -> Fraction:
    """Picoseconds per 1000 instructions, in all or in some *events*."""
    parts = times(machine, work, choices)
    return sum((Fraction(parts[event]) for event in events or parts), start=Fraction(0))


def fact(machine: Machine, name: str, unit: str, choices: Mapping[str, str] | None = None) -> Exact:
    """The value of a fact in *unit*."""
    value: Value = FactTable(machine, set_to(machine, choices))(name)
    assert isinstance(value, int | Fraction) and not isinstance(value, bool), f"{name} is {value}"
    return from_base(tidy(Fraction(value)), unit)

"""What another part would bring: exchanges from the spares box or the catalogue, alone and in pairs.

An exchange is judged by what the machine can do after it: the fastest settings at the asked odds, against
the fastest without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from waitwright.belief.outlook import outlook
from waitwright.explain.exchange import EMPTY, purpose_of, what_if_of
from waitwright.ids import Settings
from waitwright.machine import Machine, build_machine
from waitwright.rulebook.domain import Part, Workload
from waitwright.rulebook.fits import misfit
from waitwright.rulebook.profiles import SlotDef
from waitwright.search.compile import compile_likely, settings_of
from waitwright.search.worthwhile import worthwhile
from waitwright.timing.bind import bind
from waitwright.units import FREQUENCY, TIME, UNITS
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

_APART = 1000
"""Speeds closer than one part in so many count as one when the best settings are chosen."""

_NOTICEABLE = 0.001
"""Gains below this share change nothing that anybody would notice."""


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


@dataclass(frozen=True, slots=True)
class Reach:
    """The best that a machine can do at the asked odds: settings, cost (ps per 1000 instructions), odds."""

    settings: Settings
    cost: int
    odds: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one or two exchanges bring.

    Attributes:
        best: The best after them; None where nothing reaches the asked odds any more.
        gain: Speed over the machine's current settings minus one.
        extra: Speed over the best without them minus one.
        opened: Options whose choice in the best settings changes, with the old and the new choice.
    """

    exchanges: tuple[Exchange, ...]
    best: Reach | None
    gain: float
    extra: float
    opened: tuple[tuple[str, str, str], ...]

    @property
    def useful(self) -> bool:
        """True when anybody would notice the difference."""
        return self.beats(0.0)

    def beats(self, extra: float) -> bool:
        """Whether it is noticeably faster than something that brings *extra*."""
        return 1 + self.extra > (1 + extra) * (1 + _NOTICEABLE)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a machine is asked to do: which work, at what odds of passing a soak test of how many hours."""

    workload: Workload
    odds: float
    hours: float
    seed: int = 0


def best_of(machine: Machine, wanted: Wanted) -> Reach | None:
    """The fastest settings of *machine* at the wanted odds; None where there are none."""
    rules = bind(machine)
    events = event_tables(machine, wanted.workload)
    view = outlook(machine, rules, seed=wanted.seed, hours=wanted.hours)
    problem = compile_likely(machine, rules, events, view.tables, view.cloud)
    apart = max(1, Pricer(machine, events).total(machine.current) // _APART)
    best = worthwhile(problem, count=1, odds=wanted.odds, apart=apart).best
    return Reach(settings_of(machine, best[0].values), best[0].cost, best[0].odds) if best else None


def judge_exchanges(
    machine: Machine,
    singles: Sequence[Exchange],
    wanted: Wanted,
    *,
    every_pair: bool = True,
    stock: Mapping[str, int] | None = None,
    told: Callable[[int, int], None] = lambda done, of: None,
) -> tuple[Reach | None, tuple[Verdict, ...]]:
    """The best without any exchange, and a verdict on each exchange and each pair, most useful first.

    A pair is listed only where it brings more than its better half.

    Args:
        every_pair: Judge all pairs; else those that promise most, of what may be hundreds (see below).
        stock: How many of each part there are; None for as many as one likes.
        told: Called with how many of how many are done.
    """
    current = Pricer(machine, event_tables(machine, wanted.workload)).total(machine.current)
    base = best_of(machine, wanted)
    found: dict[tuple[int, ...], Verdict] = {}
    for place, single in enumerate(singles):
        found[(place,)] = _verdict(machine, (single,), base, current, wanted)
        told(len(found), len(singles))
    places = (
        range(len(singles)) if every_pair else _promising([found[(place,)] for place in range(len(singles))])
    )
    couples = [
        pair for pair in combinations(places, 2) if _together(singles[pair[0]], singles[pair[1]], stock)
    ]
    for pair in couples:
        found[pair] = _verdict(machine, tuple(singles[place] for place in pair), base, current, wanted)
        told(len(found), len(singles) + len(couples))
    kept = [
        verdict
        for places, verdict in found.items()
        if len(places) == 1 or verdict.beats(max(found[(place,)].extra for place in places))
    ]
    return base, tuple(sorted(kept, key=lambda one: (-one.extra, len(one.exchanges))))


def _promising(verdicts: Sequence[Verdict]) -> list[int]:
    """Places of what is worth pairing: the best for each role, and what a clock alone may hold back.

    A CPU that changes nothing may only lack its clock, and a generator the CPU.
    """
    best: dict[str, int] = {}
    idle = []
    for place, verdict in enumerate(verdicts):
        role = verdict.exchanges[0].role
        if role not in best or verdict.extra > verdicts[best[role]].extra:
            best[role] = place
        if role in {"cpu", "clockgen"} and abs(verdict.extra) <= _NOTICEABLE:
            idle.append(place)
    return sorted({*best.values(), *idle})


def _together(first: Exchange, second: Exchange, stock: Mapping[str, int] | None) -> bool:
    """Both can be made at once: other roles, other slots, and enough of a part that both take."""
    if first.role == second.role or set(first.slots) & set(second.slots):
        return False
    shared = set(first.counts) & set(second.counts)
    return stock is None or all(first.counts[part] + second.counts[part] <= stock[part] for part in shared)


def _verdict(
    machine: Machine, exchanges: tuple[Exchange, ...], base: Reach | None, current: int, wanted: Wanted
) -> Verdict:
    best = best_of(exchanged(machine, exchanges), wanted)
    if best is None:
        return Verdict(exchanges, None, -1.0, -1.0, ())
    extra = gain(base.cost, best.cost) if base is not None else gain(current, best.cost)
    before = base.settings if base is not None else machine.current
    opened = tuple(
        (option.label, option.choice(before[option.id]).label, option.choice(best.settings[option.id]).label)
        for option in machine.options
        if before[option.id] != best.settings[option.id]
    )
    return Verdict(exchanges, best, gain(current, best.cost), extra, opened)


def exchanged(machine: Machine, exchanges: Iterable[Exchange]) -> Machine:
    """*machine* with *exchanges* made, on top of what-if parts that it has, with the same settings."""
    slots = {slot: part for exchange in exchanges for slot, part in exchange.slots.items()}
    parts = {**what_if_of(machine), **slots}
    changed = build_machine(machine.name, machine.profile, machine.board, machine.rulebook, parts)
    return replace(changed, current=machine.current)


# --------------------------------------------------------------------------------- exchanges


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
        found += _card(machine, part) if part.kind == "card" else _chips(machine, part, counts)
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


def _chips(machine: Machine, part: Part, counts: Iterable[int]) -> list[Exchange]:
    """Exchanges of chips, modules, drives, CPU or generator, for each role that the part can play.

    Every place is filled from one lot, so that no bank is mixed; as many places as the lots allow.
    """
    found = []
    for role in dict.fromkeys(slot.role for slot in machine.board.slots if slot.role):
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


def _joined(machine: Machine, found: Iterable[Exchange]) -> list[Exchange]:
    """Pairs of parts for one role of which neither fills every place: one before, the other behind."""
    joined = []
    for first, second in combinations(found, 2):
        (part,), (other,) = first.counts, second.counts
        if first.role != second.role or machine.rulebook.parts[part].kind == "card":
            continue
        places = [slot.id for slot in _places(machine, first.role, machine.rulebook.parts[other])]
        behind = [slot for slot in places if slot not in first.slots][: len(second.slots)]
        if behind:
            slots = {**first.slots, **{str(slot): other for slot in behind}}
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
    """The part fits, is not there already, and does not go into an empty bank of unknown size."""
    there = [item for item in machine.fitted if item.slot == slot.id]
    if misfit(slot, part, machine.rulebook) or any(item.part.id == part.id for item in there):
        return False
    return bool(there) or slot.role == "coprocessor"


def _card(machine: Machine, part: Part) -> list[Exchange]:
    """A card in place of the one with the same purpose: in its slot, or in a free one that takes it."""
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
    for slot in sorted(preferred, key=lambda one: str(part.values["buses"].value) != one.bus):
        if not misfit(slot, part, machine.rulebook):
            slots: dict[str, str] = {item.slot: EMPTY for item in old}
            slots[slot.id] = part.id
            return [_exchange(machine, wanted or "card", slots)]
    return []

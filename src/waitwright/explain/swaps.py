"""What other parts would bring, alone and in pairs.

An exchange is judged by what the machine can do after it: the fastest settings at the asked odds, against
the fastest without it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from waitwright.belief.outlook import outlook
from waitwright.explain.spares import Exchange, exchanged
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.rulebook.domain import Workload
from waitwright.search.compile import compile_likely, settings_of
from waitwright.search.worthwhile import worthwhile
from waitwright.timing.bind import bind
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables

_APART = 1000
"""Speeds closer than one part in so many count as one when the best settings are chosen."""

_NOTICEABLE = 0.001
"""Gains below this share change nothing that anybody would notice."""


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

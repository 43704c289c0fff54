"""What other parts would bring, alone and in pairs.

An exchange is judged by what the machine can do after it: the fastest settings at the asked odds, against
the fastest without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from waitwright.belief.cloud import Cloud
from waitwright.belief.evidence import told_cloud
from waitwright.belief.outlook import Outlook, outlook
from waitwright.explain.spares import Exchange, Grades, exchanged, figures_read
from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine
from waitwright.machine.build import as_found
from waitwright.search.compile import compile_likely, settings_of
from waitwright.search.topk import first
from waitwright.timing.bind import BoundRules, bind
from waitwright.timing.margins import broken
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import Pricing

_CLOSE = 1e-4
"""Odds of one combination, worked out in two ways, are no further apart than this."""

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
        extra: Speed over the best without them minus one; over the current settings where nothing holds
            without them.
        opened: Options whose choice in the best settings changes, with the old and the new choice.
        rescue: True where something holds after them and nothing without them.
    """

    exchanges: tuple[Exchange, ...]
    best: Reach | None
    gain: float
    extra: float
    opened: tuple[tuple[str, str, str], ...]
    rescue: bool = False

    @property
    def useful(self) -> bool:
        """True when anybody would notice the difference."""
        return self.rescue or self.beats(0.0)

    def beats(self, extra: float) -> bool:
        """Whether it is noticeably faster than something that brings *extra*."""
        return 1 + self.extra > (1 + extra) * (1 + _NOTICEABLE)


@dataclass(frozen=True, slots=True)
class Pairs:
    """What became of all pairs of exchanges that can be made at once.

    Attributes:
        judged: So many were judged by the best settings after them.
        bounded: So many cannot bring more than their better half: a judged pair of parts as good or better
            in every figure does not either.
        left: So many were neither judged nor ruled out.
    """

    judged: int
    bounded: int
    left: int

    @property
    def possible(self) -> int:
        """All of them."""
        return self.judged + self.bounded + self.left


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a machine is asked to do: work at some prices, and the odds of passing a soak test of *hours*."""

    prices: Pricing
    odds: float
    hours: float
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Hints:
    """What saves time and changes no answer.

    Attributes:
        learnt: The cloud of the machine with the parts of its profile.
        settings: Combinations that may do well.
    """

    learnt: Cloud | None = None
    settings: tuple[Settings, ...] = ()


def best_of(machine: Machine, wanted: Wanted, hints: Hints | None = None) -> Reach | None:
    """The fastest settings of *machine* at the wanted odds; None where there are none.

    Raises:
        BudgetExhausted: when the search runs out of its budget of work.
    """
    hints = hints or Hints()
    rules = bind(machine)
    events = wanted.prices(machine)
    cloud = told_cloud(machine, rules, seed=wanted.seed, learnt=hints.learnt)
    view = outlook(machine, rules, seed=wanted.seed, hours=wanted.hours, cloud=cloud)
    pricer = Pricer(machine, events)
    known = [pricer.total(one) for one in hints.settings if _holds(machine, rules, view, one, wanted.odds)]
    problem = compile_likely(machine, rules, events, view.tables, view.cloud)
    best = first(problem, odds=wanted.odds, at_most=min(known, default=None))
    return Reach(settings_of(machine, best.values), best.cost, best.odds) if best else None


def _holds(machine: Machine, rules: BoundRules, view: Outlook, settings: Settings, odds: float) -> bool:
    """Whether *settings* reach the *odds* beyond doubt."""
    legal = not list(broken(rules.logic, FactTable(machine, settings)))
    return legal and view.odds(settings) >= odds + _CLOSE


def judge_exchanges(
    machine: Machine,
    singles: Sequence[Exchange],
    wanted: Wanted,
    *,
    every_pair: bool = True,
    stock: Mapping[str, int] | None = None,
    told: Callable[[int, int], None] = lambda done, of: None,
) -> tuple[Reach | None, tuple[Verdict, ...], Pairs]:
    """The best without any exchange, and a verdict on each exchange and each pair, most useful first.

    A pair is listed only where it brings more than its better half.

    Args:
        every_pair: Judge all pairs; else those that promise most, of what may be hundreds (:class:`Pairs`).
        stock: How many of each part there are; None for as many as one likes.
        told: Called with how many of how many are done.
    """
    current = Pricer(machine, wanted.prices(machine)).total(machine.current)
    found = as_found(machine)
    hints = Hints(told_cloud(found, bind(found), seed=wanted.seed))
    base = best_of(machine, wanted, hints)
    if base is not None:
        hints = replace(hints, settings=(base.settings,))
    grades = Grades(machine, figures_read(machine, bind(machine)))
    alone: dict[int, Verdict] = {}
    for place in _best_grades_first(grades, singles):
        single = singles[place]
        alone[place] = _idle_grade(grades, single, base, current, alone.values()) or _verdict(
            machine, (single,), base, current, wanted, hints
        )
        told(len(alone), len(singles))
    couples = [
        pair
        for pair in combinations(range(len(singles)), 2)
        if _together(singles[pair[0]], singles[pair[1]], stock)
    ]
    promising = set(range(len(singles)) if every_pair else _promising(alone))
    chosen = [pair for pair in couples if promising.issuperset(pair)]
    both: dict[tuple[int, int], Verdict] = {}
    for one, other in chosen:
        halves_best = [alone[half].best for half in (one, other)]
        also = tuple(best.settings for best in halves_best if best is not None)
        both[one, other] = _verdict(
            machine,
            (singles[one], singles[other]),
            base,
            current,
            wanted,
            replace(hints, settings=(*hints.settings, *also)),
        )
        told(len(singles) + len(both), len(singles) + len(chosen))
    halves = {pair: max(alone[pair[0]].extra, alone[pair[1]].extra) for pair in couples}
    bounded = sum(
        pair not in both
        and _ruled_out(grades, [singles[place] for place in pair], halves[pair], both.values())
        for pair in couples
    )
    kept = [*alone.values(), *(verdict for pair, verdict in both.items() if verdict.beats(halves[pair]))]
    return (
        base,
        tuple(sorted(kept, key=lambda one: (-one.extra, len(one.exchanges)))),
        Pairs(len(both), bounded, len(couples) - len(both) - bounded),
    )


def _best_grades_first(grades: Grades, singles: Sequence[Exchange]) -> list[int]:
    """Places in an order in which nothing comes before what is as good in every figure."""
    better = [sum(grades.as_good(other, one) for other in singles) for one in singles]
    return sorted(range(len(singles)), key=lambda place: (better[place], place))


def _idle_grade(
    grades: Grades, single: Exchange, base: Reach | None, current: int, judged: Iterable[Verdict]
) -> Verdict | None:
    """The verdict on a grade between what is fitted and one that changes nothing: neither does it."""
    if base is None or not grades.improves(single):
        return None
    if any(not one.useful and grades.as_good(one.exchanges[0], single) for one in judged):
        return Verdict((single,), base, gain(current, base.cost), 0.0, ())
    return None


def _ruled_out(grades: Grades, pair: Sequence[Exchange], half: float, judged: Iterable[Verdict]) -> bool:
    """Whether some judged pair, as good in every figure, brings no more than the better half of *pair*."""
    return any(
        not verdict.beats(half)
        and all(any(grades.as_good(better, one) for better in verdict.exchanges) for one in pair)
        for verdict in judged
    )


def _promising(alone: Mapping[int, Verdict]) -> list[int]:
    """Places of what is worth pairing: the best for each role, and what a clock alone may hold back.

    A CPU that changes nothing may only lack its clock, and a generator the CPU.
    """
    best: dict[str, int] = {}
    idle = []
    for place, verdict in alone.items():
        single = verdict.exchanges[0]
        known = alone[best[single.role]] if single.role in best else None
        if known is None or verdict.extra > known.extra:
            best[single.role] = place
        if single.role in {"cpu", "clockgen"} and abs(verdict.extra) <= _NOTICEABLE:
            idle.append(place)
    return sorted({*best.values(), *idle})


def _together(first: Exchange, second: Exchange, stock: Mapping[str, int] | None) -> bool:
    """Both can be made at once: other roles, other slots, and enough of a part that both take."""
    if first.role == second.role or set(first.slots) & set(second.slots):
        return False
    shared = set(first.counts) & set(second.counts)
    return stock is None or all(first.counts[part] + second.counts[part] <= stock[part] for part in shared)


def _verdict(
    machine: Machine,
    exchanges: tuple[Exchange, ...],
    base: Reach | None,
    current: int,
    wanted: Wanted,
    hints: Hints,
) -> Verdict:
    best = best_of(exchanged(machine, exchanges), wanted, hints)
    if best is None:
        return Verdict(exchanges, None, -1.0, -1.0, ())
    extra = gain(base.cost, best.cost) if base is not None else gain(current, best.cost)
    before = base.settings if base is not None else machine.current
    opened = tuple(
        (option.label, option.choice(before[option.id]).label, option.choice(best.settings[option.id]).label)
        for option in machine.options
        if before[option.id] != best.settings[option.id]
    )
    return Verdict(exchanges, best, gain(current, best.cost), extra, opened, rescue=base is None)

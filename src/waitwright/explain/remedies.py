"""What would help: one changed choice, a slower clock, a better part, or two changed choices.

A remedy is a cure, not a hope: with it the combination reaches the odds that were asked for or, where these
were good enough before, keeps every data-sheet limit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, product
from typing import Literal

from waitwright.belief.outlook import Outlook, outlook
from waitwright.explain.exchange import Exchanger, bears_on
from waitwright.explain.members import TIERS, Choice, PartGroup, Tier, part_groups
from waitwright.explain.verdicts import AnyBound, deciding, fails, leeway, verdict_of
from waitwright.ids import OptionId, Settings
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Part
from waitwright.timing.bind import BoundRules, only
from waitwright.timing.margins import margins
from waitwright.units import Exact
from waitwright.workload.gain import gain

Aim = Literal["odds", "rated"]

CLOCKS = ("host_clock", "core_clock", "isa_clock", "dma_clock", "pci_clock")
"""Facts of which a slower clock makes one smaller."""

MOST_PAIRS = 6
"""So many pairs of choices are told at most, the most gentle ones."""

_CERTAIN = 1 - 1e-6
"""A rule with better odds than these is not what a combination fails for."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something that cures a combination.

    Attributes:
        tier: How hard it is to do; for two choices that of the harder one.
        changes: One choice, one group with its new part, or two choices.
        odds: Odds of the soak test with it.
        gain: Price in speed: against the combination as asked, usually below zero.
        stands: Whether every data-sheet limit is kept with it.
    """

    tier: Tier
    changes: tuple[Choice | PartGroup, ...]
    odds: float
    gain: float
    stands: bool

    @property
    def words(self) -> str:
        """The changes as the command line writes them, a space between two."""
        return " ".join(change.words for change in self.changes)


def gentleness(remedy: Remedy) -> tuple[int, int, float, float, str]:
    """Sorting key: one change before two, gentle before hard, then least speed lost, best odds."""
    return (len(remedy.changes), TIERS.index(remedy.tier), -remedy.gain, -remedy.odds, remedy.words)


class Healer:
    """Finds remedies for one combination of a machine.

    Attributes:
        aim: What a remedy has to reach; None where nothing is wrong.
    """

    def __init__(
        self,
        machine: Machine,
        rules: BoundRules,
        settings: Settings,
        view: Outlook,
        *,
        wanted: float,
        price: Callable[[Machine, Settings], int],
        seed: int = 0,
    ) -> None:
        """Judge by *view*, the outlook over all options, against the *wanted* odds.

        Args:
            price: Picoseconds per 1000 instructions of a machine under given settings.
            seed: Seed of the cloud for machines with other parts.
        """
        self._machine = machine
        self._settings = settings
        self._wanted = wanted
        self._price = price
        self._seed = seed
        self._cost = price(machine, settings)
        self._exchanger = Exchanger(machine)
        self._judge = _Judge(machine, rules, view)
        self.aim = self._aim()
        self._trouble = tuple(self._in_trouble())
        self._eaters = tuple(self._judge.eaters(settings))

    def _aim(self) -> Aim | None:
        if self._judge.odds(self._settings) < self._wanted:
            return "odds"
        return None if self._judge.stands(self._settings) else "rated"

    def _in_trouble(self) -> Iterator[AnyBound]:
        """Rules that every remedy must bear on: as long as one of them stays as it is, nothing is cured."""
        for bound in self._judge.bounds.values():
            if self.aim is not None and not self._well(bound, self._settings):
                yield bound

    def _well(self, bound: AnyBound, settings: Settings) -> bool:
        """Whether one rule by itself lets *settings* reach the aim."""
        odds = self._judge.rule_odds(bound, settings) if self.aim == "odds" else None
        if odds is None:
            return not fails(verdict_of(self._machine, bound, settings))
        return odds >= self._wanted

    def remedies(self) -> tuple[Remedy, ...]:
        """Cures, the most gentle first; pairs of choices only where no single choice will do.

        Of several choices of one option that are equally hard to set, the fastest is told.
        """
        if self.aim is None:
            return ()
        singles = _fastest_of_each(self._single_choices())
        pairs = [] if singles else sorted(_fastest_of_each(self._pairs()), key=gentleness)[:MOST_PAIRS]
        return tuple(sorted([*singles, *pairs, *self._parts()], key=gentleness))

    # ------------------------------------------------------------------------------- choices

    def _single_choices(self) -> Iterator[Remedy]:
        for option in self._machine.options:
            if self._can_cure(bound.id for bound in self._judge.bounds.values() if option.id in bound.scope):
                for choice in option.choices:
                    yield from self._try((Choice(option, choice.id),))

    def _pairs(self) -> Iterator[Remedy]:
        rules = self._trouble or self._eaters
        near = [option for option in self._machine.options if any(option.id in b.scope for b in rules)]
        for one, other in combinations(near, 2):
            if all(one.id in bound.scope or other.id in bound.scope for bound in self._trouble):
                for first, second in product(one.choices, other.choices):
                    yield from self._try((Choice(one, first.id), Choice(other, second.id)))

    def _can_cure(self, touched: Iterable[str]) -> bool:
        """Whether a change may cure at all, by the rules that it touches."""
        rules = frozenset(touched)
        if self._trouble:
            return all(bound.id in rules for bound in self._trouble)
        return any(bound.id in rules for bound in self._eaters)

    def _try(self, changes: tuple[Choice, ...]) -> Iterator[Remedy]:
        if any(self._settings[change.option.id] == change.choice for change in changes):
            return
        settings = {**self._settings, **{change.option.id: change.choice for change in changes}}
        if not all(self._well(bound, settings) for bound in self._trouble):
            return
        if not all(self._well(bound, settings) for bound in self._judge.bounds.values()):
            return
        odds = self._judge.odds(settings)
        if self.aim == "rated" or odds >= self._wanted:
            price = gain(self._cost, self._price(self._machine, settings))
            hardest = max((self._tier(change) for change in changes), key=TIERS.index)
            yield Remedy(hardest, changes, odds, price, self._judge.stands(settings))

    def _tier(self, change: Choice) -> Tier:
        """``clock`` where some clock gets slower, else what kind of option it is."""
        before = FactTable(self._machine, self._settings)
        after = FactTable(self._machine, {**self._settings, change.option.id: change.choice})
        for name in CLOCKS:
            was, now = before(name), after(name)
            if isinstance(was, Exact) and isinstance(now, Exact) and now < was:
                return "clock"
        return change.tier

    # --------------------------------------------------------------------------------- parts

    def _parts(self) -> Iterator[Remedy]:
        """For each group of parts the smallest grade of its family that cures, else of another family."""
        for group in part_groups(self._machine):
            rules = self._trouble or self._eaters
            if not self._can_cure(bound.id for bound in rules if bears_on(self._machine, group, bound)):
                continue
            offers = list(self._exchanger.candidates(group))
            same = [part for part in offers if part.family == group.part.family]
            other = [part for part in offers if part.family != group.part.family]
            for parts in (same, other):
                cures = (self._exchange(group, part) for part in self._improving(group, parts))
                remedy = next((cure for cure in cures if cure is not None), None)
                if remedy is not None:
                    yield remedy
                    break

    def _improving(self, group: PartGroup, parts: Iterable[Part]) -> Iterator[Part]:
        """Parts that better some rule in question and worsen none, the least improvement first."""
        rules = [bound.id for bound in self._trouble or self._eaters]
        now = self._leeways(self._machine, self._judge.bounds, rules)
        found: list[tuple[float, str, Part]] = []
        for part in parts:
            machine, bound_rules = self._exchanger.built({group: part.id})
            then = self._leeways(machine, deciding(bound_rules), rules)
            if then != now and all(new >= old for old, new in zip(now, then, strict=True)):
                found.append((min(then), part.id, part))
        return (part for _, _, part in sorted(found, key=lambda one: one[:2]))

    def _leeways(self, machine: Machine, bounds: Mapping[str, AnyBound], rules: Iterable[str]) -> list[float]:
        return [
            leeway(verdict_of(machine, bounds[rule], self._settings) if rule in bounds else None)
            for rule in rules
        ]

    def _exchange(self, group: PartGroup, part: Part) -> Remedy | None:
        """The remedy that *part* is in place of *group*; None where it is none."""
        machine, rules = self._exchanger.built({group: part.id})
        found = margins(machine, rules, self._settings)
        if any(one.known for one in found.broken) or (self.aim == "rated" and not found.stands):
            return None
        if self.aim == "odds":
            # A few rules are judged much faster than all of them.
            critical = only(rules, [bound.id for bound in self._trouble or self._eaters])
            if self._odds_with(machine, critical) < self._wanted:
                return None
        odds = self._odds_with(machine, rules)
        if self.aim == "odds" and odds < self._wanted:
            return None
        price = gain(self._cost, self._price(machine, self._settings))
        return Remedy(group.tier, (PartGroup(group.slots, part),), odds, price, found.stands)

    def _odds_with(self, machine: Machine, rules: BoundRules) -> float:
        hours = self._judge.view.hours
        view = outlook(machine, rules, seed=self._seed, hours=hours, only=self._settings)
        return view.odds(self._settings)


class _Judge:
    """Odds and verdicts of many combinations of one machine."""

    def __init__(self, machine: Machine, rules: BoundRules, view: Outlook) -> None:
        self.view = view
        self.bounds = deciding(rules)
        self._machine = machine
        self._rules = rules
        self._tables = {table.bound.id: table for table in view.tables}
        self._odds = {table.bound.id: table.draws @ view.cloud.weights for table in view.tables}
        self._logic = [bound for rule, bound in self.bounds.items() if rule not in self._tables]
        self._place = {
            option.id: {choice.id: place for place, choice in enumerate(option.choices)}
            for option in machine.options
        }

    def odds(self, settings: Settings) -> float:
        """Odds of the whole; zero where a logic rule is broken."""
        if any(fails(verdict_of(self._machine, bound, settings)) for bound in self._logic):
            return 0.0
        return self.view.odds(settings)

    def rule_odds(self, bound: AnyBound, settings: Settings) -> float | None:
        """Odds of one rule by itself; None for logic."""
        table = self._tables.get(bound.id)
        if table is None:
            return None
        row = table.rows[tuple(self._place[option][settings[option]] for option in table.scope)]
        return float(self._odds[bound.id][row])

    def eaters(self, settings: Settings) -> Iterator[AnyBound]:
        """Rules that take something from the odds."""
        for bound in self.bounds.values():
            odds = self.rule_odds(bound, settings)
            if odds is not None and odds < _CERTAIN:
                yield bound

    def stands(self, settings: Settings) -> bool:
        """Whether every data-sheet limit is kept."""
        return margins(self._machine, self._rules, settings).stands


def _fastest_of_each(remedies: Iterable[Remedy]) -> list[Remedy]:
    """Of the remedies that change the same options and are equally hard to do, the fastest."""
    best: dict[tuple[tuple[OptionId, ...], Tier], Remedy] = {}
    for remedy in remedies:
        options = tuple(change.option.id for change in remedy.changes if isinstance(change, Choice))
        key = (options, remedy.tier)
        if key not in best or gentleness(remedy) < gentleness(best[key]):
            best[key] = remedy
    return list(best.values())

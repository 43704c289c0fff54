"""What would help: one changed choice, a slower clock, a better part, or two changes together.

A remedy is a cure, not a hope: with it the combination reaches the odds that were asked for or, where these
were good enough before, keeps every data-sheet limit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations, product
from math import inf
from typing import Literal

from waitwright.belief.outlook import Outlook
from waitwright.explain.exchange import bears_on
from waitwright.explain.judge import Judge
from waitwright.explain.members import Choice, PartGroup, Tier, part_groups
from waitwright.explain.other_parts import OtherParts
from waitwright.explain.pairing import Pairing, Step
from waitwright.explain.remedy import Changes, Remedy, fastest_of_each, gentleness, hardest
from waitwright.explain.verdicts import AnyBound, deciding, fails, verdict_of
from waitwright.expr import evaluate
from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Part
from waitwright.rulebook.profiles import OptionDef
from waitwright.timing.bind import BoundRules
from waitwright.timing.margins import margins
from waitwright.units import Exact
from waitwright.workload.gain import gain

Aim = Literal["odds", "rated"]

CLOCKS = ("host_clock", "core_clock", "isa_clock", "dma_clock", "pci_clock")
"""Facts of which a slower clock makes one smaller."""

MOST_PAIRS = 6
"""So many pairs are told at most, the most gentle ones."""

_COSTLY = {"mode", "clock"}
"""What serves in many a case and costs speed in all that the machine does."""

_DRAWN = 0.01
"""Odds from draws of other parts may be off by so much."""


class Healer:
    """Finds remedies for one combination of a machine.

    Attributes:
        aim: What a remedy has to reach; None where nothing is wrong.
        complete: False once pairs were left untried because they were too many.
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
        self._cost = price(machine, settings)
        self._judge = Judge(machine, rules, view)
        self.complete = True
        self.aim = self._aim()
        self._trouble = tuple(self._in_trouble())
        self._eaters = tuple(self._judge.eaters(settings))
        self._parts = OtherParts(machine, view.cloud, hours=view.hours, seed=seed)

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

    @property
    def _sore(self) -> tuple[AnyBound, ...]:
        """Rules that a change must better: those in trouble, or all that take something where none is."""
        return self._trouble or self._eaters

    def remedies(self) -> tuple[Remedy, ...]:
        """Cures, the most gentle first.

        Of several choices of one option that are equally hard to set, the fastest is told.  Pairs are told
        where no single change serves but a slower clock or a mode of the board, and the pair costs less
        speed; another CPU where nothing else serves but these.
        """
        if self.aim is None:
            return ()
        found = [*fastest_of_each(self._single_choices()), *self._single_parts()]
        if all(remedy.tier in _COSTLY for remedy in found):
            pairs = [*fastest_of_each(self._pairs_of_choices()), *self._pairs_with_parts()]
            found += sorted(_company(pairs, found), key=gentleness)[:MOST_PAIRS]
        if any(remedy.tier not in {*_COSTLY, "cpu"} for remedy in found):
            found = [remedy for remedy in found if remedy.tier != "cpu"]
        return tuple(sorted(found, key=gentleness))

    # ------------------------------------------------------------------------------- choices

    def _single_choices(self) -> Iterator[Remedy]:
        for option in self._machine.options:
            if self._can_cure(bound.id for bound in self._judge.bounds.values() if option.id in bound.scope):
                for choice in self._others(option):
                    yield from self._try((choice,))

    def _pairs_of_choices(self) -> Iterator[Remedy]:
        for one, other in combinations(self._near(), 2):
            if all(one.id in bound.scope or other.id in bound.scope for bound in self._trouble):
                for pair in product(self._others(one), self._others(other)):
                    yield from self._try(pair)

    def _near(self) -> list[OptionDef]:
        """Options that bear on what is wrong."""
        return [option for option in self._machine.options if any(option.id in b.scope for b in self._sore)]

    def _others(self, option: OptionDef) -> list[Choice]:
        """Every other choice of an option."""
        now = self._settings[option.id]
        return [Choice(option, choice.id) for choice in option.choices if choice.id != now]

    def _can_cure(self, touched: Iterable[str]) -> bool:
        """Whether a change may cure at all, by the rules that it touches."""
        rules = frozenset(touched)
        if self._trouble:
            return all(bound.id in rules for bound in self._trouble)
        return any(bound.id in rules for bound in self._eaters)

    def _try(self, changes: tuple[Choice, ...]) -> Iterator[Remedy]:
        settings = self._with(changes)
        if not all(self._well(bound, settings) for bound in self._trouble):
            return
        if not all(self._well(bound, settings) for bound in self._judge.bounds.values()):
            return
        odds = self._judge.odds(settings)
        if self.aim == "rated" or odds >= self._wanted:
            price = gain(self._cost, self._price(self._machine, settings))
            yield Remedy(self._hardest(changes), changes, odds, price, self._judge.stands(settings))

    def _with(self, changes: Changes) -> Settings:
        chosen = {change.option.id: change.choice for change in changes if isinstance(change, Choice)}
        return {**self._settings, **chosen}

    def _hardest(self, changes: Changes) -> Tier:
        return hardest(self._tier(one) if isinstance(one, Choice) else one.tier for one in changes)

    def _tier(self, change: Choice) -> Tier:
        """``clock`` or ``mode`` where it is one, else what kind of option it is."""
        before = FactTable(self._machine, self._settings)
        after = FactTable(self._machine, self._with((change,)))
        for automatic in self._machine.board.automatics:
            if evaluate(automatic.when, after) is True and evaluate(automatic.when, before) is not True:
                return "mode"
        for name in CLOCKS:
            was, now = before(name), after(name)
            if isinstance(was, Exact) and isinstance(now, Exact) and now < was:
                return "clock"
        return change.tier

    # --------------------------------------------------------------------------------- parts

    def _single_parts(self) -> Iterator[Remedy]:
        """For each group of parts the smallest grade of its family that cures, else of another family."""
        for group in part_groups(self._machine):
            if self._can_cure(bound.id for bound in self._sore if bears_on(self._machine, group, bound)):
                cures = (self._cure((PartGroup(group.slots, part),)) for part in self._improving(group))
                remedy = next((cure for cure in cures if cure is not None), None)
                if remedy is not None:
                    yield remedy

    def _improving(self, group: PartGroup) -> list[Part]:
        sore = [bound.id for bound in self._sore]
        return self._parts.improving(group, self._settings, self._judge.bounds, sore)

    def _cure(self, changes: Changes) -> Remedy | None:
        """The remedy that *changes*, a part among them, are together; None where they are none."""
        settings = self._with(changes)
        machine, rules = self._parts.built(changes)
        found = margins(machine, rules, settings)
        if any(one.known for one in found.broken) or (self.aim == "rated" and not found.stands):
            return None
        if self.aim == "odds":
            # A few rules are judged much faster than all of them.
            sore = [bound.id for bound in self._sore]
            if self._parts.outlook(changes, settings, sore).odds(settings) < self._wanted:
                return None
        odds = self._parts.outlook(changes, settings).odds(settings)
        if self.aim == "odds" and odds < self._wanted:
            return None
        price = gain(self._cost, self._price(machine, settings))
        return Remedy(self._hardest(changes), changes, odds, price, found.stands)

    # ----------------------------------------------------------------------- pairs with parts

    def _pairs_with_parts(self) -> list[Remedy]:
        """A part with a choice, or two parts, where both are needed."""
        ladders = [[self._choice_step(choice) for choice in self._others(option)] for option in self._near()]
        ladders += [
            [self._part_step(group, part) for part in self._improving(group)]
            for group in part_groups(self._machine)
            if any(bears_on(self._machine, group, bound) for bound in self._sore)
        ]
        ceiling = self._judge.ceiling(self._settings)
        pairing = Pairing(
            frozenset(bound.id for bound in self._trouble),
            lambda rules: self.aim == "rated" or ceiling.without(rules) >= self._wanted - _DRAWN,
            self._cure,
        )
        found = pairing.cures([ladder for ladder in ladders if ladder], enough=MOST_PAIRS)
        self.complete = pairing.complete
        return found

    def _choice_step(self, choice: Choice) -> Step:
        settings = self._with((choice,))
        touched = (bound.id for bound in self._judge.bounds.values() if choice.option.id in bound.scope)
        well = (bound.id for bound in self._trouble if self._well(bound, settings))
        return Step(choice, self._hardest((choice,)), frozenset(touched), frozenset(well))

    def _part_step(self, group: PartGroup, part: Part) -> Step:
        change = PartGroup(group.slots, part)
        bounds = self._judge.bounds.values()
        touched = (bound.id for bound in bounds if bears_on(self._machine, group, bound))
        return Step(change, change.tier, frozenset(touched), frozenset(self._cured_by(change)))

    def _cured_by(self, change: PartGroup) -> Iterator[str]:
        """Rules in trouble that are well with another part alone."""
        machine, rules = self._parts.built((change,))
        bounds = deciding(rules)
        odds: dict[str, float] = {}
        if self.aim == "odds":
            trouble = [bound.id for bound in self._trouble]
            odds = self._parts.outlook((change,), self._settings, trouble).rule_odds(self._settings)
        for bound in self._trouble:
            if bound.id in odds:
                well = odds[bound.id] >= self._wanted
            else:
                well = bound.id not in bounds or not fails(
                    verdict_of(machine, bounds[bound.id], self._settings)
                )
            if well:
                yield bound.id


def _company(pairs: Iterable[Remedy], singles: Iterable[Remedy]) -> list[Remedy]:
    """The *pairs* that cost less speed than every single change, and hold none that serves by itself."""
    alone = {change for remedy in singles for change in remedy.changes}
    least = max((remedy.gain for remedy in singles), default=-inf)
    return [pair for pair in pairs if pair.gain > least and alone.isdisjoint(pair.changes)]

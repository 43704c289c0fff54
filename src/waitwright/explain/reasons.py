"""Why a proposal looks as it does: what each change buys, what it costs, why it goes no further."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from waitwright.belief.outlook import Outlook
from waitwright.ids import OptionId, Settings
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.profiles import ChoiceDef, OptionDef
from waitwright.timing.bind import BoundRules
from waitwright.timing.margins import (
    Broken,
    BudgetMargin,
    LimitMargin,
    budget_margin,
    limit_margin,
    margins,
)
from waitwright.timing.margins import broken as broken_rules
from waitwright.units import Exact
from waitwright.workload.gain import Pricer, gain

MarginOf = BudgetMargin | LimitMargin

_SAFE = 0.999
"""Odds above which one rule is no more in danger than another."""


@dataclass(frozen=True, slots=True)
class Block:
    """Why one faster choice is not taken: the rules that stand in its way, worst first.

    Attributes:
        extra: What the choice would gain.
        odds: Odds of the whole combination with it; None when judged by data-sheet limits only.
        weakest: Odds of the worst rule alone, with its margin first in ``margins``.
    """

    choice: ChoiceDef
    extra: float
    margins: tuple[MarginOf, ...]
    broken: tuple[Broken, ...]
    odds: float | None = None
    weakest: float | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One changed option of a proposal.

    Attributes:
        share: Its share of the gain.
        tightest: The budget or limit that the change endangers most, among those that it narrows.
        before: Margin of the same rule with the old choice, None where it did not apply.
        odds: Odds of that rule alone; None when judged by data-sheet limits only.
        block: Why the next faster choice is not taken; None where there is none.
    """

    option: OptionDef
    origin: ChoiceDef
    goal: ChoiceDef
    share: float
    tightest: MarginOf | None
    before: Exact | None
    block: Block | None
    odds: float | None = None


@dataclass(frozen=True, slots=True)
class Kept:
    """An option left alone although a faster choice exists."""

    option: OptionDef
    choice: ChoiceDef
    block: Block


class Reasoner:
    """Answers "why" for proposals on one machine."""

    def __init__(
        self,
        machine: Machine,
        rules: BoundRules,
        pricer: Pricer,
        outlook: Outlook | None = None,
        wanted: float = 0.0,
    ) -> None:
        """Judge by *outlook* against the *wanted* odds, or by data-sheet limits where there is none."""
        self._outlook = outlook
        self._wanted = wanted
        self._machine = machine
        self._rules = rules
        self._pricer = pricer

    def changes(self, settings: Settings) -> tuple[Change, ...]:
        """Every changed option of *settings* against the machine's current ones, largest share first."""
        current = self._machine.current
        parts = self._pricer.shares(current, settings)
        odds = {} if self._outlook is None else self._outlook.rule_odds(settings)
        found = [
            self._change(self._machine.option(option), settings, share, odds)
            for option, share in parts.items()
        ]
        return tuple(sorted(found, key=lambda change: -change.share))

    def kept(self, settings: Settings) -> tuple[Kept, ...]:
        """Options of *settings* that stay as they are although a faster choice exists, in board order."""
        found = []
        for option in self._machine.options:
            if settings[option.id] == self._machine.current[option.id]:
                block = self._next_step(option, settings)
                if block is not None:
                    found.append(Kept(option, option.choice(settings[option.id]), block))
        return tuple(found)

    def tightest(self, settings: Settings, count: int = 3) -> tuple[MarginOf, ...]:
        """The budgets and limits that are nearest to failing, the nearest first."""
        odds = {} if self._outlook is None else self._outlook.rule_odds(settings)
        found = margins(self._machine, self._rules, settings)
        rules: list[MarginOf] = [*found.budgets, *found.limits]
        known = [m for m in rules if m.margin is not None and not m.bound.rule.advisory]
        return tuple(sorted(known, key=lambda margin: _danger(margin, odds))[:count])

    def _change(
        self, option: OptionDef, settings: Settings, share: float, odds: Mapping[str, float]
    ) -> Change:
        origin = option.choice(self._machine.current[option.id])
        goal = option.choice(settings[option.id])
        now = self._bearing(option.id, settings)
        before = self._bearing(option.id, {**settings, option.id: origin.id})
        old = {margin.bound.id: margin.margin for margin in before}
        # Only what the change narrowed is its price; the rest was tight before.
        narrowed = [m for m in now if m.margin is not None and _narrowed(m.margin, old.get(m.bound.id))]
        tightest = min(narrowed, key=lambda margin: _danger(margin, odds), default=None)
        block = self._next_step(option, settings)
        if tightest is None:
            return Change(option, origin, goal, share, None, None, block)
        name = tightest.bound.id
        return Change(option, origin, goal, share, tightest, old.get(name), block, odds.get(name))

    def _bearing(self, option: OptionId, settings: Settings) -> list[MarginOf]:
        """Margins of the budgets and limits that decide and that *option* bears on."""
        facts = FactTable(self._machine, settings)
        found: list[MarginOf | None] = [
            *(
                budget_margin(self._machine, bound, facts)
                for bound in self._rules.budgets
                if option in bound.scope and not bound.rule.advisory
            ),
            *(
                limit_margin(self._machine, bound, facts)
                for bound in self._rules.limits
                if option in bound.scope and not bound.rule.advisory
            ),
        ]
        return [margin for margin in found if margin is not None]

    def _next_step(self, option: OptionDef, settings: Settings) -> Block | None:
        """The least of the faster choices of *option* that the rules forbid; None where they forbid none."""
        steps = [(self._pricer.step(settings, option.id, choice.id), choice) for choice in option.choices]
        # Of equally fast choices the board's order tells which one is the smaller step.
        for step, choice in sorted(steps, key=lambda entry: -entry[0]):
            if step < 0:
                here = self._pricer.total(settings)
                wish: Settings = {**settings, option.id: choice.id}
                block = self._block(option.id, choice, wish, gain(here, here + step))
                if block is not None:
                    return block
        return None

    def _block(self, option: OptionId, choice: ChoiceDef, wish: Settings, extra: float) -> Block | None:
        """What forbids *wish*, which sets *option* to *choice*; None where nothing does."""
        short, rules = self._failing(option, wish)
        if self._outlook is None or rules:
            return Block(choice, extra, short, rules) if short or rules else None
        odds = self._outlook.odds(wish)
        if odds >= self._wanted:
            return None
        alone = self._outlook.rule_odds(wish)
        weakest = min(alone, key=lambda name: (alone[name], name))
        margin = self._margin(weakest, wish)
        return Block(choice, extra, (margin,) if margin is not None else (), (), odds, alone[weakest])

    def _margin(self, rule: str, settings: Settings) -> MarginOf | None:
        found = margins(self._machine, self._rules, settings)
        rules: list[MarginOf] = [*found.budgets, *found.limits]
        return next((margin for margin in rules if margin.bound.id == rule), None)

    def _failing(
        self, option: OptionId, settings: Settings
    ) -> tuple[tuple[MarginOf, ...], tuple[Broken, ...]]:
        short = [m for m in self._bearing(option, settings) if m.verdict == "falls short"]
        logic = [bound for bound in self._rules.logic if option in bound.scope]
        facts = FactTable(self._machine, settings)
        return tuple(sorted(short, key=lambda margin: _danger(margin, {}))), tuple(
            one for one in broken_rules(logic, facts) if one.known
        )


def _danger(margin: MarginOf, odds: Mapping[str, float]) -> tuple[float, Fraction, str]:
    """Sort key, worst first: by odds where they are known and telling, else by what is left of the whole."""
    alone = odds.get(margin.bound.id, 1.0)
    return (min(alone, _SAFE), relative_margin(margin), margin.bound.id)


def relative_margin(margin: MarginOf) -> Fraction:
    """What is left, as a share of the time that is available or of the rating."""
    whole = margin.available if isinstance(margin, BudgetMargin) else margin.rating
    return Fraction(margin.margin or 0) / abs(Fraction(whole)) if whole else Fraction(0)


def _narrowed(now: Exact, before: Exact | None) -> bool:
    return before is None or now < before

"""Margins of one combination, exact, each with its ledger of named delays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine
from waitwright.machine.facts import OverlaidFacts
from waitwright.rulebook.domain import Budget, Limit, LogicRule, Symptom, Term
from waitwright.timing.bind import Bound, BoundRules
from waitwright.units import Exact, tidy

Verdict = Literal["holds", "tight", "falls short", "unchecked"]

TIGHT_SHARE = Fraction(1, 20)
"""A budget is tight when less than this share of the available time is left over."""


@dataclass(frozen=True, slots=True)
class Delay:
    """One line of a ledger.  ``time`` is in picoseconds, None where it is unknown."""

    name: str
    part: str
    time: Exact | None
    source: str


@dataclass(frozen=True, slots=True)
class BudgetMargin:
    """A budget under one combination; times in picoseconds, None where a needed number is unknown."""

    bound: Bound[Budget]
    available: Exact | None
    spent: Exact | None
    verdict: Verdict
    sources: tuple[Delay, ...]
    delays: tuple[Delay, ...]

    @property
    def margin(self) -> Exact | None:
        """Available minus spent, in picoseconds."""
        if self.available is None or self.spent is None:
            return None
        return tidy(Fraction(self.available) - self.spent)


@dataclass(frozen=True, slots=True)
class LimitMargin:
    """A limit under one combination, in base units; margin is positive inside the rating."""

    bound: Bound[Limit]
    value: Exact | None
    rating: Exact | None
    verdict: Verdict
    source: str

    @property
    def margin(self) -> Exact | None:
        """Distance to the rating, positive on the allowed side."""
        if self.value is None or self.rating is None:
            return None
        distance = Fraction(self.rating) - self.value
        return tidy(distance if self.bound.rule.sense == "at most" else -distance)


@dataclass(frozen=True, slots=True)
class Broken:
    """A logic rule that the combination breaks, or that cannot be decided (``known`` False)."""

    bound: Bound[LogicRule]
    known: bool


@dataclass(frozen=True, slots=True)
class Margins:
    """Everything the rules say about one combination."""

    budgets: tuple[BudgetMargin, ...]
    limits: tuple[LimitMargin, ...]
    broken: tuple[Broken, ...]

    @property
    def stands(self) -> bool:
        """True when no rule that decides is broken by rated values."""
        return not any(one.known for one in self.broken) and all(m.bound.rule.advisory for m in self.short)

    @property
    def short(self) -> tuple[BudgetMargin | LimitMargin, ...]:
        """Budgets and limits that fall short by rated values, advisory ones included."""
        rules: list[BudgetMargin | LimitMargin] = [*self.budgets, *self.limits]
        return tuple(margin for margin in rules if margin.verdict == "falls short")

    @property
    def symptoms(self) -> tuple[Symptom, ...]:
        """What a user would see of the rules that fall short, in order of first mention."""
        return tuple(dict.fromkeys(symptom for m in self.short for symptom in m.bound.symptoms))


def margins(machine: Machine, rules: BoundRules, settings: Mapping[OptionId, ChoiceId]) -> Margins:
    """Evaluate every rule that applies under *settings*.

    Raises:
        ExpressionError: if a rule divides by zero for these settings.
    """
    facts = FactTable(machine, settings)
    budgets = [budget_margin(machine, bound, facts) for bound in rules.budgets]
    limits = [limit_margin(machine, bound, facts) for bound in rules.limits]
    return Margins(
        tuple(one for one in budgets if one is not None),
        tuple(one for one in limits if one is not None),
        tuple(broken(rules.logic, facts)),
    )


def budget_margin(machine: Machine, bound: Bound[Budget], facts: FactTable) -> BudgetMargin | None:
    """One budget under the settings of *facts*, or None while it does not apply."""
    view = facts.under(bound.member)
    rule = bound.rule
    if rule.when is not None and view.value(rule.when) is False:
        return None
    sources = _lines(machine, bound, rule.available, view)
    delays = _lines(machine, bound, rule.spend, view)
    available, spent = _total(sources), _total(delays)
    decided = rule.when is None or view.value(rule.when) is True
    if not decided or available is None or spent is None:
        return BudgetMargin(bound, available, spent, "unchecked", sources, delays)
    margin = available - spent
    verdict: Verdict = "holds"
    if margin < 0:
        verdict = "falls short"
    elif margin < TIGHT_SHARE * available:
        verdict = "tight"
    return BudgetMargin(bound, available, spent, verdict, sources, delays)


def _lines(
    machine: Machine, bound: Bound[Budget], terms: Iterable[Term], view: FactTable | OverlaidFacts
) -> tuple[Delay, ...]:
    lines = []
    for term in terms:
        if term.when is not None and view.value(term.when) is False:
            continue
        value = view.value(term.time)
        time = value if isinstance(value, int | Fraction) and not isinstance(value, bool) else None
        if term.when is not None and view.value(term.when) is None:
            time = None
        lines.append(Delay(term.name, term.part, time, _source(machine, bound, term)))
    return tuple(lines)


def _total(lines: Iterable[Delay]) -> Exact | None:
    total: Exact = 0
    for line in lines:
        if line.time is None:
            return None
        total += line.time
    return tidy(total)


def _source(machine: Machine, bound: Bound[Budget], term: Term) -> str:
    """Where the numbers of a term come from: the part values it names, else the rule itself."""
    member = bound.member
    found = []
    for name in sorted(term.time.names):
        origin = machine.sources.get(name)
        if member is not None and name in member.sources:
            origin = member.sources[name]
        if origin is not None and origin.source not in found:
            found.append(origin.source)
    return "; ".join(found) or bound.rule.provenance.source


def limit_margin(machine: Machine, bound: Bound[Limit], facts: FactTable) -> LimitMargin | None:
    """One limit under the settings of *facts*, or None while it does not apply."""
    view = facts.under(bound.member)
    rule = bound.rule
    applies = True if rule.when is None else view.value(rule.when)
    if applies is False:
        return None
    value, rating = _number(view.value(rule.quantity)), _number(view.value(rule.rating))
    source = _limit_source(machine, bound)
    if applies is None or value is None or rating is None:
        return LimitMargin(bound, value, rating, "unchecked", source)
    held = value <= rating if rule.sense == "at most" else value >= rating
    return LimitMargin(bound, value, rating, "holds" if held else "falls short", source)


def _limit_source(machine: Machine, bound: Bound[Limit]) -> str:
    names = sorted(bound.rule.rating.names)
    own = bound.member.sources if bound.member is not None else {}
    origins = [own.get(name) or machine.sources.get(name) for name in names]
    return next((origin.source for origin in origins if origin is not None), bound.rule.provenance.source)


def _number(value: object) -> Exact | None:
    return value if isinstance(value, int | Fraction) and not isinstance(value, bool) else None


def broken(rules: Iterable[Bound[LogicRule]], facts: FactTable) -> Iterable[Broken]:
    """The logic rules that are broken, or cannot be decided, under the settings of *facts*."""
    for bound in rules:
        view = facts.under(bound.member)
        applies = True if bound.rule.when is None else view.value(bound.rule.when)
        if applies is False:
            continue
        held = view.value(bound.rule.require)
        if applies is None or held is None:
            yield Broken(bound, known=False)
        elif held is False:
            yield Broken(bound, known=True)

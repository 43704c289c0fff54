"""A bench for single rules: parts of the catalogue, settings with units, and the packed rules over them.

Nothing here knows a formula.  Every figure that a test compares comes out of the rulebook's expressions.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import TypeAlias

from waitwright.expr import Expression, Value, evaluate
from waitwright.machine.constants import row_time
from waitwright.rulebook.domain import Budget, Limit, LogicRule, Rulebook, Term
from waitwright.units import UNITS, Exact, from_base, tidy, to_base

Given: TypeAlias = str | int | bool | Fraction
"""A fact as a test writes it: ``"25 ns"``, ``"100/3 MHz"``, a plain number, a flag, or a text."""


def read(given: Given) -> Value:
    """*given* in base units."""
    if isinstance(given, str):
        number, space, unit = given.partition(" ")
        return to_base(number, unit) if space and unit in UNITS else given
    return given


class Bench:
    """The packed rules over a few facts.

    Attributes:
        book: The packed rulebook.
        known: Facts that are given, in base units; all others are derived or defaults.
    """

    def __init__(self, book: Rulebook, known: Mapping[str, Value]) -> None:
        self.book = book
        self.known = dict(known)

    @classmethod
    def of(cls, book: Rulebook, parts: Mapping[str, str], facts: Mapping[str, Given]) -> Bench:
        """A bench with *parts* (role to part id) and *facts*, which go before the parts' values."""
        known: dict[str, Value] = {f"{role.name}.present": role.name in parts for role in book.roles.values()}
        for role, part in parts.items():
            values = {**book.parts[part].values, **row_time(book.parts[part])}
            known.update((f"{role}.{name}", value.value) for name, value in values.items())
        if "card.buses" in known:
            known["card.bus"] = known["card.buses"]
        known.update((name, read(value)) for name, value in facts.items())
        return cls(book, known)

    def given(self, **facts: Given) -> Bench:
        """The same bench with some parameters set."""
        return Bench(self.book, {**self.known, **{name: read(value) for name, value in facts.items()}})

    def fact(self, name: str) -> Value:
        """The value of a fact in base units: given, derived, or a parameter's default; None if unknown."""
        if name in self.known:
            return self.known[name]
        derived, parameter = self.book.facts.get(name), self.book.parameters.get(name)
        if derived is not None:
            return evaluate(derived.expression, self.fact)
        if parameter is not None and parameter.default is not None:
            return evaluate(parameter.default, self.fact)
        return None

    def number(self, name: str, unit: str) -> Exact:
        """The value of a fact in *unit*."""
        return from_base(_number(self.fact(name), name), unit)

    def applies(self, rule_id: str) -> bool:
        """Whether a rule applies here."""
        return self.flag(self._rule(rule_id).when, rule_id)

    def available(self, rule_id: str) -> Exact:
        """Time that a budget has, in ns."""
        return from_base(self._sum(self.book.budgets[rule_id].available), "ns")

    def term(self, rule_id: str, name: str) -> Exact:
        """One time that a budget spends, in ns."""
        spend = self.book.budgets[rule_id].spend
        return from_base(self._sum(tuple(term for term in spend if term.name == name)), "ns")

    def margin(self, rule_id: str, without: str = "") -> Exact:
        """Time that a budget has left over, in ns.

        Args:
            without: A fact to take as no time at all: the margin then is the window for it.
        """
        assert self.applies(rule_id), f"{rule_id} does not apply"
        bench = Bench(self.book, {**self.known, without: 0}) if without else self
        budget = bench.book.budgets[rule_id]
        return from_base(bench._sum(budget.available) - bench._sum(budget.spend), "ns")

    def holds(self, rule_id: str) -> bool:
        """Whether a budget, limit or logic rule that applies is kept."""
        assert self.applies(rule_id), f"{rule_id} does not apply"
        if rule_id in self.book.budgets:
            return self.margin(rule_id) >= 0
        if rule_id in self.book.logic:
            return self.flag(self.book.logic[rule_id].require, rule_id)
        limit = self.book.limits[rule_id]
        value, rating = self._value(limit.quantity), self._value(limit.rating)
        return value <= rating if limit.sense == "at most" else value >= rating

    def rating(self, rule_id: str) -> Exact:
        """The rating of a limit, in the limit's unit."""
        limit = self.book.limits[rule_id]
        return from_base(self._value(limit.rating), limit.unit)

    def _rule(self, rule_id: str) -> Budget | Limit | LogicRule:
        found = (
            self.book.budgets.get(rule_id) or self.book.limits.get(rule_id) or self.book.logic.get(rule_id)
        )
        assert found is not None, f"no rule {rule_id}"
        return found

    def _sum(self, terms: tuple[Term, ...]) -> Exact:
        counted = [self._value(term.time) for term in terms if self.flag(term.when, term.name)]
        return tidy(sum(counted, start=Fraction(0)))

    def flag(self, expression: Expression | None, name: str = "") -> bool:
        """The value of a flag expression, which must be decided."""
        value = True if expression is None else evaluate(expression, self.fact)
        assert isinstance(value, bool), f"{name}: {expression.text if expression else ''} is undecided"
        return value

    def _value(self, expression: Expression) -> Exact:
        return _number(evaluate(expression, self.fact), expression.text)


def _number(value: Value, name: str) -> Exact:
    assert isinstance(value, int | Fraction) and not isinstance(value, bool), f"{name} is unknown"
    return value


BenchMaker: TypeAlias = Callable[[Mapping[str, str], Mapping[str, Given]], Bench]
"""Parts by role and facts to a bench."""

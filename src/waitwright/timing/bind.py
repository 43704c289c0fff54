"""Rules applied to one machine: which apply at all, to which part, and which options they depend on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from waitwright.expr import Expression, Value, evaluate
from waitwright.ids import OptionId
from waitwright.machine import FactTable, Machine, Member
from waitwright.rulebook.domain import Budget, Limit, LogicRule, Symptom

Rule = TypeVar("Rule", bound=Budget | Limit | LogicRule)


_SHOWN_BY = {
    "display": {"display-artefact"},
    "disk": {"disk-error"},
    "sound": {"sound-fault"},
    "network": {"port-error"},
    "serial": {"port-error"},
    "multi": {"disk-error", "port-error"},
}
"""What shows on the bench when a card for some use fails, besides what shows of the whole machine."""

_OF_CARDS = frozenset().union(*_SHOWN_BY.values())


@dataclass(frozen=True, slots=True)
class Bound(Generic[Rule]):
    """A rule applied to a machine, or to one of its parts.

    Attributes:
        id: The rule's id, with ``@slot`` behind it where the rule applies to each of several parts.
        title: The rule's title, with the slot where it applies to one part.
        member: The part, for rules that apply to each; else None.
        scope: Options that the rule depends on, in the board's order.
    """

    rule: Rule
    id: str
    title: str
    member: Member | None
    scope: tuple[OptionId, ...]

    @property
    def symptoms(self) -> tuple[Symptom, ...]:
        """What a bench would show if the rule broke: of a card only what a card of its use can show.

        A rule for all cards lists the symptoms of all; a network card spoils no picture.
        """
        purpose = None if self.member is None else self.member.facts.get(f"{self.member.role}.purpose")
        own = _SHOWN_BY.get(str(purpose))
        if own is None:
            return self.rule.symptoms
        kept = tuple(one for one in self.rule.symptoms if one in own or one not in _OF_CARDS)
        return kept or self.rule.symptoms


@dataclass(frozen=True, slots=True)
class BoundRules:
    """All rules that can ever apply to a machine."""

    budgets: tuple[Bound[Budget], ...]
    limits: tuple[Bound[Limit], ...]
    logic: tuple[Bound[LogicRule], ...]

    @property
    def deciding(self) -> tuple[Bound[Budget] | Bound[Limit], ...]:
        """Budgets and limits that decide whether a machine holds: all but the advisory ones."""
        return (
            *(bound for bound in self.budgets if not bound.rule.advisory),
            *(bound for bound in self.limits if not bound.rule.advisory),
        )


def bind(machine: Machine) -> BoundRules:
    """Apply every rule of the machine's rulebook (and board); rules that never apply are left out."""
    fixed = _FixedFacts(machine)
    book = machine.rulebook
    return BoundRules(
        budgets=tuple(_bound(machine, book.budgets.values(), fixed)),
        limits=tuple(_bound(machine, book.limits.values(), fixed)),
        logic=tuple(_bound(machine, machine.rules, fixed)),
    )


def pinned(rules: BoundRules) -> BoundRules:
    """The same rules with no option left free: for one combination, the machine's current one."""
    return BoundRules(
        budgets=tuple(replace(bound, scope=()) for bound in rules.budgets),
        limits=tuple(replace(bound, scope=()) for bound in rules.limits),
        logic=tuple(replace(bound, scope=()) for bound in rules.logic),
    )


def only(rules: BoundRules, wanted: Iterable[str]) -> BoundRules:
    """Of *rules* those whose ids are *wanted*."""
    names = frozenset(wanted)
    return BoundRules(
        budgets=tuple(bound for bound in rules.budgets if bound.id in names),
        limits=tuple(bound for bound in rules.limits if bound.id in names),
        logic=tuple(bound for bound in rules.logic if bound.id in names),
    )


class _FixedFacts:
    """Facts that no option can change; all others are unknown."""

    def __init__(self, machine: Machine) -> None:
        self._machine = machine
        self._facts = FactTable(machine, machine.current)

    def never(self, when: Expression | None, member: Member | None) -> bool:
        """True when *when* is false whatever the options are."""
        if when is None:
            return False
        facts = self._facts.under(member)

        def lookup(name: str) -> Value:
            return None if self._machine.scope_of_fact(name) else facts(name)

        return evaluate(when, lookup) is False


def _bound(machine: Machine, rules: Iterable[Rule], fixed: _FixedFacts) -> Iterable[Bound[Rule]]:
    for rule in rules:
        for member in _subjects(machine, rule):
            if not fixed.never(rule.when, member):
                yield Bound(rule, *_names(rule, member), member, machine.scope_of(*expressions_of(rule)))


def _subjects(machine: Machine, rule: Budget | Limit | LogicRule) -> tuple[Member | None, ...]:
    return machine.members[rule.each] if rule.each else (None,)


def _names(rule: Budget | Limit | LogicRule, member: Member | None) -> tuple[str, str]:
    if member is None:
        return rule.id, rule.title
    return f"{rule.id}@{member.item.slot}", f"{rule.title} ({member.item.slot})"


def expressions_of(rule: Budget | Limit | LogicRule) -> tuple[Expression | None, ...]:
    """Every expression of a rule; None for a condition that it does not state."""
    if isinstance(rule, Budget):
        terms = (*rule.available, *rule.spend)
        return (rule.when, *(term.time for term in terms), *(term.when for term in terms))
    if isinstance(rule, Limit):
        return (rule.when, rule.quantity, rule.rating)
    return (rule.when, rule.require)


def by_id(rules: Iterable[Bound[Rule]]) -> Mapping[str, Bound[Rule]]:
    """Bound rules by their id."""
    return {rule.id: rule for rule in rules}

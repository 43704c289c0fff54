"""Rules bound to a machine: which of them apply, and which are picked."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.workshop import MACHINES, OLD, packed

from waitwright.expr import parse
from waitwright.machine import FactTable
from waitwright.rulebook.domain import Budget, Limit, Symptom
from waitwright.timing.bind import Bound, _FixedFacts, only, pinned
from waitwright.timing.margins import TIGHT_SHARE, broken


def test_only_the_wanted_rules_are_picked() -> None:
    """Rules of all three kinds are picked by id and stay in order; what is not there is not missed."""
    rules = packed(OLD)[1]
    wanted = [rules.budgets[3].id, rules.budgets[1].id, rules.limits[0].id, rules.logic[0].id, "no.such.rule"]
    picked = only(rules, wanted)

    assert picked.budgets == (rules.budgets[1], rules.budgets[3])
    assert picked.limits == (rules.limits[0],)
    assert picked.logic == (rules.logic[0],)


def test_pinned_rules_depend_on_nothing() -> None:
    """For one combination no option is left free, and all else of each rule stays as it is."""
    rules = packed(OLD)[1]
    fixed = pinned(rules)

    assert [(b.id, b.rule, b.member, b.scope) for b in fixed.budgets] == [
        (b.id, b.rule, b.member, ()) for b in rules.budgets
    ]
    assert [(b.id, b.rule, b.scope) for b in fixed.limits] == [(b.id, b.rule, ()) for b in rules.limits]
    assert [(b.id, b.rule, b.scope) for b in fixed.logic] == [(b.id, b.rule, ()) for b in rules.logic]


def test_what_never_applies() -> None:
    """A condition is hopeless where fixed facts make it false, and open where an option can change it."""
    facts = _FixedFacts(packed(OLD)[0])

    assert facts.never(None, None) is False
    assert facts.never(parse("cpu.family == '386sx'"), None) is True
    assert facts.never(parse("cpu.family == '386dx'"), None) is False
    assert facts.never(parse("host_clock > MHz(1000)"), None) is False
    assert facts.never(parse("host_clock > MHz(1000) and cpu.family == '386sx'"), None) is True


def test_rules_that_cannot_be_decided() -> None:
    """A logic rule that asks for a figure nobody has is neither kept nor broken."""
    machine, rules = packed(OLD)
    bound = rules.logic[0]

    def found(require: str, when: str | None = None) -> list[bool]:
        condition = None if when is None else parse(when)
        asked = replace(bound, rule=replace(bound.rule, require=parse(require), when=condition))
        return [one.known for one in broken([asked], FactTable(machine, machine.current))]

    assert found("copro.clock > MHz(1)") == [False]
    assert found("false", "copro.clock > MHz(1)") == [False]
    assert found("false") == [True]
    assert found("false", "true") == [True]
    assert found("true") == []
    assert found("false", "false") == []


def test_a_twentieth() -> None:
    """The share of the time below which a budget is told to be tight is the one in the documents: 5 %."""
    assert Fraction(5, 100) == TIGHT_SHARE


def test_rules_that_decide_are_those_that_are_no_advice() -> None:
    """Budgets and limits decide, in order, unless they are advice."""
    rules = packed(OLD)[1]
    every: list[Bound[Budget] | Bound[Limit]] = [*rules.budgets, *rules.limits]
    told = [bound for bound in every if bound.rule.advisory]
    deciding = rules.deciding

    assert told and not set(map(id, told)) & set(map(id, deciding))
    assert len(deciding) + len(told) == len(rules.budgets) + len(rules.limits)
    assert [bound.id for bound in deciding] == [bound.id for bound in every if not bound.rule.advisory]


def test_a_card_shows_what_cards_of_its_use_show() -> None:
    """Of a rule for all cards, a display card shows pictures spoilt and what the whole machine shows."""
    limits = [bound for name in MACHINES for bound in packed(name)[1].limits if bound.member is not None]
    card = next(one for one in limits if one.member and one.member.facts.get("card.purpose") == "display")
    all_cards: tuple[Symptom, ...] = ("display-artefact", "port-error", "hang", "sound-fault")
    shown = replace(card, rule=replace(card.rule, symptoms=all_cards))
    others_only = replace(card, rule=replace(card.rule, symptoms=("port-error", "sound-fault")))
    no_card = replace(shown, member=None)

    assert shown.symptoms == ("display-artefact", "hang")
    assert others_only.symptoms == ("port-error", "sound-fault")
    assert no_card.symptoms == all_cards

"""Conflicts of small machines against the exact engine, asked about every combination."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import product
from math import prod
from random import Random

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.explain_conflicts.shop import Case, Truth, found_in, lost_rules, smallest, tangled
from tests.search.machines import Workshop, workshops
from tests.workshop import NEW, named, packed
from waitwright.api.opening import Question, put_on_bench
from waitwright.explain.conflict import ConflictFinder
from waitwright.explain.derivation import Step
from waitwright.explain.exchange import EMPTY, Exchanger, bears_on
from waitwright.explain.members import PartGroup, part_groups
from waitwright.explain.telling import Teller
from waitwright.explain.verdicts import AnyBound, deciding, distance, fails, verdict_of
from waitwright.ids import Settings
from waitwright.timing.bind import BoundRules, only

MOST_EXCHANGES = 40


@st.composite
def cases(draw: st.DrawFn, *, most: int = 32) -> Case:
    """A small machine and a combination of it that does not stand."""
    shop = draw(st.one_of(tangled(), workshops(free=4, most=most)))
    truth = Truth(shop)
    broken = [one for one, failing in truth.table if failing]
    assume(broken)
    return Case(truth, draw(st.sampled_from(broken)))


@given(cases())
@settings(max_examples=20)
def test_conflicts_of_choices_are_those_of_brute_force(case: Case) -> None:
    """Every smallest set of choices that stands in no combination is found, and nothing else.

    Second opinion: every combination, tried one by one.
    """
    shop, truth, asked = case.shop, case.truth, case.asked
    finder, found = found_in(shop, asked)
    lost = lost_rules(found)

    assert found.complete
    assert bool(lost) == truth.hopeless
    assert finder.stands([]) is not truth.hopeless
    by_choice = {frozenset(one.choices) for one in found.found if one.choices}
    assert by_choice == truth.conflicts(asked, lost) - {frozenset()}
    for conflict in by_choice:
        assert not truth.stands(conflict, lost)
        assert all(truth.stands(conflict - {member}, lost) for member in conflict)


@given(cases())
@settings(max_examples=20)
def test_rules_of_an_argument_are_enough_and_needed(case: Case) -> None:
    """One of its rules fails wherever the choices of the conflict are set; without any one rule, not so."""
    shop, truth, asked = case.shop, case.truth, case.asked
    for conflict in found_in(shop, asked)[1].found:
        for argument in conflict.arguments:
            rules = frozenset(bound.id for bound in argument.rules)
            everywhere = [failing & rules for _, failing in truth.with_choices(conflict.choices)]
            assert all(everywhere)
            for rule in rules:
                assert not all(failing - {rule} for failing in everywhere)


@given(cases())
@settings(max_examples=20)
def test_derivation_covers_every_case_with_true_numbers(case: Case) -> None:
    """Each combination falls under one step; its rule fails there, by no less than the step says."""
    shop, truth, asked = case.shop, case.truth, case.asked
    for conflict in found_in(shop, asked)[1].found:
        for argument in conflict.arguments:
            for settings_, failing in truth.with_choices(conflict.choices):
                (step,) = (step for step in argument.steps if covers(step, settings_))
                verdict = truth.verdict(step.bound, settings_)
                assert verdict is not None and step.bound.id in failing
                assert distance(verdict) <= distance(step.verdict)
                assert step.spread or distance(verdict) == distance(step.verdict)
            for step in argument.steps:
                assert truth.verdict(step.bound, step.settings) == step.verdict
                assert fails(step.verdict)
                assert any(
                    step.settings == {**step.settings, **one} or covers(step, one)
                    for one, _ in truth.with_choices(conflict.choices)
                )


def covers(step: Step, chosen: Settings) -> bool:
    """Whether a combination is in the case that a step supposes."""
    return all(any(chosen[case.option.id] == choice.id for choice in case.choices) for case in step.cases)


@given(cases())
@settings(max_examples=20)
def test_corrections_are_those_of_brute_force(case: Case) -> None:
    """Of choices alone exactly the smallest sets are found without which the rest stands.

    Second opinion: every combination, tried one by one.
    """
    shop, truth, asked = case.shop, case.truth, case.asked
    assume(not truth.hopeless)
    found = found_in(shop, asked)[1]

    of_choices = {
        frozenset(one) for one in found.corrections if not any(isinstance(m, PartGroup) for m in one)
    }
    assert of_choices == truth.corrections(asked)


@given(cases())
@settings(max_examples=20)
def test_corrections_hit_every_conflict(case: Case) -> None:
    """Each has a member of every conflict, and no smaller part of it has."""
    shop, asked = case.shop, case.asked
    found = found_in(shop, asked)[1]
    words = [set(one.words) for one in found.found if one.members]
    for given_up in found.corrections:
        mine = {member.words for member in given_up}
        assert all(mine & conflict for conflict in words)
        assert all(any(not (mine - {one}) & conflict for conflict in words) for one in mine)


def test_a_part_is_no_way_out_where_it_hides_another_conflict() -> None:
    """With the drive port gone the ISA clock is still too fast for the serial card, so that is no way out."""
    words = ("bus-divider=4",)
    asked = put_on_bench(Question("millrace-486dx50", sets=words, parts=("local-2=drive-port-vl",)))
    alone = put_on_bench(
        Question("millrace-486dx50", sets=("isa-memory=2",), parts=("local-2=drive-port-vl",))
    )
    hidden = ConflictFinder(asked.machine, asked.rules, asked.settings).find()
    open_ = ConflictFinder(alone.machine, alone.rules, alone.settings).find()

    assert [[one.words for one in given_up] for given_up in hidden.corrections] == [["host-clock=50"]]
    assert ["part:local-2=drive-port-vl"] in [
        [one.words for one in given_up] for given_up in open_.corrections
    ]


# ---------------------------------------------------------------------------------------- parts


@given(cases(most=16))
@settings(max_examples=20)
def test_parts_of_a_conflict_are_those_of_brute_force(case: Case) -> None:
    """They are one of the smallest sets of parts that no exchange of all others gets round.

    An exchange puts anything of the catalogue that fits in a part's place; it gets round an argument when its
    rules can be met with the choices of the conflict.

    Second opinion: every exchange of parts, tried one by one.
    """
    shop, truth, asked = case.shop, case.truth, case.asked
    exchanger = Exchanger(shop.machine)
    for conflict in found_in(shop, asked)[1].found:
        chosen = [one for one, _ in truth.with_choices(conflict.choices)]
        for argument in conflict.arguments:
            near = [
                group
                for group in part_groups(shop.machine)
                if any(bears_on(shop.machine, group, bound) for bound in argument.rules)
            ]
            if prod(len(offers(exchanger, group)) for group in near) > MOST_EXCHANGES:
                continue
            meets = partial(can_meet, exchanger, wanted={bound.id for bound in argument.rules}, chosen=chosen)
            assert frozenset(conflict.parts) in smallest(near, partial(closed, exchanger, near, meets))


def closed(
    exchanger: Exchanger,
    near: Sequence[PartGroup],
    meets: Callable[[Mapping[PartGroup, str]], bool],
    kept: frozenset[PartGroup],
) -> bool:
    """Whether no exchange of the parts that are not *kept* helps."""
    exchanged = [group for group in near if group not in kept]
    return not any(
        meets(dict(zip(exchanged, parts, strict=True)))
        for parts in product(*(offers(exchanger, group) for group in exchanged))
    )


def can_meet(
    exchanger: Exchanger, exchange: Mapping[PartGroup, str], wanted: set[str], chosen: Sequence[Settings]
) -> bool:
    """Whether the *wanted* rules can be met by one of the combinations *chosen* after an exchange."""
    machine, rules = exchanger.built(exchange)
    bounds = [bound for rule, bound in deciding(rules).items() if rule in wanted]
    return any(not any(fails(verdict_of(machine, bound, one)) for bound in bounds) for one in chosen)


def test_parts_without_which_there_is_no_conflict_are_found() -> None:
    """Two local-bus cards are one too many at 50 MHz: each of them counts."""
    machine, rules = packed(NEW)
    only_loads = only(rules, ["local-bus.loads"])

    (conflict,) = ConflictFinder(machine, only_loads, named(machine, host_clock="50")).find().found

    assert conflict.words == ("host-clock=50", "part:local-1=display-vl-70", "part:local-2=drive-port-vl")


def offers(exchanger: Exchanger, group: PartGroup) -> list[str]:
    """Everything that might be in the place of *group*."""
    empty = (
        [str(group.part.id), EMPTY] if group.part.kind in {"card", "drive", "floppy", "coprocessor"} else []
    )
    return [*(empty or [str(group.part.id)]), *(str(part.id) for part in exchanger.candidates(group))]


# ---------------------------------------------------------------------------------------- order


@given(cases(), st.integers(0, 2**32 - 1))
@settings(max_examples=20)
def test_order_of_rules_does_not_matter(case: Case, number: int) -> None:
    """Conflicts, arguments, sentences and corrections are the same for any order of the rules."""
    shop, asked = case.shop, case.asked
    random = Random(number)
    rules = BoundRules(
        tuple(random.sample(shop.rules.budgets, len(shop.rules.budgets))),
        tuple(random.sample(shop.rules.limits, len(shop.rules.limits))),
        tuple(random.sample(shop.rules.logic, len(shop.rules.logic))),
    )

    assert told(replace(shop, rules=rules), asked) == told(shop, asked)


def told(shop: Workshop, asked: Settings) -> list[object]:
    """All that is said of the conflicts of one combination."""
    found = ConflictFinder(shop.machine, shop.rules, asked).find()
    teller = Teller(shop.machine)
    return [
        *((one.words, [arguments(argument.rules) for argument in one.arguments]) for one in found.found),
        *(teller.argument(argument) for one in found.found for argument in one.arguments),
        *(teller.correction(one) for one in found.corrections),
    ]


def arguments(rules: tuple[AnyBound, ...]) -> list[str]:
    """Rule ids."""
    return [bound.id for bound in rules]

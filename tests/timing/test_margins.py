"""Verdicts of single combinations: exact at the edge, unknown never passed, advice decides nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from tests.workshop import MACHINES, NEW, OLD, named, packed, rebuilt, with_part, with_value

from waitwright.expr import parse
from waitwright.ids import SlotId
from waitwright.machine import Machine
from waitwright.rulebook.domain import Budget, Part, Rulebook
from waitwright.rulebook.load import load_rulebook
from waitwright.timing.bind import Bound, bind, by_id
from waitwright.timing.margins import TIGHT_SHARE, BudgetMargin, LimitMargin, margins
from waitwright.timing.tables import budget_table, limit_table

RuleMargin = BudgetMargin | LimitMargin


def verdicts(machine: Machine, **changes: str) -> dict[str, RuleMargin]:
    """Every budget and limit that applies, by id."""
    found = margins(machine, bind(machine), named(machine, **changes))
    rules: list[RuleMargin] = [*found.budgets, *found.limits]
    return {margin.bound.id: margin for margin in rules}


def plain_delays() -> Iterator[tuple[str, str, str, str]]:
    """Machine, budget, part and row of a delay that stands in a budget as it is in the data sheet."""
    for name in MACHINES:
        machine, rules = packed(name)
        for margin in margins(machine, rules, machine.current).budgets:
            bound = margin.bound
            for term in bound.rule.spend:
                role, _, row = term.time.text.rpartition(".")
                members = (bound.member,) if bound.member else machine.members.get(role, ())
                if term.when is None and members and row in members[0].item.part.values:
                    yield name, bound.id, members[0].item.part.id, row
                    break


def slowed(machine_name: str, part: str, row: str, by: Fraction) -> Machine:
    """A packed machine in which one row of one part is longer by some picoseconds."""
    book = load_rulebook()
    value = book.parts[part].values[row].value
    assert isinstance(value, int | Fraction)
    return rebuilt(
        machine_name, rulebook=with_part(book, part, lambda p: with_value(p, row, Fraction(value) + by))
    )


EDGES = list(plain_delays())


def test_there_are_edges_to_stand_on() -> None:
    """Most budgets of the packed machines hold a delay that is one line of a data sheet."""
    assert len({budget for _, budget, _, _ in EDGES}) > 40


@pytest.mark.parametrize(("name", "budget", "part", "row"), EDGES)
def test_exact_at_the_edge(name: str, budget: str, part: str, row: str) -> None:
    """With a margin of exactly zero a budget fits and is tight, with one picosecond less it falls short.

    The tables of the search say the same as the exact verdict.
    """
    before = verdicts(packed(name)[0])[budget]
    assert before.margin is not None
    for by, margin, verdict in ((0, 0, "tight"), (1, -1, "falls short")):
        machine = slowed(name, part, row, Fraction(before.margin) + by)
        after = verdicts(machine)[budget]
        assert isinstance(after, BudgetMargin)
        assert after.margin == margin
        assert after.verdict == verdict
        table = budget_table(machine, after.bound)
        here = tuple(
            [choice.id for choice in machine.option(option).choices].index(machine.current[option])
            for option in after.bound.scope
        )
        assert bool(table.short[here]) == (after.verdict == "falls short")


def test_tight_below_a_twentieth() -> None:
    """A budget with a twentieth of its time left holds; with one picosecond less it is tight."""
    found = verdicts(packed(OLD)[0])["l2.read.first.data"]
    assert isinstance(found, BudgetMargin)
    assert found.available is not None
    assert found.margin is not None
    spare = Fraction(found.margin) - TIGHT_SHARE * found.available

    for by, verdict in ((spare, "holds"), (spare + 1, "tight")):
        machine = slowed(OLD, "sram-32kx8-20", "access", by)
        assert verdicts(machine)["l2.read.first.data"].verdict == verdict


def test_limits_hold_at_their_rating() -> None:
    """A clock of exactly the rated one holds: 33 1/3 MHz is no hair above itself.

    Source: a 386DX-33 and a 486DX2-66 are sold for exactly these clocks.
    """
    for name in MACHINES:
        found = verdicts(packed(name)[0])["cpu.core-clock"]
        assert (found.margin, found.verdict) == (0, "holds")

    over = verdicts(packed(OLD)[0], host_clock="40")["cpu.core-clock"]
    assert over.verdict == "falls short"
    assert over.margin == Fraction(1, 30_000) - Fraction(1, 25_000)


@pytest.mark.parametrize("name", MACHINES)
def test_ledgers_add_up(name: str) -> None:
    """Available and spent are the sums of their lines, and the margin is their difference, exactly."""
    machine, rules = packed(name)
    for margin in margins(machine, rules, machine.current).budgets:
        if margin.margin is None:
            continue
        assert margin.available == sum(line.time or 0 for line in margin.sources)
        assert margin.spent == sum(line.time or 0 for line in margin.delays)
        assert margin.margin == Fraction(margin.available or 0) - (margin.spent or 0)


@pytest.mark.parametrize("name", MACHINES)
def test_every_line_has_a_source(name: str) -> None:
    """Each time in a ledger and each limit says where its figure comes from."""
    machine, rules = packed(name)
    found = margins(machine, rules, machine.current)

    for margin in found.budgets:
        assert all(line.source and line.name for line in (*margin.sources, *margin.delays))
    assert all(margin.source for margin in found.limits)


def test_a_figure_of_a_part_is_cited_with_its_own_sheet() -> None:
    """A delay or a rating that is a part's figure tells that figure's source, the part's own first."""
    machine, rules = packed(OLD)
    parts = {fitted.slot: fitted.part for fitted in machine.fitted}
    found = margins(machine, rules, machine.current)
    first = next(one for one in found.budgets if one.bound.id == "l2.read.first.data")
    cpu = next(line for line in first.delays if line.part == "cpu")
    rows = {term.name: term.time.text.rpartition(".")[2] for term in first.bound.rule.spend}
    core = next(one for one in found.limits if one.bound.id == "cpu.core-clock")
    for margin in found.limits:
        member = margin.bound.member
        if member is not None:
            own = {row for row in margin.bound.rule.rating.names if row in member.sources}
            if own:
                assert margin.source in {member.sources[row].source for row in own}

    assert cpu.source == parts[SlotId("cpu")].values[rows[cpu.name]].provenance.source
    assert core.source == machine.sources[next(iter(core.bound.rule.rating.names))].source
    assert core.source != core.bound.rule.provenance.source


def test_tables_are_as_exact_as_single_verdicts() -> None:
    """Where floats cannot tell a value from its rating, the table asks for the exact verdict.

    A ninth of a clock nine times over is that clock, whatever becomes of it in floats.
    """
    machine, rules = packed(OLD)
    core = next(bound for bound in rules.limits if bound.id == "cpu.core-clock")
    for sense in ("at most", "at least"):
        for divisor in range(3, 23):
            text = " + ".join([f"host_clock / {divisor}"] * divisor)
            rule = replace(core.rule, quantity=parse(text), rating=parse("host_clock"), sense=sense)
            table = limit_table(machine, replace(core, rule=rule))
            assert not table.short.any(), (sense, divisor)


# ------------------------------------------------------------------------------------- unknown


def without(row: str, part_id: str) -> Rulebook:
    """The packed rulebook with one value of one part missing."""

    def bare(part: Part) -> Part:
        return replace(part, values={name: v for name, v in part.values.items() if name != row})

    return with_part(load_rulebook(), part_id, bare)


@pytest.mark.parametrize(
    ("part", "row", "budgets"),
    [
        ("386dx-33", "address_valid_max", ["l2.read.first.data", "l2.read.tag", "l2.write.tag"]),
        ("sram-32kx8-20", "output_enable", ["l2.read.first.enable"]),
        ("fpm-70", "row_precharge", ["dram.row.precharge", "refresh.precharge"]),
    ],
)
def test_a_missing_figure_leaves_budgets_unchecked(part: str, row: str, budgets: list[str]) -> None:
    """Where a data sheet is silent, each budget that asks it is unchecked, which is no verdict of holding."""
    machine = rebuilt(rulebook=without(row, part))
    found, before = verdicts(machine), verdicts(packed(OLD)[0])

    for budget in budgets:
        margin = found[budget]
        assert isinstance(margin, BudgetMargin)
        assert (margin.verdict, margin.margin, margin.spent) == ("unchecked", None, None)
        assert None in [line.time for line in margin.delays]
        assert not budget_table(machine, margin.bound).applies.any()
    others = set(before) - {name for name, margin in found.items() if margin.verdict == "unchecked"}
    assert all(found[name].verdict == before[name].verdict for name in others)


def test_a_missing_rating_leaves_a_limit_unchecked() -> None:
    """A limit without a rating is unchecked, with the quantity shown all the same."""
    found = verdicts(rebuilt(rulebook=without("core_clock", "386dx-33")))["cpu.core-clock"]

    assert (found.verdict, found.margin) == ("unchecked", None)
    assert isinstance(found, LimitMargin)
    assert (found.value, found.rating) == (Fraction(1, 30_000), None)


def test_an_undecided_condition_leaves_a_budget_unchecked() -> None:
    """Where it is unknown whether a budget applies, it is unchecked even if its sums are known."""
    book = load_rulebook()
    doubtful = replace(book.budgets["cpu.ready"], when=parse("cpu.no_such_row > 3"))
    machine = rebuilt(rulebook=replace(book, budgets={**book.budgets, "cpu.ready": doubtful}))

    found = verdicts(machine)["cpu.ready"]

    assert isinstance(found, BudgetMargin)
    assert found.margin is not None
    assert found.verdict == "unchecked"


# -------------------------------------------------------------------------------------- advice


def test_advice_decides_nothing() -> None:
    """The same budget falls short as a rule and as advice, but only the rule is held against the settings."""
    book = load_rulebook()
    machine, rules = packed(OLD)
    wish = named(machine, cache_read="2-1-1-1")
    assert not margins(machine, rules, wish).stands

    advice = {name: replace(budget, advisory=True) for name, budget in book.budgets.items()}
    mild = rebuilt(rulebook=replace(book, budgets=advice))
    found = margins(mild, bind(mild), wish)

    assert any(margin.verdict == "falls short" for margin in found.budgets)
    assert found.stands


def test_a_broken_logic_rule_is_held_against_the_settings() -> None:
    """Settings stand only if no logic rule is broken, however ample the margins are."""
    machine, rules = packed(NEW)
    found = margins(machine, rules, named(machine, refresh_hidden="on"))

    assert [one.known for one in found.broken] == [True]
    assert not [m for m in found.budgets if m.verdict == "falls short" and not m.bound.rule.advisory]
    assert not found.stands


def test_symptoms_of_what_falls_short() -> None:
    """What a user would see is gathered from the rules that fall short, each symptom once."""
    machine, rules = packed(OLD)
    found = margins(machine, rules, named(machine, cache_read="2-1-1-1"))

    told = [symptom for margin in found.short for symptom in margin.bound.rule.symptoms]
    assert set(found.symptoms) == set(told)
    assert len(found.symptoms) == len(set(told)) > 0
    assert margins(machine, rules, machine.current).symptoms == ()


# ------------------------------------------------------------------------------------- binding


@pytest.mark.parametrize("name", MACHINES)
def test_each_card_has_its_own_budgets(name: str) -> None:
    """A rule for each card or drive is applied once for each, under its id with ``@slot``; ids are unique."""
    _, rules = packed(name)
    bounds: list[Bound[Budget]] = list(rules.budgets)

    assert len(by_id(bounds)) == len(bounds)
    for bound in bounds:
        if bound.rule.each:
            assert bound.member is not None
            assert bound.id == f"{bound.rule.id}@{bound.member.item.slot}"
            assert bound.title == f"{bound.rule.title} ({bound.member.item.slot})"
        else:
            assert (bound.id, bound.title, bound.member) == (bound.rule.id, bound.rule.title, None)
    slots = {bound.member.item.slot for bound in bounds if bound.member is not None}
    assert len(slots) >= 3


def test_rules_that_can_never_apply_are_left_out() -> None:
    """A rule whose condition no option can make true is not bound; one that an option can is."""
    old, new = packed(OLD)[1], packed(NEW)[1]

    assert "cpu.burst-ready" not in {bound.id for bound in old.budgets}
    assert "cpu.burst-ready" in {bound.id for bound in new.budgets}
    assert "l2.write.dirty" in {bound.id for bound in old.budgets}
    assert not any(bound.rule.id.startswith("local-bus.") for bound in old.budgets)

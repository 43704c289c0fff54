"""What must be true of margins whatever the settings and parts are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import settings as examples
from hypothesis import strategies as st
from tests.workshop import MACHINES, packed, rebuilt, settings, with_part, with_value

from waitwright.ids import OptionId, Settings
from waitwright.machine import Machine
from waitwright.rulebook.domain import Budget, Term
from waitwright.rulebook.fits import fitting_parts
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.profiles import OptionDef
from waitwright.timing.bind import Bound, BoundRules, bind
from waitwright.timing.margins import BudgetMargin, margins
from waitwright.timing.tables import budget_table, limit_table, logic_table
from waitwright.units import TIME, UNITS


def what_ifs(machine: Machine) -> st.SearchStrategy[dict[str, str]]:
    """Up to two slots with another part in them, or with none."""
    slots = [slot for slot in machine.board.slots if not slot.soldered]

    def parts(place: int) -> st.SearchStrategy[tuple[str, str]]:
        slot = slots[place]
        names = [str(part.id) for part in fitting_parts(slot, machine.rulebook)]
        return st.tuples(st.just(str(slot.id)), st.sampled_from([*names, "none"]))

    some = st.lists(st.integers(0, len(slots) - 1).flatmap(parts), max_size=2)
    return some.map(dict)


def by_id(found: Iterable[BudgetMargin]) -> dict[str, BudgetMargin]:
    """Margins by the id of their rule."""
    return {margin.bound.id: margin for margin in found}


def behind(machine: Machine, terms: Iterable[Term]) -> set[str]:
    """All names that the times of *terms* rest on."""
    names: set[str] = set()
    for term in terms:
        for name in term.time.names:
            names |= machine.names_behind(name)
    return names


# ---------------------------------------------------------------------------------- slower parts


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=40)
def test_a_slower_part_widens_no_margin(name: str, data: st.DataObject) -> None:
    """One longer time in one data sheet widens no budget, save those that live on that very time."""
    machine, rules = packed(name)
    item = data.draw(st.sampled_from([i for i in machine.fitted if _times(i.part.values)]))
    row = data.draw(st.sampled_from(_times(item.part.values)))
    by = data.draw(st.integers(1, 200_000))
    value = item.part.values[row].value
    assert isinstance(value, int | Fraction)
    book = with_part(load_rulebook(), item.part.id, lambda part: with_value(part, row, Fraction(value) + by))
    slower = rebuilt(name, rulebook=book)
    chosen = data.draw(settings(machine))
    before = by_id(margins(machine, rules, chosen).budgets)
    after = by_id(margins(slower, bind(slower), chosen).budgets)
    names = {f"{role}.{row}" for role in machine.rulebook.roles}

    assert before.keys() == after.keys()
    for rule, margin in after.items():
        if not names & behind(machine, margin.bound.rule.available):
            now, was = margin.margin, before[rule].margin
            assert now == was if now is None or was is None else now <= was, rule


def _times(values: Mapping[str, object]) -> list[str]:
    """The rows of a data sheet that are times."""
    rows = load_rulebook().rows.values()
    timed = {row.name for row in rows if row.unit in UNITS and UNITS[row.unit].dimension == TIME}
    return [name for name in values if {name, name.rpartition("_")[0]} & timed]


# ----------------------------------------------------------------------------------- more clocks


def _grows(option: OptionDef, machine: Machine) -> list[str]:
    """Parameters of *option* that are numbers of clocks."""
    parameters = machine.rulebook.parameters
    return [name for name in option.parameters if parameters[name].unit == "clocks"]


def _wait_options(machine: Machine) -> list[OptionDef]:
    return [option for option in machine.options if _grows(option, machine) == list(option.parameters)]


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=60)
def test_more_clocks_narrow_none_of_their_own_budgets(name: str, data: st.DataObject) -> None:
    """A choice with more clocks, and no fewer of any, narrows no budget that those clocks are part of."""
    machine, rules = packed(name)
    option = data.draw(st.sampled_from(_wait_options(machine)))
    few, many = data.draw(st.permutations(option.choices))[:2]
    assume(all(few.sets[p] <= many.sets[p] for p in option.parameters))  # type: ignore[operator]
    chosen = data.draw(settings(machine))
    before = by_id(margins(machine, rules, {**chosen, option.id: few.id}).budgets)
    after = by_id(margins(machine, rules, {**chosen, option.id: many.id}).budgets)

    for rule in before.keys() & after.keys():
        if set(option.parameters) & behind(machine, after[rule].bound.rule.available):
            was, now = before[rule].margin, after[rule].margin
            assert was == now if was is None or now is None else was <= now, rule


def test_there_are_clocks_to_add() -> None:
    """Most lines of the packed boards set clocks only, so that the rule above says something."""
    for name in MACHINES:
        assert len(_wait_options(packed(name)[0])) >= 12


# ---------------------------------------------------------------------------------------- tables


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=12)
def test_tables_say_what_exact_margins_say(name: str, data: st.DataObject) -> None:
    """For random parts and settings each table holds the exact margin, verdict and broken rule."""
    machine = rebuilt(name, what_if=data.draw(what_ifs(packed(name)[0])))
    rules = bind(machine)
    chosen = data.draw(settings(machine))
    found = margins(machine, rules, chosen)

    _compare_budgets(machine, rules, chosen, by_id(found.budgets))
    limits = {margin.bound.id: margin for margin in found.limits}
    for bound in rules.limits:
        table, here = limit_table(machine, bound), _place(machine, bound.scope, chosen)
        margin = limits.get(bound.id)
        known = margin is not None and margin.verdict != "unchecked"
        assert bool(table.applies[here]) == known, bound.id
        assert bool(table.short[here]) == (known and margin is not None and margin.verdict == "falls short")
        if margin is not None and known:
            assert np.isclose(table.value[here], float(margin.value or 0), rtol=1e-12)
            assert np.isclose(table.rating[here], float(margin.rating or 0), rtol=1e-12)
    broken = {one.bound.id for one in found.broken if one.known}
    for rule in rules.logic:
        here = _place(machine, rule.scope, chosen)
        assert bool(logic_table(machine, rule)[here]) == (rule.id in broken), rule.id


def _compare_budgets(
    machine: Machine, rules: BoundRules, chosen: Settings, exact: Mapping[str, BudgetMargin]
) -> None:
    for bound in rules.budgets:
        table, here = budget_table(machine, bound), _place(machine, bound.scope, chosen)
        margin = exact.get(bound.id)
        known = margin is not None and margin.verdict != "unchecked"
        assert bool(table.applies[here]) == known, bound.id
        if margin is None or not known or margin.margin is None:
            assert np.isnan(table.margin[here])
            assert not table.short[here]
            continue
        assert np.isclose(table.margin[here], float(margin.margin), rtol=0, atol=0.01), bound.id
        assert bool(table.short[here]) == (margin.verdict == "falls short"), bound.id


def _place(machine: Machine, scope: Iterable[OptionId], chosen: Settings) -> tuple[int, ...]:
    return tuple(
        [choice.id for choice in machine.option(option).choices].index(chosen[option]) for option in scope
    )


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=30)
def test_options_outside_its_scope_leave_a_rule_alone(name: str, data: st.DataObject) -> None:
    """No budget moves when an option outside its scope is set otherwise."""
    machine, rules = packed(name)
    before = data.draw(settings(machine))
    option = data.draw(st.sampled_from(machine.options))
    after = {**before, option.id: data.draw(st.sampled_from(option.choices)).id}
    was, now = (by_id(margins(machine, rules, chosen).budgets) for chosen in (before, after))

    outside: list[Bound[Budget]] = [bound for bound in rules.budgets if option.id not in bound.scope]
    assert outside
    for bound in outside:
        assert was.get(bound.id) == now.get(bound.id), bound.id

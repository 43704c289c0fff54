"""One combination exactly, many at once, and which options a fact depends on."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st
from tests.workshop import MACHINES, packed, settings

from waitwright.ids import OptionId, Settings
from waitwright.machine import FactTable, Machine, Member
from waitwright.machine.machine import OWN_PREFIX
from waitwright.machine.vector import VectorFacts


def all_facts(machine: Machine) -> list[str]:
    """Every fact that rules can name, and what options set below an automatic mode."""
    return sorted({*machine.constants, *machine.definitions, *machine.setters})


def agree(exact: object, many: object) -> bool:
    """Whether a fast value says what the exact one says."""
    if exact is None:
        return isinstance(many, float | np.floating) and bool(np.isnan(many))
    if isinstance(exact, bool):
        return float(many) == float(exact)  # type: ignore[arg-type]
    if isinstance(exact, int | Fraction):
        return bool(np.isclose(float(many), float(exact), rtol=1e-12, atol=0))  # type: ignore[arg-type]
    return bool(many == exact)


def drawn_grid(data: st.DataObject, machine: Machine) -> tuple[Machine, list[OptionId], Settings]:
    """A machine set at random, a few of its options in the board's order, and one combination of them."""
    chosen = data.draw(st.sets(st.sampled_from([option.id for option in machine.options]), max_size=4))
    scope = [option.id for option in machine.options if option.id in chosen]
    base = data.draw(settings(machine))
    other = data.draw(settings(machine))
    return reset(machine, base), scope, {**base, **{option: other[option] for option in scope}}


def reset(machine: Machine, current: Settings) -> Machine:
    """*machine* with other current settings."""
    from dataclasses import replace

    return replace(machine, current=current)


def at(many: object, machine: Machine, scope: list[OptionId], chosen: Settings) -> object:
    """The element of a broadcastable array for one combination of the *scope*."""
    if not isinstance(many, np.ndarray):
        return many
    sizes = tuple(len(machine.option(option).choices) for option in scope)
    places = (
        [choice.id for choice in machine.option(option).choices].index(chosen[option]) for option in scope
    )
    return np.broadcast_to(many, sizes)[tuple(places)]


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=40)
def test_many_at_once_say_what_one_at_a_time_says(name: str, data: st.DataObject) -> None:
    """On any grid of options every fact of the fast table agrees with the exact one, unknown ones too."""
    machine, scope, chosen = drawn_grid(data, packed(name)[0])
    exact, fast = FactTable(machine, chosen), VectorFacts(machine, scope)

    for fact in all_facts(machine):
        assert agree(exact(fact), at(fast(fact), machine, scope, chosen)), fact


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=20)
def test_the_part_in_question_goes_first(name: str, data: st.DataObject) -> None:
    """For a rule on one card or drive both tables put its facts before those of the machine."""
    machine, scope, chosen = drawn_grid(data, packed(name)[0])
    members: list[Member] = [*machine.members["card"], *machine.members["drive"]]
    member = data.draw(st.sampled_from(members))
    exact, fast = FactTable(machine, chosen).under(member), VectorFacts(machine, scope, member)

    for fact in (*member.facts, *machine.definitions):
        assert agree(exact(fact), at(fast(fact), machine, scope, chosen)), fact
    for fact, value in member.facts.items():
        assert exact(fact) == value


def test_unknown_names_are_unknown() -> None:
    """A name that nothing defines has no value, exactly and on grids."""
    machine, _ = packed(MACHINES[0])
    scope = [machine.options[0].id]

    assert FactTable(machine, machine.current)("no.such_fact") is None
    assert np.isnan(VectorFacts(machine, scope)("no.such_fact"))


def test_further_facts_go_first() -> None:
    """Traits of a workload come before anything of the machine."""
    machine, _ = packed(MACHINES[0])
    facts = VectorFacts(machine, [], extra={"work.reads": Fraction(1, 2), "host_clock": 7})

    assert facts("work.reads") == 0.5
    assert facts("host_clock") == 7.0


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=40)
def test_what_is_outside_the_scope_changes_nothing(name: str, data: st.DataObject) -> None:
    """A fact keeps its value whatever is done to an option outside its scope."""
    machine, _ = packed(name)
    before = data.draw(settings(machine))
    option = data.draw(st.sampled_from(machine.options))
    after = {**before, option.id: data.draw(st.sampled_from(option.choices)).id}
    facts, changed = FactTable(machine, before), FactTable(machine, after)

    for fact in all_facts(machine):
        if option.id not in machine.scope_of_fact(fact):
            assert facts(fact) == changed(fact), fact


@pytest.mark.parametrize("name", MACHINES)
def test_every_option_reaches_what_it_sets(name: str) -> None:
    """An option is in the scope of each parameter that it sets, and scopes come in the board's order."""
    machine, _ = packed(name)

    for parameter, option in machine.setters.items():
        assert option in machine.scope_of_fact(parameter)
        assert machine.scope_of_fact(f"{OWN_PREFIX}{parameter}") <= machine.scope_of_fact(parameter)
    expressions = [machine.definitions[fact] for fact in sorted(machine.definitions)]
    order = [option.id for option in machine.options]
    scope = machine.scope_of(*expressions, None)
    assert list(scope) == sorted(scope, key=order.index)
    assert len(scope) == len(set(scope)) > 10


def test_changes_over_the_current_settings() -> None:
    """Settings with changes keep every other option as it is, and leave the machine alone."""
    machine, _ = packed(MACHINES[0])
    option = machine.options[0]
    before = dict(machine.current)

    changed = machine.settings_with({option.id: option.choices[0].id})

    assert changed == {**before, option.id: option.choices[0].id}
    assert dict(machine.current) == before


@given(data=st.data())
def test_what_is_computed_from_a_part_follows_the_part(data: st.DataObject) -> None:
    """With one module's facts in front, a fact computed from them is that module's."""
    machine, _ = packed(data.draw(st.sampled_from(MACHINES)))
    member = data.draw(st.sampled_from(machine.members["dram"]))
    slower = replace(member, facts={**member.facts, "dram.refresh_row_time": 125_000_000})
    facts = FactTable(machine, machine.current)
    name = "refresh_row_limit"

    assert facts(name) != 125_000_000
    assert facts.under(slower)(name) == facts.under(member).under(slower)(name) == 125_000_000
    assert float(VectorFacts(machine, (), slower)(name)) == 125_000_000
    assert facts.under(slower)("host_period") == facts("host_period")

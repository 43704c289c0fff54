"""Time of a unit of work: exact for one combination, tabulated for all."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st
from tests.workshop import MACHINES, packed, rebuilt, settings

from waitwright.expr import parse
from waitwright.rulebook.load import load_rulebook
from waitwright.workload.gain import Pricer
from waitwright.workload.model import event_tables, event_times, trait_facts

WORKLOADS = tuple(load_rulebook().workloads)


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=25)
def test_tables_hold_the_exact_costs_rounded(name: str, data: st.DataObject) -> None:
    """For any work and settings each event's table holds its exact cost, rounded to a whole picosecond."""
    machine, _ = packed(name)
    workload = machine.rulebook.workloads[data.draw(st.sampled_from(WORKLOADS))]
    chosen = data.draw(settings(machine))
    exact = event_times(machine, workload, chosen)

    total = Fraction(0)
    for table, event in zip(event_tables(machine, workload), exact, strict=True):
        here = tuple(
            [choice.id for choice in machine.option(option).choices].index(chosen[option])
            for option in table.scope
        )
        assert table.event == event.event
        cost = Fraction(event.total or 0)
        assert abs(int(table.values[here]) - cost) <= Fraction(1, 2) + cost / 10**12, table.event.id
        total += cost
    tables = event_tables(machine, workload)
    assert abs(Pricer(machine, tables).total(chosen) - total) <= len(tables)


@pytest.mark.parametrize("workload", WORKLOADS)
@pytest.mark.parametrize("name", MACHINES)
def test_no_event_of_a_packed_machine_is_unknown(name: str, workload: str) -> None:
    """On the packed machines every rate and time is known and none is negative, whatever the work."""
    machine, _ = packed(name)

    for event in event_times(machine, machine.rulebook.workloads[workload], machine.current):
        assert event.rate is not None, event.event.id
        assert event.time is not None, event.event.id
        assert event.rate >= 0
        assert event.time >= 0


@pytest.mark.parametrize("name", MACHINES)
@given(data=st.data())
@examples(max_examples=15)
def test_costs_are_never_negative(name: str, data: st.DataObject) -> None:
    """No work takes less than no time, whatever is set."""
    machine, _ = packed(name)
    workload = machine.rulebook.workloads[data.draw(st.sampled_from(WORKLOADS))]

    assert all(table.values.min() >= 0 for table in event_tables(machine, workload))


def test_an_unknown_time_costs_nothing() -> None:
    """An event whose time is unknown has no cost anywhere, and is told as unknown."""
    book = load_rulebook()
    name = next(iter(book.events))
    event = replace(book.events[name], time=parse("cpu.no_such_row"))
    machine = rebuilt(rulebook=replace(book, events={name: event}))
    workload = book.workloads["integer"]

    (table,) = event_tables(machine, workload)
    (time,) = event_times(machine, workload, machine.current)

    assert not table.values.any()
    assert (time.time, time.total) == (None, None)


def test_traits_are_facts_of_the_work() -> None:
    """Events see a workload's traits under ``work.``, each as the file has it."""
    workload = load_rulebook().workloads["integer"]

    assert trait_facts(workload) == {f"work.{name}": value.value for name, value in workload.traits.items()}

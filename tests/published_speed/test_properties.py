"""What must be true of every event, workload and combination of settings."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import isclose

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from waitwright.ids import ChoiceId, OptionId, ParameterName
from waitwright.machine import FactTable, Machine
from waitwright.machine.vector import VectorFacts
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.profiles import OptionDef
from waitwright.workload.model import EventTable, event_tables, event_times, trait_facts

from .shop import PACKED, Shop, rebuilt, time

WAITS = (
    "l2_read_first_clocks", "l2_read_next_clocks", "l2_write_clocks", "dram_read_lead_clocks",
    "dram_row_to_column_clocks", "dram_cas_read_clocks", "dram_cas_precharge_clocks", "dram_precharge_clocks",
    "dram_write_clocks", "refresh_ras_clocks", "refresh_precharge_clocks", "isa_mem16_waits",
    "isa_io16_waits", "isa_bus8_waits", "isa_recovery16_clocks", "isa_recovery8_clocks", "vl_decode_clocks",
    "vl_write_waits", "vl_ready_delay_clocks",
)  # fmt: skip
"""Parameters that are clocks waited for something."""

SHOP = Shop(load_rulebook())
CASES = [(machine, work) for machine in PACKED for work in SHOP.book.workloads]
TABLES = {case: event_tables(SHOP.machine(case[0]), SHOP.work(case[1])) for case in CASES}


def machines(shop: Shop) -> Iterator[Machine]:
    """The packed machines; one without cache and with pipelining; one that misses word by word on chip."""
    yield from map(shop.machine, PACKED)
    bare = shop.machine("tollgate-386dx33", "cache-0=none", "cache-1=none", "tag=none")
    yield rebuilt(bare, {"cpu_pipelined": True})
    yield shop.machine("tollgate-386dx33", "cpu=386dx-cached-33")


@pytest.mark.parametrize(("name", "work"), CASES)
def test_every_event_is_known_and_no_time_is_negative(shop: Shop, name: str, work: str) -> None:
    """On the packed machines every rate and time is known and not negative, whatever is chosen."""
    machine, traits = shop.machine(name), trait_facts(shop.work(work))
    for event in shop.book.events.values():
        facts = VectorFacts(machine, machine.scope_of(event.rate, event.time), extra=traits)
        for expression in (event.rate, event.time):
            values = facts.numbers(expression)
            assert not np.isnan(values).any(), f"{event.id}: {expression.text}"
            assert (values >= 0).all(), f"{event.id}: {expression.text}"


def ordered(option: OptionDef, parameter: ParameterName) -> list[int]:
    """Numbers of choices of *option* in ascending order of *parameter*, none better than one before it.

    A choice that is quicker in another wait, or differs in anything but waits, is passed over.
    """
    sets = [choice.sets for choice in option.choices]
    places = sorted(range(len(sets)), key=lambda place: Fraction(sets[place][parameter]))
    chain = [places[0]]
    for place in places[1:]:
        before, here = sets[chain[-1]], sets[place]
        waits = [name for name in here if name in WAITS]
        others = [name for name in here if name not in WAITS]
        slower = all(Fraction(here[name]) >= Fraction(before[name]) for name in waits)
        if slower and all(here[name] == before[name] for name in others):
            chain.append(place)
    return chain


def along(table: EventTable, option: str, order: list[int]) -> NDArray[np.int64]:
    """Differences of a table's costs from one choice of *option* to the next in *order*."""
    axis = table.scope.index(OptionId(option))
    costs = np.moveaxis(table.values, axis, 0)[order]
    steps: NDArray[np.int64] = costs[1:] - costs[:-1]
    return steps


def test_more_wait_states_never_make_work_faster(shop: Shop) -> None:
    """More clocks of waiting, in whatever option, never lower the time of any event in any combination."""
    compared = 0
    for machine in machines(shop):
        chains = [
            (str(option.id), ordered(option, parameter))
            for option in machine.options
            for parameter in option.parameters
            if parameter in WAITS
        ]
        assert len(chains) >= 12
        for work in map(shop.work, shop.book.workloads):
            for table in event_tables(machine, work):
                for option, order in chains:
                    if option in table.scope and len(order) > 1:
                        assert (along(table, option, order) >= 0).all(), (table.event.id, option)
                        compared += 1
    assert compared > 500


@pytest.mark.parametrize("parameter", WAITS)
def test_one_more_wait_never_makes_a_board_faster(shop: Shop, parameter: str) -> None:
    """On boards that fix a wait, one clock more of it never lowers the time of any workload."""
    for machine in machines(shop):
        given = FactTable(machine, machine.current)(parameter)
        assert isinstance(given, int | Fraction)
        less, more = (rebuilt(machine, {parameter: given + extra}) for extra in (0, 1))
        for work in map(shop.work, shop.book.workloads):
            assert time(less, work) <= time(more, work)


def test_faster_host_clock_is_never_slower(shop: Shop) -> None:
    """With the same clocks everywhere, a faster host clock never raises the time of any event."""
    # The board's own timing takes other clocks at other host clocks: it is left out.
    for machine in (rebuilt(machine, {"automatic_timing": False}) for machine in machines(shop)):
        clocks = machine.option(OptionId("host-clock"))
        order = list(range(len(clocks.choices)))
        assert [choice.id for choice in clocks.choices] == ["20", "25", "33", "40", "50"]
        for work in map(shop.work, shop.book.workloads):
            for table in event_tables(machine, work):
                if clocks.id in table.scope:
                    assert (along(table, "host-clock", order) <= 0).all(), table.event.id


@given(
    miss_factor=st.fractions(0, 50, max_denominator=100),
    page_hits=st.fractions(0, 1, max_denominator=100),
    name=st.sampled_from(PACKED),
    use=st.sampled_from(["off", "through", "back"]),
)
def test_reads_are_shared_out_whole(miss_factor: Fraction, page_hits: Fraction, name: str, use: str) -> None:
    """Whatever a workload's misses, reads that reach the bus end in the cache or in memory, none twice."""
    machine = SHOP.machine(name)
    work = SHOP.work("build", miss_factor=str(miss_factor), page_hits=str(page_hits))
    settings = machine.settings_with({OptionId("cache-use"): ChoiceId(use)})
    rates = {found.event.id: Fraction(found.rate or 0) for found in event_times(machine, work, settings)}
    facts = FactTable(machine, settings)
    outer = facts("cpu_cache_miss_rate")
    assert isinstance(outer, int | Fraction)
    reaching = Fraction(work.traits["reads"].value) * min(1, outer * miss_factor if outer < 1 else 1)

    assert rates["l2-read"] + rates["memory-read"] == reaching
    assert 0 <= rates["memory-read-row"] <= rates["memory-read"]
    assert 0 <= rates["evicted-line"] <= rates["memory-read"]
    assert rates["l2-write"] + rates["memory-write"] == work.traits["writes"].value
    assert 0 <= rates["memory-write-row"] <= rates["memory-write"]


@given(data=st.data(), name=st.sampled_from(PACKED), work=st.sampled_from(list(SHOP.book.workloads)))
def test_tables_agree_with_exact_times(data: st.DataObject, name: str, work: str) -> None:
    """The tables that the search adds up hold the exact times of each event, to the picosecond."""
    machine = SHOP.machine(name)
    settings = {
        option.id: data.draw(st.sampled_from([choice.id for choice in option.choices]))
        for option in machine.options
    }
    places = {
        option.id: [choice.id for choice in option.choices].index(settings[option.id])
        for option in machine.options
    }
    exact = {found.event.id: found.total for found in event_times(machine, SHOP.work(work), settings)}
    for table in TABLES[name, work]:
        cost = table.values[tuple(places[option] for option in table.scope)]
        total = exact[table.event.id]
        assert total is not None
        assert abs(cost - total) <= 1 or isclose(cost, total, rel_tol=1e-12)

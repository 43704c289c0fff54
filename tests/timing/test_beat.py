"""The clock that a budget is counted in."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.workshop import OLD, packed, rebuilt

from waitwright.expr import parse
from waitwright.machine import FactTable, Machine
from waitwright.timing.beat import Beat, beat_of
from waitwright.timing.bind import bind
from waitwright.units import exact


def beats(machine: Machine) -> dict[str, Beat | None]:
    """The beat of every budget under the current settings."""
    facts = FactTable(machine, machine.current)
    return {bound.id: beat_of(machine, bound, facts) for bound in bind(machine).budgets}


def test_budgets_are_told_in_the_clock_of_their_own_bus() -> None:
    """Cache and memory count host clocks, slots count bus clocks, and a refresh that is a duration none."""
    found = beats(packed(OLD)[0])
    host, slot = Beat("host clock", 30_000), found["isa.width.mem16@isa-2"]

    assert found["l2.read.first.data"] == host
    assert found["dram.row.access"] == host
    assert slot is not None
    assert slot.clock == "ISA bus clock"
    assert slot.period == Fraction(10**12) / (exact("14.31818") * 10**6 / 2)
    assert found["ata.isa.width16@drive-isa"] == slot
    assert found["dma.floppy"] is None


def test_a_clock_without_a_period_is_no_beat() -> None:
    """Where a fact says that a period is nothing, no budget is divided by it."""
    book = packed(OLD)[0].rulebook
    still = replace(book.facts["host_period"], expression=parse("0 * ns(1)"))
    found = beats(rebuilt(OLD, rulebook=replace(book, facts={**book.facts, "host_period": still})))

    assert found["l2.read.first.data"] is None

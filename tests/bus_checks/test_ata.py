"""Drives against the published mode table, over every bus clock, wait and recovery choice.

Source: Linux kernel, drivers/ata/libata-core.c (ATA/ATAPI-6 rev 0a).  The computation here
is the test's own, in whole clocks; of the packed rules only the verdicts are looked at.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
import pytest

from tests.published.bench import Bench
from tests.workshop import NEW, OLD, packed, rebuilt
from waitwright.ids import OptionId
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.profiles import OptionDef
from waitwright.timing.bind import bind
from waitwright.timing.tables import budget_table

TABLE = {
    "slow": (120, (290, 240, 960), (290, 240, 960)),
    "0": (70, (290, 240, 600), (165, 150, 600)),
    "1": (50, (290, 93, 383), (125, 100, 383)),
    "2": (30, (290, 40, 330), (100, 90, 240)),
    "3": (30, (80, 70, 180), (80, 70, 180)),
    "4": (25, (70, 25, 120), (70, 25, 120)),
}
"""Address setup; active, recovery, cycle with 8 and with 16 bits, in ns."""

HALF = Fraction(1, 2)

LOSS = {8: 10, 16: 12}
"""By how many ns a command of the packed board's logic is narrower than its clocks."""

ADDRESS_LATE, COMMAND_EARLY = 28, 11
"""Address on the slots, latest, and command active, earliest, behind the clock edge, in ns: same logic."""


def clocks(time: Fraction | int, period: Fraction) -> int:
    """The table's own rounding: whole clocks that cover *time* ns; nothing takes none."""
    return (1000 * Fraction(time) - Fraction(1, 1000)) // (1000 * period) + 1 if time > 0 else 0


def isa_verdicts(
    mode: str, period: Fraction, core: Fraction, waits: dict[int, int], rests: dict[int, int]
) -> dict[str, bool]:
    """Rule to verdict for a drive on a bus of *period* ns, counted in half bus clocks.

    Args:
        core: CPU core period in ns, for the CPU's own time between two accesses: at least 4 clocks between
            two words of a string, 8 between two port instructions.
        waits: Wait states by width.
        rests: Bus clocks between two commands by width.
    """
    setup, *widths = TABLE[mode]
    half = period * HALF
    found = {"ata.isa.address": clocks(setup + ADDRESS_LATE - COMMAND_EARLY, half) <= 3}
    for bits, own, (active, recovery, cycle) in zip((8, 16), (8, 4), widths, strict=True):
        command = 2 * (1 + waits[bits]) - 1
        pause = 2 * rests[bits] + 1
        found[f"ata.isa.width{bits}"] = clocks(active + LOSS[bits], half) <= command
        found[f"ata.isa.recovery{bits}"] = clocks(recovery - own * core, half) <= pause
        found[f"ata.isa.cycle{bits}"] = clocks(cycle - own * core, half) <= command + pause
    return found


@pytest.mark.parametrize("mode", TABLE)
def test_every_isa_choice_of_a_real_board_agrees_with_the_table(mode: str) -> None:
    """Every clock, wait and recovery choice of the packed board gives the table's own verdict."""
    machine = rebuilt(OLD, what_if={"drive-isa": f"drive-pio-{mode}"})
    compared = 0
    for bound in bind(machine).budgets:
        if bound.member is None or bound.member.item.slot != "drive-isa":
            continue
        table = budget_table(machine, bound)
        assert table.applies.all()
        for place in np.ndindex(table.short.shape):
            chosen = {
                option.id: option.choices[number].id
                for option, number in zip(_scope(machine, bound.scope), place, strict=True)
            }
            facts = FactTable(machine, machine.settings_with(chosen))
            wanted = isa_verdicts(
                mode,
                _number(facts, "isa_period") / 1000,
                _number(facts, "core_period") / 1000,
                {8: int(_number(facts, "isa_bus8_waits")), 16: int(_number(facts, "isa_io16_waits"))},
                {
                    8: int(_number(facts, "isa_recovery8_clocks")),
                    16: int(_number(facts, "isa_recovery16_clocks")),
                },
            )
            assert table.short[place] != wanted[bound.rule.id], (bound.id, chosen)
            compared += 1

    # 5 host clocks x 2 x 5 ISA clocks: 1 rule without, 1 + 1 with waits, 2 with rests, 2 with both.
    assert compared == 50 * (1 + 4 + 3 + 4 + 4 + 4 * 4 + 3 * 4)


def _scope(machine: Machine, scope: tuple[OptionId, ...]) -> list[OptionDef]:
    by_id = {option.id: option for option in machine.options}
    return [by_id[name] for name in scope]


def _number(facts: FactTable, name: str) -> Fraction:
    value = facts(name)
    assert isinstance(value, int | Fraction) and not isinstance(value, bool), name
    return Fraction(value)


CLOCKS = sorted(
    {Fraction(14_318_180, 1_000_000) / divider for divider in (2, 3)}
    | {
        2 * host / divider
        for host in (Fraction(16), Fraction(20), Fraction(25), Fraction(100, 3), Fraction(40), Fraction(50))
        for divider in (3, 4, 5, 6, 8, 10, 12, 16)
        if 5 <= 2 * host / divider <= 25
    }
)
"""Bus clocks of boards in MHz, 4.77 to 25: the fixed oscillator and CLK2, divided."""

CHOICES = {
    "address": ((1,), (1,)),
    "width16": (range(6), (1,)),
    "width8": (range(9), (1,)),
    "recovery16": ((1,), range(1, 9)),
    "recovery8": ((4,), range(1, 17)),
    "cycle16": (range(6), (1, 2, 3, 5, 8)),
    "cycle8": (range(9), (1, 4, 7, 11, 16)),
}
"""Rule to the wait states and the recovery clocks that it is tried with."""


@pytest.mark.parametrize("rule", CHOICES)
@pytest.mark.parametrize("iordy", [True, False])
def test_every_isa_clock_from_4_77_to_25_mhz_agrees_with_the_table(rule: str, iordy: bool) -> None:
    """Any bus clock, wait and recovery gives the table's verdict in any mode, with IORDY or without.

    IORDY can only stretch a cycle, so that a drive must be served without it on this bus.
    """
    host, core = Fraction(100, 3), Fraction(100)  # a tripled part: little time of its own between accesses
    held = []
    for mode, clock in product(TABLE, CLOCKS):
        bench = Bench.of(
            load_rulebook(),
            {"logic": "logic-hybrid-386-486", "drive": f"drive-pio-{mode}"},
            {
                "isa_clock": f"{clock} MHz",
                "host_clock": f"{host} MHz",
                "core_multiplier": 3,
                "drive.bus": "isa16",
                "ata_iordy": iordy,
            },
        )
        for waits, rest in product(*CHOICES[rule]):
            tried = bench.given(
                isa_io16_waits=waits,
                isa_bus8_waits=waits,
                isa_recovery16_clocks=rest,
                isa_recovery8_clocks=rest,
            )
            wanted = isa_verdicts(
                mode, 1000 / clock, 1000 / core, {8: waits, 16: waits}, {8: rest, 16: rest}
            )[f"ata.isa.{rule}"]
            assert tried.holds(f"ata.isa.{rule}") is wanted, (mode, clock, waits, rest)
            held.append(wanted)

    assert any(held) and not all(held)


def port_verdicts(port: int, drive: str, period: Fraction) -> dict[str, bool]:
    """Rule to verdict for a port set to PIO mode *port*: each time in whole clocks, the cycle filled up."""
    setup, *widths = TABLE[str(port)]
    asked, *needs = TABLE[drive]
    found = {"ata.port.address": clocks(setup, period) * period >= asked}
    for bits, (active, recovery, cycle), (width, rest, whole) in zip((8, 16), widths, needs, strict=True):
        act = clocks(active, period)
        total = max(act + clocks(recovery, period), clocks(cycle, period))
        found[f"ata.port.width{bits}"] = act * period >= width
        found[f"ata.port.recovery{bits}"] = (total - act) * period >= rest
        found[f"ata.port.cycle{bits}"] = total * period >= whole
    return found


@pytest.mark.parametrize("bus", ["vl", "pci"])
@pytest.mark.parametrize("clock", ["20", "25", "30", "100/3", "40", "50"])
def test_every_port_mode_agrees_with_the_table(bus: str, clock: str) -> None:
    """A port in any mode serves a drive of any mode exactly where the table's rounded times do.

    From mode 3 on both ends must have IORDY (ATA, from memory).
    """
    period = 1000 / Fraction(clock)
    for port, drive, iordy in product(range(5), TABLE, (True, False)):
        bench = Bench.of(
            load_rulebook(),
            {"drive": f"drive-pio-{drive}"},
            {"host_clock": f"{clock} MHz", "drive.bus": bus, "ata_pio_mode": port, "ata_iordy": iordy},
        )
        wanted = port_verdicts(port, drive, period)
        assert len(wanted) == 7
        for rule, verdict in wanted.items():
            assert bench.holds(rule) is verdict, (rule, port, drive)
        assert bench.applies("ata.iordy") is (port >= 3)
        if port >= 3:
            assert bench.holds("ata.iordy") is (iordy and drive in {"3", "4"})


def test_two_drives_each_have_their_own_verdict() -> None:
    """A drive on the ISA bus beside one on the local bus: each is judged on its own bus."""
    machine, rules = packed(NEW)
    ids = {bound.id for bound in rules.budgets if bound.rule.room == "ata"}

    assert {name.partition("@")[2] for name in ids} == {"drive-local"}
    both = bind(rebuilt(NEW, what_if={"drive-isa": "drive-pio-1"}))
    ids = {bound.id for bound in both.budgets if bound.rule.room == "ata"}
    assert "ata.isa.width16@drive-isa" in ids and "ata.port.width16@drive-local" in ids
    assert "ata.port.width16@drive-isa" not in ids and machine.name == NEW

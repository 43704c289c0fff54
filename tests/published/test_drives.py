"""Drives against the ATA mode table, and floppy service times against their formulas."""

from __future__ import annotations

from fractions import Fraction

import pytest

from .bench import BenchMaker

TABLE = {
    0: (70, (290, 240, 600), (165, 150, 600)),
    1: (50, (290, 93, 383), (125, 100, 383)),
    2: (30, (290, 40, 330), (100, 90, 240)),
    3: (30, (80, 70, 180), (80, 70, 180)),
    4: (25, (70, 25, 120), (70, 25, 120)),
}
"""Address setup; command, recovery, cycle with 8 and with 16 bits, in ns.  Linux, libata-core.c (7.1)."""


@pytest.mark.parametrize("mode", TABLE)
def test_port_and_drive_of_a_mode_have_its_published_times(bench: BenchMaker, mode: int) -> None:
    """The times that a port is set to, and those that a drive asks, are the table's.

    Source: Linux kernel, drivers/ata/libata-core.c, mode timing table.
    """
    board = bench({"drive": f"drive-pio-{mode}"}, {"ata_pio_mode": mode})
    setup, *widths = TABLE[mode]

    assert board.number("ata_port_address_setup", "ns") == setup == board.number("drive.address_setup", "ns")
    for bits, (command, recovery, cycle) in zip((8, 16), widths, strict=True):
        assert board.number(f"ata_port_command{bits}", "ns") == command
        assert board.number(f"drive.command_width{bits}", "ns") == command
        assert board.number(f"ata_port_recovery{bits}", "ns") == recovery
        assert board.number(f"drive.recovery{bits}", "ns") == recovery
        assert board.number(f"ata_port_cycle{bits}", "ns") == cycle
        assert board.number(f"drive.cycle{bits}", "ns") == cycle


def test_a_drive_slower_than_mode_0_has_the_tables_slow_row(bench: BenchMaker) -> None:
    """Setup 120, command 290, recovery 240 and cycle 960 ns in both widths; no port at mode 0 serves it.

    Source: Linux kernel, drivers/ata/libata-core.c, mode timing table. Its mode 5 is left out: that mode came
    with memory cards, after the boards that these rules are for.
    """
    board = bench(
        {"drive": "drive-pio-slow"}, {"host_clock": "100/3 MHz", "drive.bus": "vl", "ata_pio_mode": 0}
    )

    assert board.number("drive.address_setup", "ns") == 120
    for bits in (8, 16):
        assert board.number(f"drive.command_width{bits}", "ns") == 290
        assert board.number(f"drive.recovery{bits}", "ns") == 240
        assert board.number(f"drive.cycle{bits}", "ns") == 960
        assert not board.holds(f"ata.port.cycle{bits}")


def test_port_times_are_rounded_up_to_whole_clocks(bench: BenchMaker) -> None:
    """At 30 ns PIO 0 cycles are 20 clocks; PIO 4 has 1, 3, 1 and 4.

    Source: Linux kernel, drivers/ata/libata-core.c, mode timing table and its rounding.
    """
    facts = {"host_clock": "100/3 MHz", "drive.bus": "vl"}
    slow, fast = (bench({"drive": f"drive-pio-{mode}"}, {**facts, "ata_pio_mode": mode}) for mode in (0, 4))

    assert slow.available("ata.port.cycle16") == 20 * 30
    assert fast.available("ata.port.address") == 1 * 30
    assert fast.available("ata.port.width16") == 3 * 30
    assert fast.available("ata.port.recovery16") == 1 * 30
    assert fast.available("ata.port.cycle16") == 4 * 30


@pytest.mark.parametrize("bus", ["vl", "pci"])
@pytest.mark.parametrize("clock", ["25 MHz", "100/3 MHz", "40 MHz", "50 MHz"])
@pytest.mark.parametrize("mode", TABLE)
def test_a_port_in_the_drives_own_mode_always_serves_it(
    bench: BenchMaker, mode: int, clock: str, bus: str
) -> None:
    """Rounding up never takes time from a drive; a port one mode too fast does.

    Source: Linux kernel, drivers/ata/libata-core.c, mode timing table.
    """
    board = bench(
        {"drive": f"drive-pio-{mode}"}, {"host_clock": clock, "drive.bus": bus, "ata_pio_mode": mode}
    )
    rules = [rule for rule in board.book.budgets if rule.startswith("ata.port.")]

    assert len(rules) == 7
    assert all(board.holds(rule) for rule in rules)
    assert mode == 4 or not all(board.given(ata_pio_mode=mode + 1).holds(rule) for rule in rules)


@pytest.mark.parametrize(
    ("clock", "published"),
    [("25/3 MHz", 0), ("10 MHz", 1), ("12.5 MHz", 2), ("50/3 MHz", 3)],
)
def test_drives_against_the_width_that_the_bus_delivers(
    bench: BenchMaker, clock: str, published: int
) -> None:
    """1.5 clocks less 15 ns are 165, 135, 105, 75 ns: modes 0, 1, 2, at last only 4 hold.

    Source: Linux kernel, drivers/ata/libata-core.c, mode timing table; SC400/SC410 data sheet, publication
    21028, t3.
    """
    facts = {"isa_clock": clock, "drive.bus": "isa16"}
    boards = {mode: bench({"logic": "sc400-host", "drive": f"drive-pio-{mode}"}, facts) for mode in TABLE}

    holding = [mode for mode, board in boards.items() if board.holds("ata.isa.width16")]

    assert min(holding) == (published if published < 3 else 4)


def test_width_margin_in_a_practitioners_words(bench: BenchMaker) -> None:
    """At 16.7 MHz a 16-bit I/O command of 1.5 clocks is 90 ns: 10 ns short of PIO mode 2 (arithmetic)."""
    board = bench(
        {"logic": "sc400-host", "drive": "drive-pio-2"},
        {"isa_clock": "50/3 MHz", "drive.bus": "isa16", "logic.isa_width_loss_io16": 0},
    )

    assert board.margin("ata.isa.width16") == -10


def test_fast_modes_need_iordy(bench: BenchMaker) -> None:
    """PIO 3 and 4 need IORDY at both ends.

    Source: ATA, from memory with high confidence.
    """
    board = bench({"drive": "drive-pio-4"}, {"drive.bus": "vl", "ata_pio_mode": 4})

    assert board.holds("ata.iordy")
    assert not board.given(ata_iordy=False).holds("ata.iordy")
    assert not board.given(ata_pio_mode=2).applies("ata.iordy")


# ---------------------------------------------------------------------------------------- floppy


@pytest.mark.parametrize(
    "part",
    ["floppy-fdc37c67x", "floppy-fdc37c67x-fifo-2", "floppy-fdc37c67x-fifo-8", "floppy-fdc37c67x-fifo-15"],
)
def test_service_time_with_a_fifo(bench: BenchMaker, part: str) -> None:
    """Threshold x 8 / rate - 1.5 us: 14.5, 30.5, 126.5, 238.5 us.

    Source: FDC37C67x data sheet, p. 26, table 14.
    """
    board = bench({"floppy": part}, {})
    bit_time = 1000 / Fraction(board.number("floppy.data_rate", "kHz"))

    needed = board.number("floppy.fifo_threshold", "count") * 8 * bit_time - Fraction("1.5")
    assert board.number("floppy.service", "us") == needed


def test_service_time_of_one_byte(bench: BenchMaker) -> None:
    """(threshold + 1) x 8 x 2000 - 16 x 125 ns with threshold 0 is 14.0 us.

    Source: PC8477B data sheet, p. 12 and table 6-1 (p. 40).
    """
    board = bench({"floppy": "floppy-pc8477"}, {})
    bit_time = 1000 / Fraction(board.number("floppy.data_rate", "kHz"))

    assert board.number("floppy.service", "us") == 8 * bit_time - 16 * Fraction("0.125")

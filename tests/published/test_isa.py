"""ISA budgets against published bus figures and card fits."""

from __future__ import annotations

from fractions import Fraction

import pytest

from waitwright.units import Exact

from .bench import Bench, BenchMaker, Given

KINDS = ("mem16", "io16", "mem8", "io8")


def bus_120(bench: BenchMaker, card: str, **facts: Given) -> Bench:
    """A card on the published host at a bus clock of 120 ns; SC400/SC410 data sheet, publication 21028."""
    settings: dict[str, Given] = {
        "host_clock": "100/3 MHz",
        "core_multiplier": 1,
        "isa_source": "host",
        "isa_divider": 4,
        **facts,
    }
    return bench({"logic": "sc400-host", "card": card}, settings)


def as_kind(board: Bench, kind: str) -> Bench:
    """The same board with a card that answers cycles of one kind only."""
    memory = kind.startswith("mem")
    width = int(kind.removeprefix("mem").removeprefix("io"))
    return board.given(
        **{
            "card.has_memory": memory,
            "card.has_io": not memory,
            "card.memory_width": width,
            "card.io_width": width,
            "card.uses_ready": False,
        }
    )


@pytest.mark.parametrize(
    ("kind", "width", "total", "time"),
    [("mem16", "2", 3, 360), ("io16", "1.5", 3, 360), ("mem8", "4.5", 6, 720), ("io8", "4.5", 6, 720)],
)
def test_bus_cycles_in_clocks(bench: BenchMaker, kind: str, width: str, total: int, time: int) -> None:
    """1 + 0 + 2, 1 + 0.5 + 1.5 and 1 + 0.5 + 4.5 clocks, 360 and 720 ns at 120 ns.

    Source: 82C836 data sheet, revision 3.0, table 11-1 and p. 11-3; totals derived.
    """
    board = bus_120(bench, "network-isa16-cs8900")

    assert board.number(f"isa_{kind}_width_clocks", "clocks") == Fraction(width)
    assert board.number(f"isa_{kind}_total_clocks", "clocks") == total
    assert board.number(f"isa_{kind}_time", "ns") == time


def test_zero_wait_cycle(bench: BenchMaker) -> None:
    """A zero-wait cycle has a command of one clock and takes 240 ns at 120 ns.

    Source: 82C836 data sheet, revision 3.0, table 11-1; total derived.
    """
    board = as_kind(bus_120(bench, "display-isa16-zw-70", isa_zero_wait=True), "mem16")

    assert board.available("isa.zero-wait.width") == 120
    assert board.number("isa_zero_wait_time", "ns") == 240


@pytest.mark.parametrize(
    ("kind", "made", "published"),
    [("io8", 540, 530), ("mem8", 540, 530), ("io16", 180, 165), ("mem16", 240, 240)],
)
def test_command_widths(bench: BenchMaker, kind: str, made: int, published: int) -> None:
    """4.5, 1.5 and 2.0 clocks of 120 ns deliver 530, 165 and 240 ns.

    Source: SC400/SC410 data sheet, publication 21028, t3.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900"), kind)

    assert board.available(f"isa.width.{kind}") == made
    assert board.margin(f"isa.width.{kind}", without="card.command_width") == published


@pytest.mark.parametrize(("kind", "access"), [("io8", 489), ("mem8", 489), ("io16", 132), ("mem16", 209)])
def test_read_access(bench: BenchMaker, kind: str, access: int) -> None:
    """A card has 489, 132 and 209 ns from command to data.

    Source: SC400/SC410 data sheet, publication 21028, t13.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900"), kind)
    row = "card.memory_access" if kind.startswith("mem") else "card.io_access"

    assert board.margin(f"isa.read.{kind}", without=row) == access


def test_fit_of_a_network_card(bench: BenchMaker) -> None:
    """135 ns from command to data: 3 ns short as 16-bit I/O, 74 and 354 in hand elsewhere.

    Source: CS8900A data sheet DS271F2, pp. 114-115; SC400/SC410 data sheet, publication 21028, t2b and t13.
    """
    board = bus_120(bench, "network-isa16-cs8900")

    assert board.margin("isa.read.io16") == -3
    assert board.margin("isa.read.mem16") == 74
    assert as_kind(board, "io8").margin("isa.read.io8") == 354
    assert board.margin("isa.decode.io16") == 87


def test_a_wait_state_or_a_slower_clock_cures_the_network_card(bench: BenchMaker) -> None:
    """One wait state more, or a slower bus clock, gives the card its 3 ns.

    Source: CS8900A data sheet DS271F2, pp. 114-115.
    """
    board = bus_120(bench, "network-isa16-cs8900")

    assert board.given(isa_io16_waits=2).holds("isa.read.io16")
    assert board.given(isa_divider=5).holds("isa.read.io16")


@pytest.mark.parametrize(
    ("rule", "row", "window"),
    [("isa.decode.mem16", "card.decode_mem16", 102), ("isa.decode.io16", "card.decode_io16", 122)],
)
def test_decode_windows(bench: BenchMaker, rule: str, row: str, window: int) -> None:
    """A card has 102 ns to answer memory-16 and 122 ns to answer I/O-16.

    Source: SC400/SC410 data sheet, publication 21028, t2a and t2b.
    """
    assert bus_120(bench, "network-isa16-cs8900").margin(rule, without=row) == window


@pytest.mark.parametrize("kind", KINDS)
def test_address_to_command(bench: BenchMaker, kind: str) -> None:
    """The address stands 120 ns before every command.

    Source: SC400/SC410 data sheet, publication 21028, t1a and t1b.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900"), kind)

    assert board.margin(f"isa.address.{kind}", without="card.address_to_command") == 120


def test_ready_of_a_16_bit_card(bench: BenchMaker) -> None:
    """A 16-bit card has 66 ns to hold the bus.

    Source: SC400/SC410 data sheet, publication 21028, t5.
    """
    board = bus_120(bench, "network-isa16-cs8900")

    assert board.margin("isa.ready.mem16", without="card.ready_answer") == 66


def test_ready_of_an_8_bit_card_is_not_overrated(bench: BenchMaker) -> None:
    """The rule allows an 8-bit card 366 ns where the sheet allows 378.

    Source: SC400/SC410 data sheet, publication 21028, t5.
    """
    board = bus_120(bench, "display-isa8")

    assert board.margin("isa.ready.mem8", without="card.ready_answer") == 366


@pytest.mark.parametrize(("kind", "before_command"), [("io16", 33), ("io8", 33), ("mem16", -29)])
def test_write_data_before_the_command(bench: BenchMaker, kind: str, before_command: int) -> None:
    """Data stand 33 ns before I/O and 29 ns after 16-bit memory commands, within 2 ns.

    Source: SC400/SC410 data sheet, publication 21028, t11.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900"), kind)
    before_end = board.margin(f"isa.write.{kind}", without="card.write_data_setup")
    command = board.number(f"isa_{kind}_width_clocks", "clocks") * 120

    off = before_end - command - before_command
    assert -2 <= off <= 2


@pytest.mark.parametrize(("kind", "published"), [("io16", 125), ("io8", 187)])
def test_time_between_commands(bench: BenchMaker, kind: str, published: int) -> None:
    """Commands are high for 125 and 187 ns at least; the CPU's own time counts.

    Source: SC400/SC410 data sheet, publication 21028, t7.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900"), kind)

    assert board.margin(f"isa.recovery.{kind}", without="card.command_high") >= published


def test_split_transfer_has_one_and_a_half_clocks_between_commands(bench: BenchMaker) -> None:
    """1.5 clocks lie between the halves of a split transfer, without a CPU in between.

    Source: 82C836 data sheet, revision 3.0, table 11-1.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900", string_gap="0 ns"), "io16")

    assert board.available("isa.recovery.io16") == 180


def test_split_transfer_takes_two_cycles(bench: BenchMaker) -> None:
    """A 16-bit access to an 8-bit card takes 1440 ns at 120 ns, which a DMA request may have to wait for.

    Source: 82C836 data sheet, revision 3.0, table 11-1; total derived.
    """
    board = bus_120(bench, "network-isa16-cs8900")

    assert board.term("dma.floppy", "split access to an 8-bit card under way") == 1440


@pytest.mark.parametrize(
    ("kind", "recovery"), [("io16", "isa_recovery16_clocks"), ("io8", "isa_recovery8_clocks")]
)
def test_address_hold_after_the_command(bench: BenchMaker, kind: str, recovery: str) -> None:
    """One clock between two port commands already holds the address for the published 53 ns.

    Source: SC400/SC410 data sheet, publication 21028, t4.
    """
    board = as_kind(bus_120(bench, "network-isa16-cs8900", **{recovery: 1}), kind)
    rule = f"isa.address-hold.{kind}"
    needed = board.term(rule, "address hold of slow peripherals")

    assert board.margin(rule) + needed >= 53


# ----------------------------------------------------------------------------- slow bus of a 16 MHz 386DX


def slow_bus(bench: BenchMaker, **facts: Given) -> Bench:
    """Peripheral bus of 62.5 ns clocks; Intel386 DX Hardware Reference Manual, order 231732, p. 190."""
    settings: dict[str, Given] = {
        "host_clock": "16 MHz",
        "isa_source": "host",
        "isa_divider": 1,
        "card.bus": "isa16",
        "card.has_io": True,
        "card.io_width": 16,
        "card.address_to_command": "50 ns",
        "card.write_data_setup": "50 ns",
        **facts,
    }
    return bench({"logic": "discrete-386-pld"}, settings)


def test_address_setup_on_a_slow_bus(bench: BenchMaker) -> None:
    """Two clocks less latch enable and latch, plus command delay, are 86 ns against 50.

    Source: Intel386 DX Hardware Reference Manual, order 231732, p. 190, table 9-1.
    """
    board = slow_bus(bench, isa_io_command_delay=1)

    assert board.margin("isa.address.io16", without="card.address_to_command") == 86
    assert board.margin("isa.address.io16") == 36


def test_write_data_setup_on_a_slow_bus(bench: BenchMaker) -> None:
    """Two clocks less enable and transceiver, plus the command's end, are 86 ns against 50.

    Source: Intel386 DX Hardware Reference Manual, order 231732, p. 190, table 9-1.
    """
    board = slow_bus(bench, isa_io16_waits=1)

    assert board.margin("isa.write.io16", without="card.write_data_setup") == 86
    assert board.margin("isa.write.io16") == 36


def test_address_hold_on_a_slow_bus(bench: BenchMaker) -> None:
    """Three clocks less the command's end, plus the latch, are 165.5 ns against 50.

    Source: Intel386 DX Hardware Reference Manual, order 231732, p. 190, table 9-1.
    """
    board = slow_bus(bench, isa_recovery16_clocks=3)

    assert board.available("isa.address-hold.io16") == Fraction("187.5") + 3
    assert board.margin("isa.address-hold.io16") == Fraction("115.5")


# ----------------------------------------------------------------------------- display memory, DMA


@pytest.mark.parametrize(("clock", "holds"), [("25/3 MHz", True), ("20 MHz", False)])
def test_display_memory_of_70_ns_is_too_slow_for_a_20_mhz_bus(
    bench: BenchMaker, clock: str, holds: bool
) -> None:
    """Display memory slower than the bus shows as artefacts, and only so.

    Source: Published failure reports (dots, garbled picture while the system stays up); clocks: common
    practice.
    """
    board = bench({"card": "display-isa16-70"}, {"isa_clock": clock})

    assert board.holds("display.memory.mem16") is holds
    assert board.book.budgets["display.memory.mem16"].symptoms == ("display-artefact",)


def test_dma_transfer_takes_one_microsecond(bench: BenchMaker) -> None:
    """Four states of 250 ns at an 8 MHz bus.

    Source: 82C836 data sheet, revision 3.0, p. 11-22.
    """
    board = bench({"dma": "dma-8237a-5"}, {"isa_clock": "8 MHz"})

    assert board.number("dma_transfer_time", "us") == 1


@pytest.mark.parametrize(("divider", "holds"), [(2, True), (1, False)])
def test_a_5_mhz_dma_controller_needs_half_of_an_8_mhz_bus_clock(
    bench: BenchMaker, divider: Exact, holds: bool
) -> None:
    """8237A-5: 5 MHz; the usual DMA clock is half the bus clock.

    Source: 8237A-5 data sheet, order 231466-005; 82C836 data sheet, revision 3.0, p. 11-22.
    """
    board = bench({"dma": "dma-8237a-5"}, {"isa_clock": "8 MHz", "dma_divider": divider})

    assert board.holds("dma.clock") is holds


def test_floppy_is_served_within_13_us(bench: BenchMaker) -> None:
    """13 us, the shortest service time told, covers a refresh and a split 8-bit access.

    Source: 8272A: from memory with high confidence; 14.0 us PC8477B, 14.5 us FDC37C67x data sheets.
    """
    board = bench(
        {"dma": "dma-8237a-5", "floppy": "floppy-8272a"}, {"host_clock": "16 MHz", "isa_clock": "8 MHz"}
    )

    assert board.holds("dma.floppy")

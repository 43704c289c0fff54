"""ISA, DMA, local bus, CLK2 and PCI: whole machines against published figures, computed here again."""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from itertools import product
from math import ceil

import pytest

from tests.bus_checks.judged import HOSTS, ISA_DIVIDERS, Stand, holds, isa_clock, left, soldered
from tests.published.bench import Bench
from tests.workshop import NEW, OLD
from waitwright.rulebook.load import load_rulebook

# ---------------------------------------------------------------------------------------- ISA

AT_120_NS = {"host_clock": "33", "isa_clock": "clk2-8", "isa_memory": "1", "isa_io": "1"}
"""A bus clock of 8.33 MHz, and the usual waits."""


def test_network_card_misses_16_bit_io_by_3_ns_in_a_real_machine() -> None:
    """135 ns to data: 3 ns short as 16-bit I/O, 74 ns in hand as 16-bit memory.

    Source: Host: SC400/SC410 data sheet, publication 21028, t13 (132 and 209 ns); card: CS8900A data sheet
    DS271F2, pp. 114-115.
    """
    host = partial(soldered, parts={"logic": "sc400-host"})
    stand = Stand(NEW, {"isa-4": "network-isa16-cs8900"}, board=host)
    found = stand.judged(**AT_120_NS)

    assert left(found, "isa.read.io16@isa-4") == -3
    assert left(found, "isa.read.mem16@isa-4") == 74
    assert found["isa.read.io16@isa-4"].verdict == "falls short"
    cured = stand.judged(**{**AT_120_NS, "isa_io": "2"})
    assert left(cured, "isa.read.io16@isa-4") == 120 - 3


CYCLES = {
    "mem16": (Fraction(0), Fraction(2), 1, 10),
    "io16": (Fraction(1, 2), Fraction(3, 2), 1, 12),
    "io8": (Fraction(1, 2), Fraction(9, 2), 4, 10),
}
"""Start to command and command width in bus clocks, with how many waits (82C836 data sheet, revision 3.0,
table 11-1); by how many ns the packed board's logic makes the command narrower."""

SETUP = 15
"""Data setup of the same logic, in ns."""


@pytest.mark.parametrize("kind", CYCLES)
@pytest.mark.parametrize("host", HOSTS)
def test_every_isa_clock_and_wait_of_a_card_agrees_with_the_cycle_table(kind: str, host: str) -> None:
    """Width, access and decode of a card equal what the published cycle structure leaves, at every clock.

    Source: 82C836 data sheet, revision 3.0, table 11-1.
    """
    delay, usual, with_waits, loss = CYCLES[kind]
    option = {"mem16": "isa_memory", "io16": "isa_io", "io8": "isa_8bit"}[kind]
    choices = {"mem16": "210", "io16": "321", "io8": "6543"}[kind]
    slot, part = ("isa-3", "sound-isa16") if kind == "io8" else ("isa-4", "network-isa16-cs8900")
    needs = {"mem16": (135, 110), "io16": (135, 110), "io8": (130, 120)}[kind]
    stand = Stand(OLD, {slot: part}, only=("isa.",))
    for clock, waits in product(("fixed", *ISA_DIVIDERS), choices):
        found = stand.judged(host_clock=host, isa_clock=clock, **{option: waits})
        period = 1000 / isa_clock(host, clock)
        width = (usual + int(waits) - with_waits) * period
        assert left(found, f"isa.read.{kind}@{slot}") == width - loss - SETUP - needs[0]
        assert left(found, f"isa.width.{kind}@{slot}") == width - loss - needs[1]
        if kind == "mem16":
            assert left(found, f"isa.decode.mem16@{slot}") == period - 18 - 30
        if kind == "io16":
            assert left(found, f"isa.decode.io16@{slot}") == (1 + delay) * period - 10 - 35


def test_cycle_totals_of_a_real_machine() -> None:
    """3, 3 and 6 bus clocks: 360, 360 and 720 ns at 8.33 MHz (82C836 data sheet, table 11-1).

    Source: 82C836 data sheet, revision 3.0, table 11-1.
    """
    bench = Bench.of(
        load_rulebook(),
        {"logic": "logic-hybrid-386-486"},
        {"host_clock": "100/3 MHz", "isa_source": "clk2", "isa_divider": 8, "cpu.clk2_input": True},
    )
    times = {kind: bench.number(f"isa_{kind}_time", "ns") for kind in ("mem16", "io16", "mem8", "io8")}

    assert times == {"mem16": 360, "io16": 360, "mem8": 720, "io8": 720}


# ---------------------------------------------------------------------------------------- DMA


@pytest.mark.parametrize("part", ["dma-8237a-5", "dma-82c37a-8", "dma-82c37a-12"])
def test_dma_rating_at_every_clock(part: str) -> None:
    """The controller's clock, full or half the bus clock, holds exactly up to its rating.

    Source: 8237A-5: 5 MHz (order 231466-005); 82C37A: 8 and 12.5 MHz (data sheet, 1997).
    """
    rating = {"dma-8237a-5": Fraction(5), "dma-82c37a-8": Fraction(8), "dma-82c37a-12": Fraction(25, 2)}[part]
    stand = Stand(OLD, board=partial(soldered, parts={"dma": part}), only=("dma.clock",))
    seen = set()
    for host, clock, dma in product(HOSTS, ("fixed", *ISA_DIVIDERS), ("half", "full")):
        found = stand.judged(host_clock=host, isa_clock=clock, dma_clock=dma)
        wanted = isa_clock(host, clock) / (2 if dma == "half" else 1) <= rating
        assert holds(found, "dma.clock") is wanted, (host, clock, dma)
        seen.add(wanted)

    assert seen == {True, False}


FLOPPY = {
    # threshold x 8 / rate - 1.5 us: FDC37C67x data sheet, p. 26, table 14.
    "floppy-fdc37c67x": Fraction(1 * 8, 500) * 1000 - Fraction(3, 2),
    "floppy-fdc37c67x-fifo-2": Fraction(2 * 8, 500) * 1000 - Fraction(3, 2),
    "floppy-fdc37c67x-fifo-8": Fraction(8 * 8, 500) * 1000 - Fraction(3, 2),
    "floppy-fdc37c67x-fifo-15": Fraction(15 * 8, 500) * 1000 - Fraction(3, 2),
    # (threshold + 1) x 8 x data period - 16 x clock period: PC8477B data sheet, table 6-1.
    "floppy-pc8477": Fraction((0 + 1) * 8 * 2000 - 16 * 125, 1000),
    # 8272A data sheet, 500 kb/s, from memory.
    "floppy-8272a": Fraction(13),
}
"""Longest wait in us at 500 kb/s, by the formulas of the data sheets."""


@pytest.mark.parametrize("part", FLOPPY)
def test_floppy_service_at_every_clock(part: str) -> None:
    """A request waits for a refresh, a split 8-bit access and another channel's transfer; verdicts agree.

    Source: DMA transfer of a 8237A-5: three states and one wait (82C836 data sheet, revision 3.0, p. 11-22).
    """
    refresh = Fraction(500)  # ns at least while the CPU is held: 85C471 data sheet, p. 11
    board = partial(soldered, parts={"dma": "dma-8237a-5"})
    stand = Stand(OLD, {"floppy": part}, board=board, only=("dma.floppy",))
    for host, clock, dma, waits in product(HOSTS, ("fixed", *ISA_DIVIDERS), ("half", "full"), "63"):
        found = stand.judged(host_clock=host, isa_clock=clock, dma_clock=dma, isa_8bit=waits)
        period = 1000 / isa_clock(host, clock)
        transfer = (3 + 1) * period * (2 if dma == "half" else 1)
        half, tick = 500 / HOSTS[host], 1000 / Fraction("14.31818")
        # 82C836 data sheet, table 11-2, as rules/facts/refresh.toml reads it.
        parts = (Fraction("1.75") * tick, 4 * tick, Fraction(53))
        bus = (7 + sum(ceil(part / half) for part in parts)) * half
        busy = max(refresh, (1 + 3 + 4) * 2 * half, bus)
        waited = busy + 2 * (2 + int(waits)) * period + 2 * transfer
        assert left(found, "dma.floppy") == 1000 * FLOPPY[part] - waited
        assert holds(found, "dma.floppy") is (waited <= 1000 * FLOPPY[part])


def test_a_byte_late_at_two_megabits() -> None:
    """At 2 Mb/s without FIFO, 2.5 us, no clock of this board serves in time (FDC37C67x, table 14).

    Source: FDC37C67x data sheet, p. 26, table 14.
    """
    bench = Bench.of(
        load_rulebook(),
        {"floppy": "floppy-fdc37c67x", "dma": "dma-8237a-5"},
        {"host_clock": "100/3 MHz", "isa_clock": "25/3 MHz", "floppy.service": "2.5 us"},
    )

    assert not bench.holds("dma.floppy")
    assert bench.given(**{"floppy.service": "6.5 us"}).holds("dma.floppy")


# ---------------------------------------------------------------------------------- local bus

FIRST = {"25": 3, "33": 3, "40": 1, "50": 0}
SECOND = {"25": 3, "33": 3, "40": 2, "50": 1}
"""Cards by clock, both revisions of the standard: published almanac; loading advice: one card at 40, none at
50; second revision from memory with medium confidence."""


@pytest.mark.parametrize("clock", FIRST)
@pytest.mark.parametrize("cards", [0, 1, 2])
def test_local_bus_slot_table_in_a_real_machine(clock: str, cards: int) -> None:
    """Two slots, none to two cards: each revision's verdict is the table's; only the second decides.

    Source: published almanac of the local bus and loading advice; second revision from memory with medium
    confidence.
    """
    taken = [
        {"local-1": "none", "local-2": "none", "drive-local": "none"},
        {"local-2": "none", "drive-local": "none"},
        {},
    ]
    found = Stand(NEW, taken[cards], only=("local-bus.",)).judged(host_clock=clock)

    if not cards:
        assert "local-bus.loads" not in found and "local-bus.slots.first" not in found
        return
    assert holds(found, "local-bus.loads") is (cards <= SECOND[clock])
    assert holds(found, "local-bus.slots.first") is (cards <= FIRST[clock])
    assert found["local-bus.slots.first"].bound.rule.advisory
    assert not found["local-bus.loads"].bound.rule.advisory


@pytest.mark.parametrize("cpu", ["486dx-33", "486dx-50", "386dx-33"])
@pytest.mark.parametrize("clock", FIRST)
def test_claim_and_ready_windows(cpu: str, clock: str) -> None:
    """Claim 20 ns after the address, ready 18 ns after the clock; publication 21028, table 39.

    Source: SC400/SC410 data sheet, publication 21028, table 39.
    """
    period = 1000 / HOSTS[clock]
    valid, setup = {"486dx-33": (16, 5), "486dx-50": (12, 5), "386dx-33": (15, 7)}[cpu]
    stand = Stand(NEW, {"cpu": cpu}, only=("local-bus.",))
    for looked, ready in product("12", ("straight", "resynchronised")):
        found = stand.judged(host_clock=clock, local_claim=looked, local_ready=ready)
        assert left(found, "local-bus.claim@local-1") == int(looked) * period - valid - 20 - 8
        other = {"straight": "logic", "resynchronised": "cpu"}[ready]
        rule = {"straight": "cpu", "resynchronised": "logic"}[ready]
        wanted = period - 18 - (setup if ready == "straight" else 7)
        assert left(found, f"local-bus.ready.{rule}@local-1") == wanted
        assert f"local-bus.ready.{other}@local-1" not in found


# --------------------------------------------------------------------------- CLK2, ready, PCI

CLK2_PERIOD = {
    "386sx-16": "31", "386sx-20": "25", "386sx-25": "20", "386sx-33": "15", "386sx-40": "12.5",
    "386dx-16": "31", "386dx-20": "25", "386dx-25": "20", "386dx-33": "15", "386dx-40": "12.5",
}  # fmt: skip
"""Shortest CLK2 period in ns: Intel386 SX data sheet 240187-008, tables 7.5 and 7.7; publication 21020,
p. 17; 386DX from memory."""


@pytest.mark.parametrize("cpu", CLK2_PERIOD)
def test_a_386_holds_exactly_down_to_its_published_clk2_period(cpu: str) -> None:
    """Of the usual oscillators the CPU takes exactly those whose period it is published for.

    Source: Intel386 SX data sheet 240187-008, tables 7.5 and 7.7; publication 21020, p. 17; 386DX from
    memory.
    """
    taken = set()
    for oscillator in ("32", "40", "50", "200/3", "80", "100"):
        host = Fraction(oscillator) / 2
        bench = Bench.of(load_rulebook(), {"cpu": cpu}, {"host_clock": f"{host} MHz"})
        period = Fraction(1000) / bench.number("clk2_clock", "MHz")
        assert period == 500 / host
        wanted = period >= Fraction(CLK2_PERIOD[cpu])
        assert bench.holds("cpu.host-clock") is wanted
        taken.add(wanted)

    assert taken == {True, False}


@pytest.mark.parametrize("generator", ["50", "66", "80", "100"])
@pytest.mark.parametrize("host", HOSTS)
def test_a_386_needs_a_generator_for_twice_its_clock(generator: str, host: str) -> None:
    """80 MHz for a 40 MHz 386, 40 for a 40 MHz 486, through the packed machine.

    Source: common practice, no source.
    """
    top = {"50": Fraction(50), "66": Fraction(200, 3), "80": Fraction(80), "100": Fraction(100)}[generator]
    for cpu, factor in (("386dx-40", 2), ("486dx-50", 1)):
        parts = {"cpu": cpu, "clock-generator": f"clockgen-{generator}"}
        found = Stand(OLD, parts, only=("cpu.",)).judged(host_clock=host)
        assert holds(found, "cpu.clock-generator") is (factor * HOSTS[host] <= top)


@pytest.mark.parametrize(("divider", "clock"), list(product(("1", "3/2", "2"), ("25", "100/3", "40", "50"))))
def test_pci_path_and_clock(divider: str, clock: str) -> None:
    """11 + 10 + 2 + 7 ns fill one clock of 33.3 MHz; faster ones fall short (from memory).

    Source: PCI 33 MHz timing, from memory with high confidence.
    """
    pci = Fraction(clock) / Fraction(divider)
    bench = Bench.of(
        load_rulebook(),
        {"card": "display-pci-70"},
        {"host_clock": f"{clock} MHz", "pci_divider": Fraction(divider)},
    )

    assert bench.margin("pci.path") == 1000 / pci - 30
    assert bench.holds("pci.path") is bench.holds("pci.clock") is (pci <= Fraction(100, 3))

"""Rules of later 486 boards: EDO steps, dirty RAM, PCI and the ISA clock behind it, straps and snooping."""

from __future__ import annotations

from fractions import Fraction

import pytest

from .bench import Bench, BenchMaker, Given


def edo_board(bench: BenchMaker, **facts: Given) -> Bench:
    """A 486 with 60 ns EDO modules on late logic, page hits of one clock before CAS."""
    parts = {"cpu": "486dx4-100", "logic": "logic-486-pci-late", "dram": "edo-60"}
    return bench(parts, {"host_clock": "100/3 MHz", "memory.edo_only": True, **facts})


def test_edo_gives_a_shorter_cas_the_same_time_for_data(bench: BenchMaker) -> None:
    """CAS of 28.5 ns and 14.25 ns of precharge leave EDO data the 42.75 ns of a fast-page CAS.

    Source: SC400/SC410 data sheet, publication 21028, table 37: fastest steps for 70 ns parts.
    """
    period: dict[str, Given] = {"host_clock": "2000/57 MHz", "dram_cas_precharge_clocks": Fraction(1, 2)}
    edo = edo_board(bench, dram_edo_mode=True, dram_cas_read_clocks=1, **period)
    fast_page = edo_board(bench, dram_edo_mode=False, dram_cas_read_clocks=Fraction(3, 2), **period)

    assert edo.number("host_period", "ns") == Fraction(57, 2)
    assert edo.available("dram.cas.width.read") == Fraction(57, 2)
    assert edo.available("dram.read.cas") == fast_page.available("dram.read.cas") == Fraction(171, 4)
    assert fast_page.available("dram.read.next.cycle") == 57
    assert edo.available("dram.read.next.cycle") == Fraction(171, 4)


@pytest.mark.parametrize("precharge", [Fraction(1, 2), 1, 2])
def test_edo_data_come_one_precharge_later_and_have_that_time(bench: BenchMaker, precharge: Given) -> None:
    """In EDO mode a read takes one CAS precharge more, and so has every path to its data; beats do not grow.

    Source: KM48C8004B data sheet: data stand until CAS falls again.
    """
    steps: dict[str, Given] = {
        "dram_cas_precharge_clocks": precharge,
        "dram_cas_read_clocks": 2,
        "dram_row_to_column_clocks": 2,
        "dram_precharge_clocks": 3,
    }
    edo, fast_page = (edo_board(bench, dram_edo_mode=mode, **steps) for mode in (True, False))
    later = edo.number("dram_cas_precharge_clocks", "clocks") * edo.number("host_period", "ns")

    for fact in (
        "dram_hit_read_clocks",
        "dram_row_read_clocks",
        "dram_miss_read_clocks",
        "dram_line_hit_clocks",
    ):
        assert edo.number(fact, "clocks") - fast_page.number(fact, "clocks") == precharge
    assert edo.number("dram_beat_clocks", "clocks") == fast_page.number("dram_beat_clocks", "clocks")
    for path in (
        "dram.read.cas",
        "dram.read.column",
        "dram.read.next.precharge",
        "dram.read.next.column",
        "dram.row.access",
        "dram.row.column",
    ):
        assert edo.available(path) - fast_page.available(path) == later, path


def test_edo_timing_needs_edo_everywhere(bench: BenchMaker) -> None:
    """One module that lets go of its data with CAS forbids EDO timing.

    Source: M5M416160C data sheet, pp. 6-9: output off after CAS.
    """
    board = edo_board(bench, dram_edo_mode=True)

    assert board.holds("memory.edo.parts")
    assert not board.given(**{"memory.edo_only": False}).holds("memory.edo.parts")


@pytest.mark.parametrize(("bits", "chip", "kept"), [(7, False, True), (8, True, True), (8, False, False)])
def test_where_the_dirty_bit_is_kept(bench: BenchMaker, bits: int, chip: bool, kept: bool) -> None:
    """Write-back takes seven tag bits and the eighth for the mark, or eight and a chip of its own.

    Source: 85C471 data sheet, preliminary V6.0, pp. 8-9.
    """
    board = bench(
        {"cpu": "486dx2-66", "logic": "85c471", "l2.data": "sram-32kx8-15", "l2.tag": "sram-16kx8-15"},
        {"l2.banks": 2, "l2_write_back": True, "l2_tag_bits": bits, "l2.dirty.present": chip},
    )

    if bits == 8:
        assert board.holds("l2.dirty.place") is kept
    else:
        assert not board.applies("l2.dirty.place")
    assert board.applies("l2.write.dirty.chip") is (chip and bits == 8)
    assert board.applies("l2.write.dirty") is not (chip and bits == 8)


@pytest.mark.parametrize(
    ("chip", "size", "kept"), [("sram-64kx1-20", 256, True), ("sram-64kx1-20", 2048, False)]
)
def test_dirty_ram_has_a_bit_for_each_line(bench: BenchMaker, chip: str, size: int, kept: bool) -> None:
    """64K bits serve caches of up to 64K lines of 16 bytes, 1 MB.

    Source: 85C471 data sheet, preliminary V6.0, pp. 8-9: lines of 16 bytes; arithmetic.
    """
    board = bench(
        {"cpu": "486dx2-66", "l2.dirty": chip},
        {"l2.banks": 2, "l2.size": f"{size} KB", "l2_write_back": True, "l2_tag_bits": 8},
    )

    assert board.holds("l2.dirty.size") is kept


@pytest.mark.parametrize(
    ("host", "divider", "kept"),
    [
        ("25", 1, True),
        ("100/3", 1, True),
        ("40", 1, False),
        ("40", 2, True),
        ("50", "3/2", True),
        ("50", 1, False),
    ],
)
def test_pci_runs_at_a_third_of_a_hundred_at_most(
    bench: BenchMaker, host: str, divider: Given, kept: bool
) -> None:
    """PCI of the board holds up to 33 1/3 MHz, which two thirds of 50 MHz just are.

    Source: PCI 33 MHz timing, from memory with high confidence.
    """
    facts: dict[str, Given] = {
        "host_clock": f"{host} MHz",
        "pci_divider": Fraction(divider) if isinstance(divider, str) else divider,
        "pci.cards": 1,
        "disk.bus": "none",
    }

    assert bench({"logic": "logic-486-pci"}, facts).holds("pci.clock.bridge") is kept


@pytest.mark.parametrize(("host", "divider"), [("100/3", 4), ("25", 3)])
def test_isa_clock_behind_a_bridge(bench: BenchMaker, host: str, divider: int) -> None:
    """A bridge divides 33 and 25 MHz to an ISA clock between 8.25 and 8.33 MHz.

    Source: 82375EB data sheet, p. 114.
    """
    board = bench(
        {}, {"host_clock": f"{host} MHz", "pci_divider": 1, "isa_source": "pci", "isa_divider": divider}
    )

    assert Fraction(33, 4) <= board.number("isa_clock", "MHz") <= Fraction(25, 3)


@pytest.mark.parametrize(("clock", "applies"), [("100/3", False), ("40", True), ("50", True)])
def test_local_bus_cards_are_told_of_a_fast_clock(bench: BenchMaker, clock: str, applies: bool) -> None:
    """Above 33 1/3 MHz, and only there, the slots must say so; boards without a strap say it by themselves.

    Source: local-bus identification pins, from memory with medium confidence.
    """
    board = bench({}, {"host_clock": f"{clock} MHz", "vl.slots_used": 1})

    assert board.applies("local-bus.strap") is applies
    if applies:
        assert board.holds("local-bus.strap")
        assert not board.given(vl_fast_strap=False).holds("local-bus.strap")


def test_a_write_back_cpu_is_asked_before_others_read(bench: BenchMaker) -> None:
    """On-chip write-back needs a board that looks into the CPU's cache; write-through does not.

    Source: common practice.
    """
    board = bench({"cpu": "5x86-133"}, {"cpu_cache_write_back": True})

    assert board.holds("cpu.cache.snoop")
    assert not board.given(dma_snoop=False).holds("cpu.cache.snoop")
    assert not board.given(cpu_cache_write_back=False).applies("cpu.cache.snoop")

"""Cache budgets against data sheet windows and the tag RAM grades that one maker publishes."""

from __future__ import annotations

from fractions import Fraction

import pytest

from waitwright.units import Exact

from .bench import Bench, BenchMaker, Given

GRADES = (12, 15, 20, 25, 35, 45)
"""Grades of static RAM in ns, as sold."""
CLOCKS = {"16": "16 MHz", "20": "20 MHz", "25": "25 MHz", "33": "100/3 MHz", "40": "40 MHz", "50": "50 MHz"}


def cached(bench: BenchMaker, cpu: str, grade: str, **facts: Given) -> Bench:
    """A CPU with one bank of cache on 85C471 logic, without buffers."""
    settings: dict[str, Given] = {
        "host_clock": CLOCKS[grade],
        "l2.banks": 1,
        "l2_read_first_clocks": 2,
        "l2_read_next_clocks": 1,
        "l2_write_clocks": 2,
    }
    return bench({"cpu": f"{cpu}-{grade}", "logic": "85c471"}, {**settings, **facts})


@pytest.mark.parametrize(
    ("grade", "window", "with_wait"),
    [("16", 80, "142.5"), ("20", 61, "111"), ("25", 56, "96"), ("33", 40, "70"), ("40", 33, "58")],
)
def test_address_to_data_window_of_a_386sx(
    bench: BenchMaker, grade: str, window: Exact, with_wait: str
) -> None:
    """Four CLK2 less t6 and t21; a wait state or pipelining adds two CLK2.

    Source: Intel386 SX data sheet 240187-008, tables 7.5 and 7.7; 386SX/SXL/SXLV data sheet, publication
    21020, p. 17; windows derived.
    """
    board = cached(bench, "386sx", grade)
    rule, access = "l2.read.first.data", "l2.data.access"

    assert board.margin(rule, without=access) == window
    assert board.given(l2_read_first_clocks=3).margin(rule, without=access) == Fraction(with_wait)
    assert board.given(cpu_pipelined=True).margin(rule, without=access) == Fraction(with_wait)


@pytest.mark.parametrize(("grade", "window"), [("16", 78), ("20", 59), ("25", 52), ("33", 40)])
def test_address_to_data_window_of_a_386dx(bench: BenchMaker, grade: str, window: Exact) -> None:
    """The 386DX table leaves 78, 59, 52 and 40 ns.

    Source: 386DX bus table from memory, its 20 MHz column as in Intel386 DX Hardware Reference Manual, order
    231732, p. 114; windows derived.
    """
    assert cached(bench, "386dx", grade).margin("l2.read.first.data", without="l2.data.access") == window


@pytest.mark.parametrize("grade", ["20", "25"])
def test_35_ns_cache_chips_serve_a_386dx_to_25_mhz(bench: BenchMaker, grade: str) -> None:
    """The common 35 ns chips fit the window at 20 and 25 MHz with two fast buffers in the way.

    Source: 386DX bus table from memory; 35 ns chips at 20 MHz: common practice.
    """
    buffers: dict[str, Given] = {
        "abuf.present": True,
        "abuf.delay_max": "7 ns",
        "dbuf.present": True,
        "dbuf.delay_max": "7 ns",
    }
    board = cached(bench, "386dx", grade, **buffers, **{"l2.data.access": "35 ns"})

    assert board.holds("l2.read.first.data")


@pytest.mark.parametrize(("grade", "window"), [("25", 56), ("33", 39), ("50", 23)])
def test_first_word_window_of_a_486(bench: BenchMaker, grade: str, window: Exact) -> None:
    """Two clocks less address valid and setup leave 56, 39 and 23 ns.

    Source: 486 bus table from memory; windows derived.
    """
    assert cached(bench, "486dx", grade).margin("l2.read.first.data", without="l2.data.access") == window


def test_burst_beat_window_of_a_486(bench: BenchMaker) -> None:
    """A beat is one clock less setup and the delay of the burst address.

    Source: 486 bus table from memory; cache address: 85C471 data sheet, preliminary V6.0, pp. 66-67.
    """
    board = cached(bench, "486dx", "33", **{"logic.cache_address_max": "14 ns"})

    assert board.margin("l2.read.next.data", without="l2.data.access") == 30 - 5 - 14


def test_a_second_bank_doubles_the_address_time_of_a_beat(bench: BenchMaker) -> None:
    """Interleaved banks have two beats for the address and one for the output enable.

    Source: 85C471 data sheet, preliminary V6.0, p. 67.
    """
    one = cached(bench, "486dx", "33")
    two = one.given(**{"l2.banks": 2})

    gained = two.available("l2.read.next.data") - one.available("l2.read.next.data")
    assert gained == 30
    assert two.margin("l2.read.next.enable", without="l2.data.output_enable") == 30 - 13 - 5
    assert not one.applies("l2.read.next.enable")


def tag_grade(bench: BenchMaker, grade: str, first: int, write: int) -> int | None:
    """Slowest tag RAM grade with which reads of *first* and writes of *write* clocks hold."""
    board = cached(bench, "486dx", grade, l2_read_first_clocks=first, l2_write_clocks=write)
    rules = ("l2.read.tag", "l2.write.tag")
    fitting = [
        tag
        for tag in GRADES
        if all(board.given(**{"l2.tag.access": f"{tag} ns"}).holds(rule) for rule in rules)
    ]
    return max(fitting, default=None)


@pytest.mark.parametrize(
    ("first", "write", "grade", "published"),
    [
        (2, 2, "25", 25),
        (2, 2, "33", 20),
        (2, 2, "40", 12),
        (2, 3, "25", 35),
        (2, 3, "33", 25),
        (2, 3, "40", 15),
        (3, 3, "25", 45),
        (3, 3, "33", 35),
        (3, 3, "40", 25),
        (3, 3, "50", 20),
    ],
)
def test_tag_ram_grades(bench: BenchMaker, first: int, write: int, grade: str, published: int) -> None:
    """The verdict flips within one listed grade of the published one.

    Source: 85C471 data sheet, preliminary V6.0, p. 10.
    """
    found = tag_grade(bench, grade, first, write)

    assert found is not None
    assert abs(GRADES.index(found) - GRADES.index(published)) <= 1


@pytest.mark.parametrize(("first", "write"), [(2, 2), (2, 3)])
def test_no_tag_ram_grade_serves_two_clocks_at_50_mhz(bench: BenchMaker, first: int, write: int) -> None:
    """Where the published table has a dash, no grade holds.

    Source: 85C471 data sheet, preliminary V6.0, p. 10.
    """
    assert tag_grade(bench, "50", first, write) is None


@pytest.mark.parametrize(("first", "rest", "total"), [(2, 1, 5), (3, 2, 9), (6, 5, 21)])
def test_line_fill_totals(bench: BenchMaker, first: int, rest: int, total: int) -> None:
    """2-1-1-1 takes 5 clocks, 3-2-2-2 takes 9, 6-5-5-5 takes 21.

    Source: 85C471 data sheet, preliminary V6.0, p. 8.
    """
    board = cached(bench, "486dx", "33", l2_read_first_clocks=first, l2_read_next_clocks=rest)

    assert board.number("l2_line_fill_clocks", "clocks") == total


@pytest.mark.parametrize(
    ("size", "separate", "shared"),
    [(32, 8, 4), (64, 16, 8), (128, 32, 16), (256, 64, 32), (512, 128, 64), (1024, 256, 128)],
)
def test_cacheable_range(bench: BenchMaker, size: int, separate: int, shared: int) -> None:
    """Cache size times two to the tag bits, one bit lost to a shared dirty bit.

    Source: 85C471 data sheet, preliminary V6.0, pp. 8-9.

    With 1 MB and 8 bits the table says 128 MB, the chip's own limit, which is another rule and test.
    """
    board = cached(bench, "486dx", "33", **{"l2.size": f"{size} KB"})

    assert board.given(l2_tag_bits=8).rating("l2.range.tag") == separate
    assert board.given(l2_tag_bits=7).rating("l2.range.tag") == shared


@pytest.mark.parametrize("bits", range(7, 17))
def test_every_tag_width_doubles_the_range(bench: BenchMaker, bits: int) -> None:
    """The range is two to the tag bits for every width that may be set.

    Source: 85C471 data sheet, preliminary V6.0, pp. 8-9.
    """
    board = cached(bench, "486dx", "33", **{"l2.size": "64 KB"}, l2_tag_bits=bits)

    assert board.number("l2_tag_range", "KB") == 64 * 2**bits


def test_cacheable_range_is_capped_by_the_logic(bench: BenchMaker) -> None:
    """1 MB of cache reaches 256 MB by its tags and 128 MB by its chip.

    Source: 85C471 data sheet, preliminary V6.0, pp. 8-9.
    """
    board = cached(bench, "486dx", "33", **{"l2.size": "1024 KB", "memory.size": "256 MB"})

    assert board.holds("l2.range.tag")
    assert not board.holds("l2.range.logic")
    assert board.rating("l2.range.logic") == 128


@pytest.mark.parametrize(
    ("size", "tag"),
    [
        (32, "sram-2kx8-20"),
        (64, "sram-4kx8-20"),
        (128, "sram-8kx8-20"),
        (256, "sram-16kx8-20"),
        (512, "sram-32kx8-20"),
    ],
)
def test_tag_ram_size(bench: BenchMaker, size: int, tag: str) -> None:
    """Tag RAM of the published size is enough, and not for twice the cache.

    Source: 85C471 data sheet, preliminary V6.0, pp. 8-9.
    """
    parts = {"cpu": "486dx-33", "l2.tag": tag}
    facts: dict[str, Given] = {"host_clock": "33 MHz", "l2.banks": 1}

    assert bench(parts, {**facts, "l2.size": f"{size} KB"}).holds("l2.tag.size")
    assert not bench(parts, {**facts, "l2.size": f"{2 * size} KB"}).holds("l2.tag.size")

"""Clocks, ready paths, local bus, PCI and supplies against published figures and common practice."""

from __future__ import annotations

from fractions import Fraction

import pytest

from waitwright.units import Exact

from .bench import Bench, BenchMaker, Given

HOST = {"25": "25 MHz", "33": "100/3 MHz", "40": "40 MHz", "50": "50 MHz"}


def with_cpu(bench: BenchMaker, cpu: str, **facts: Given) -> Bench:
    """A CPU at the clock of its grade."""
    return bench({"cpu": cpu}, {"host_clock": "25 MHz", **facts})


@pytest.mark.parametrize(("host", "clk2"), [("25 MHz", 50), ("100/3 MHz", Fraction(200, 3)), ("40 MHz", 80)])
def test_a_386_needs_twice_its_clock(bench: BenchMaker, host: str, clk2: Exact) -> None:
    """CLK2 of a 386-class part is 50, 66.7 and 80 MHz; a 486-class part takes its own clock.

    Source: Intel386 SX data sheet 240187-008, tables 7.5 and 7.7; 486: from memory.
    """
    assert with_cpu(bench, "386dx-33", host_clock=host).number("clk2_clock", "MHz") == clk2
    assert with_cpu(bench, "486dx-33", host_clock=host).number("clk2_clock", "MHz") == Fraction(clk2) / 2


@pytest.mark.parametrize(
    ("cpu", "host", "core"),
    [
        ("486dx2-66", "33", Fraction(200, 3)),
        ("486dx4-100", "33", 100),
        ("5x86-133", "33", Fraction(400, 3)),
        ("486dx-50", "50", 50),
        ("386dx-double-66", "33", Fraction(200, 3)),
    ],
)
def test_multiplied_parts_multiply_inside(bench: BenchMaker, cpu: str, host: str, core: Exact) -> None:
    """33 MHz outside is 66 inside a doubled, 100 in a tripled, 133 in a quadrupled part.

    Source: Multipliers from memory with high confidence.
    """
    assert with_cpu(bench, cpu, host_clock=HOST[host]).number("core_clock", "MHz") == core


@pytest.mark.parametrize(
    ("host", "divider", "exact", "trade"),
    [
        ("100/3 MHz", 6, Fraction(100, 9), 11),
        ("100/3 MHz", 5, Fraction(40, 3), Fraction("13.2")),
        ("100/3 MHz", 4, Fraction(50, 3), Fraction("16.5")),
        ("40 MHz", 4, 20, 20),
    ],
)
def test_isa_clock_from_clk2(bench: BenchMaker, host: str, divider: int, exact: Exact, trade: Exact) -> None:
    """66.7 MHz over 6, 5, 4 is what the trade calls 11, 13.2 and 16.5 MHz; 80/4 is 20 (common practice).

    Source: common practice, no source.
    """
    board = with_cpu(bench, "386dx-40", host_clock=host, isa_source="clk2", isa_divider=divider)

    assert board.number("isa_clock", "MHz") == exact
    assert float(exact) == pytest.approx(float(trade), rel=0.011)


@pytest.mark.parametrize(
    ("host", "divider", "clock"), [("33", 4, "8.33"), ("25", 3, "8.33"), ("40", 5, "8.0"), ("50", 6, "8.33")]
)
def test_isa_clock_from_the_host_clock(bench: BenchMaker, host: str, divider: int, clock: str) -> None:
    """33.3/4, 25/3, 40/5 and 50/6 stay within the nominal 8.33 MHz.

    Source: Dividers of 85C471 data sheet, preliminary V6.0, p. 33; nominal limit: common practice.
    """
    board = bench({}, {"host_clock": HOST[host], "isa_source": "host", "isa_divider": divider})

    assert float(board.number("isa_clock", "MHz")) == pytest.approx(float(clock), abs=0.004)
    assert board.holds("isa.clock.nominal")


def test_fixed_isa_clock(bench: BenchMaker) -> None:
    """14.31818 MHz over 2 is 7.159 MHz.

    Source: 85C471 data sheet, preliminary V6.0, p. 33.
    """
    board = bench({}, {"host_clock": "33 MHz"})

    assert float(board.number("isa_clock", "MHz")) == pytest.approx(7.159, abs=0.0005)


def test_a_generator_to_66_mhz_runs_a_486_at_40_and_no_386(bench: BenchMaker) -> None:
    """A 386 at 40 MHz needs 80 MHz from its generator, a 486 only 40 (common practice).

    Source: common practice, no source.
    """
    for cpu, holds in (("486dx-40", True), ("386dx-40", False)):
        board = bench({"cpu": cpu, "clockgen": "clockgen-66"}, {"host_clock": "40 MHz"})
        assert board.holds("cpu.clock-generator") is holds
    at_33 = bench({"cpu": "386dx-33", "clockgen": "clockgen-66"}, {"host_clock": "100/3 MHz"})
    assert at_33.holds("cpu.clock-generator")


# ----------------------------------------------------------------------------------- ready paths


@pytest.mark.parametrize(("grade", "valid_before"), [("16", 31), ("20", 24)])
def test_ready_margin_of_published_logic(bench: BenchMaker, grade: str, valid_before: int) -> None:
    """82335: ready 31 and 24 ns before CLK2, needed 19 and 12: 12 ns in hand.

    Source: 82335 data sheet, order 240590-002, pp. 1-116 to 1-118; Intel386 SX data sheet 240187-008, table
    7.5.
    """
    board = bench({"cpu": f"386sx-{grade}", "logic": f"82335-{grade}"}, {"host_clock": f"{grade} MHz"})

    assert board.margin("cpu.ready", without="cpu.ready_setup") == valid_before
    assert board.margin("cpu.ready") == 12


@pytest.mark.parametrize(("grade", "left"), [("16", "3.5"), ("20", "0"), ("25", "0")])
def test_ready_of_matched_logic_and_cpu(bench: BenchMaker, grade: str, left: str) -> None:
    """82C836 ready of 40, 38, 31 ns and 386SX setup of 19, 12, 9 ns fit one clock.

    Source: 82C836 data sheet, revision 3.0, tables 12-6 to 12-11; Intel386 SX data sheet 240187-008, tables
    7.5 and 7.7.
    """
    board = bench({"cpu": f"386sx-{grade}", "logic": f"82c836-{grade}"}, {"host_clock": f"{grade} MHz"})

    assert board.margin("cpu.ready") == Fraction(left)


# ------------------------------------------------------------------------------ local bus and PCI


@pytest.mark.parametrize(
    ("clock", "first", "second"), [("25", 3, 3), ("33", 3, 3), ("40", 1, 2), ("50", 0, 1)]
)
def test_local_bus_loads(bench: BenchMaker, clock: str, first: int, second: int) -> None:
    """Slots of the first and loads of the second revision by clock.

    Source: First revision: published almanac of the local bus and loading advice; second: from memory with
    medium confidence.
    """
    board = bench({}, {"host_clock": HOST[clock], "vl.loads": second, "vl.slots_used": 1})

    assert board.rating("local-bus.slots.first") == first
    assert board.rating("local-bus.loads") == second
    assert board.holds("local-bus.loads")
    assert not board.given(**{"vl.loads": second + 1}).holds("local-bus.loads")


def test_only_the_second_revision_decides(bench: BenchMaker) -> None:
    """Where the revisions disagree the older one is shown and decides nothing.

    Source: Published almanac of the local bus, both revisions.
    """
    limits = bench({}, {}).book.limits

    assert limits["local-bus.slots.first"].advisory
    assert not limits["local-bus.loads"].advisory


def test_local_bus_claim_and_ready_at_33_mhz(bench: BenchMaker) -> None:
    """Claim 20 after the address and setup 15, ready 18 and setup 12, fit 33 MHz.

    Source: SC400/SC410 data sheet, publication 21028, table 39.
    """
    board = bench(
        {"cpu": "486-embedded-33", "logic": "sc400-host", "card": "display-vl-70"},
        {"host_clock": "100/3 MHz", "card.vl_ready": "18 ns"},
    )

    assert board.margin("local-bus.claim") == 60 - 18 - 20 - 15
    assert board.margin("local-bus.ready.cpu") == 0
    assert board.given(vl_ready_delay_clocks=1).margin("local-bus.ready.logic") == 0


def test_pci_clock_is_filled_exactly(bench: BenchMaker) -> None:
    """11 + 10 + 2 + 7 = 30 ns, one clock of 33.3 MHz.

    Source: PCI 33 MHz timing, from memory with high confidence; 10 ns of propagation published.
    """
    board = bench({"card": "display-pci-60"}, {"host_clock": "100/3 MHz"})

    assert board.margin("pci.path") == 0


# --------------------------------------------------------------------------------------- supplies


@pytest.mark.parametrize(
    ("cpu", "volts", "fits"),
    [
        ("386sx-33", "4.5", True),
        ("386sx-40", "4.5", False),
        ("486dx-33", "5", True),
        ("486dx4-100", "3.3", True),
        ("486dx4-100", "5", False),
    ],
)
def test_supply_ratings(bench: BenchMaker, cpu: str, volts: str, fits: bool) -> None:
    """5 V +-10 % to 33 MHz, +-5 % at 40 MHz and for a 486, 3.3 V +-0.3 for a tripled one.

    Source: Intel386 SX data sheet 240187-008; 386SX/SXL/SXLV data sheet, publication 21020; 486: from memory.
    """
    board = with_cpu(bench, cpu, supply_voltage=f"{volts} V")

    assert (board.holds("cpu.supply.max") and board.holds("cpu.supply.min")) is fits


def test_a_low_voltage_part_at_5_v_raises_its_caution(bench: BenchMaker) -> None:
    """The caution about a wrong voltage shows exactly where the supply is too high."""
    caution = bench({}, {}).book.cautions["cpu-voltage"]

    assert caution.when is not None
    assert with_cpu(bench, "486dx4-100", supply_voltage="5 V").flag(caution.when)
    assert not with_cpu(bench, "486dx4-100", supply_voltage="3.3 V").flag(caution.when)

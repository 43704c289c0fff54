"""Refresh: cadence, width and the time it takes, against published figures."""

from __future__ import annotations

from fractions import Fraction

import pytest

from .bench import BenchMaker


@pytest.mark.parametrize("rows", ["256", "512", "1024", "2048", "4096"])
def test_every_refresh_class_has_15_625_us_for_a_row(bench: BenchMaker, rows: str) -> None:
    """4 ms/256, 8/512, 16/1024, 32/2048, 64/4096 are 15.625 us each.

    Source: MCM514256A, M5M416160C and other DRAM data sheets: rows and interval.
    """
    board = bench({"dram": f"refresh-{rows}"}, {})

    assert board.number("refresh_row_limit", "us") == Fraction("15.625")


@pytest.mark.parametrize(("rows", "period"), [("2048-slow", "62.5"), ("4096-slow", "31.25")])
def test_slow_refresh_classes(bench: BenchMaker, rows: str, period: str) -> None:
    """128 ms versions bear 62.5 us with 2048 rows and 31.25 us with 4096.

    Source: MT4C4M4 and M5M416160C data sheets, slow-refresh versions: 128 ms; arithmetic.
    """
    assert bench({"dram": f"refresh-{rows}"}, {}).number("refresh_row_limit", "us") == Fraction(period)


def test_the_timer_refreshes_every_15_0857_us(bench: BenchMaker) -> None:
    """18 ticks of the 1.193182 MHz timer are 15.0857 us, inside every class.

    Source: 82378ZB data sheet, p. 99; divisor 18: published port list of the PC.
    """
    board = bench({"dram": "refresh-1024"}, {})

    assert float(board.number("refresh_period", "us")) == pytest.approx(15.0857, abs=0.001)
    assert board.holds("refresh.cadence")


def test_quarter_rate_needs_slow_refresh_modules(bench: BenchMaker) -> None:
    """Four times the period breaks the normal classes and holds for 128 ms with 2048 rows.

    Source: 85C471 data sheet, preliminary V6.0, p. 12.
    """
    quarter = {"refresh_period": "60.34 us"}

    assert not bench({"dram": "refresh-1024"}, quarter).holds("refresh.cadence")
    assert bench({"dram": "refresh-2048-slow"}, quarter).holds("refresh.cadence")


@pytest.mark.parametrize(("clocks", "width"), [("1.5", 104), ("3", 210), ("4", 280), ("5", 350)])
def test_refresh_pulse_on_the_bus(bench: BenchMaker, clocks: str, width: int) -> None:
    """1.5, 3, 4 and 5 periods of 14.318 MHz are 104, 210, 280 and 350 ns.

    Source: 82C836 data sheet, revision 3.0, p. 10-2.
    """
    board = bench({}, {"refresh_bus_pulse_clocks": Fraction(clocks)})

    assert float(board.number("refresh_bus_pulse", "ns")) == pytest.approx(width, abs=1)


@pytest.mark.parametrize(("clock", "precharge", "total"), [(16, 2, 375), (20, 3, 350), (25, 3, 280)])
def test_refresh_without_the_bus(bench: BenchMaker, clock: int, precharge: int, total: int) -> None:
    """A refresh off the bus takes 12, 14 and 14 PROCCLK at 16, 20 and 25 MHz: 375, 350 and 280 ns.

    Source: 82C836 data sheet, revision 3.0, table 11-2. One clock of arbitration and three of RAS are our
    reading.
    """
    settings = {"refresh_precharge_clocks": precharge, "refresh_ras_clocks": 3, "refresh_hidden": True}

    assert bench({}, {"host_clock": f"{clock} MHz", **settings}).number("refresh_busy_time", "ns") == total


@pytest.mark.parametrize(
    ("clock", "parts", "total"), [(16, (4, 7, 2), 625), (20, (5, 9, 3), 600), (25, (7, 11, 3), 560)]
)
def test_refresh_with_the_bus(bench: BenchMaker, clock: int, parts: tuple[int, int, int], total: int) -> None:
    """A refresh on the bus takes 20, 24 and 28 PROCCLK at 16, 20 and 25 MHz: 625, 600 and 560 ns.

    Source: 82C836 data sheet, revision 3.0, table 11-2: 2 + 4 + 7 + 2 + 4 + 1, 2 + 5 + 9 + 3 + 4 + 1 and 2 +
    7 + 11 + 3 + 4 + 1 PROCCLK of 31.25, 25 and 20 ns, with a pulse of three periods of 14.318 MHz (p. 10-2).
    That the parts are address, command and hold is our reading.
    """
    board = bench({}, {"host_clock": f"{clock} MHz", "refresh_hidden": False, "refresh_bus_pulse_clocks": 3})

    assert 7 + sum(parts) == total * 2 * clock / 1000
    assert board.number("refresh_bus_time", "ns") == total
    assert board.number("refresh_busy_time", "ns") == total


def test_a_refresh_that_holds_the_cpu_takes_half_a_microsecond_at_least(bench: BenchMaker) -> None:
    """At least 0.5 us every 15 us is 3.3 % of all time or more, with the shortest pulse too.

    Source: 85C471 data sheet, preliminary V6.0, p. 11.
    """
    pulse = Fraction("1.5")
    board = bench({}, {"host_clock": "50 MHz", "refresh_ras_clocks": 3, "refresh_bus_pulse_clocks": pulse})

    assert board.number("refresh_busy_time", "ns") == 500
    assert float(board.number("refresh_share", "ratio")) == pytest.approx(0.033, abs=0.001)


@pytest.mark.parametrize(
    ("clock", "precharge", "ras"), [("25 MHz", 3, 3), ("100/3 MHz", 3, 4), ("40 MHz", 4, 4), ("50 MHz", 5, 5)]
)
def test_published_refresh_steps_hold_with_70_ns_modules(
    bench: BenchMaker, clock: str, precharge: int, ras: int
) -> None:
    """RAS precharge and width of the published steps serve 70 ns modules.

    Source: 85C471 data sheet, preliminary V6.0, pp. 11-12; M5M416160C data sheet (preliminary), pp. 6-9.
    """
    board = bench(
        {"cpu": "486dx-50", "logic": "85c471", "dram": "fpm-70"},
        {"host_clock": clock, "refresh_precharge_clocks": precharge, "refresh_ras_clocks": ras},
    )

    assert board.holds("refresh.ras")
    assert board.holds("refresh.precharge")


def test_hidden_refresh_is_refused_beside_a_dma_sound_card(bench: BenchMaker) -> None:
    """Published failure reports: data corrupted while DMA sound plays under hidden refresh.

    Source: Published failure reports.
    """
    board = bench({"card": "sound-isa16"}, {"refresh_hidden": True})

    assert not board.holds("refresh.hidden.dma-sound")
    assert not bench({"card": "serial-isa8"}, {"refresh_hidden": True}).applies("refresh.hidden.dma-sound")


def test_an_ordinary_share_of_refresh_keeps_the_advice(bench: BenchMaker) -> None:
    """About 5 % is ordinary: a 386SX at 16 MHz with the widest pulse keeps the advice, at 10 MHz no longer.

    Source: 82C836 data sheet, revision 3.0, p. 10-2 (pulses up to 350 ns) and table 11-2 (31.25 ns steps).
    """
    widest: dict[str, str | int] = {
        "refresh_hidden": False,
        "refresh_bus_pulse_clocks": 5,
        "refresh_period": "15 us",
    }
    sixteen, ten = (bench({}, {"host_clock": f"{clock} MHz", **widest}) for clock in (16, 10))

    assert float(sixteen.number("refresh_share", "percent")) == pytest.approx(5.2, abs=0.05)
    assert sixteen.holds("refresh.share")
    assert float(ten.number("refresh_share", "percent")) > 6
    assert not ten.holds("refresh.share")

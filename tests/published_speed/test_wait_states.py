"""Wait states against the published speed of 386DX and 486 systems."""

from __future__ import annotations

from dataclasses import replace

import pytest

from waitwright.machine import Machine
from waitwright.rulebook.domain import Workload

from .shop import BUS_EVENTS, PACKED, Shop, fact, one, rebuilt, slot_of, time

GOOD = {
    "cache-read": "3-1-1-1",
    "cache-write": "2",
    "row-open": "yes",
    "ras-to-cas": "2",
    "cas-read": "2",
    "ras-precharge": "3",
    "cas-precharge": "1",
    "memory-write": "2",
}
"""A 33 MHz board well set, writes going through to memory one by one."""


# ------------------------------------------------------------------------ 386DX, all accesses alike

# 386DX Hardware Reference Manual, order 231732, table 4-2: speed relative to 33 MHz, no wait states, no
# pipelining.  How the table is read: a pipelined system with N wait states takes 2 + N clocks when the
# address was put out early, and one more for an access out of an idle bus; the table then tells that four
# accesses in ten are such (0.91 lies between no wait state, 1.00, and one on every access, 0.81).  The two
# entries for three wait states stand for an unpipelined system.
TABLE_4_2 = [
    (33, False, (1.00, 0.81, 0.66, 0.57)),
    (33, True, (0.91, 0.76, 0.63)),
    (25, False, (0.76, 0.61, 0.50, 0.43)),
    (25, True, (0.69, 0.56, 0.48)),
]
ENTRIES = [
    (clock, pipelined, waits, speed) for clock, pipelined, row in TABLE_4_2 for waits, speed in enumerate(row)
]


def memory_alike(shop: Shop, waits: int, *, pipelined: bool) -> Machine:
    """A 386DX without cache whose reads and writes all have the same number of wait states."""
    early = 1 if pipelined else 0
    return rebuilt(
        shop.machine("tollgate-386dx33"),
        {
            "cpu_pipelined": pipelined,
            "l2_enabled": False,
            "l2_write_back": False,
            "dram_page_mode": True,
            "dram_read_lead_clocks": 0,
            "dram_cas_precharge_clocks": 1,
            "dram_cas_read_clocks": 1 + waits + early,
            "dram_write_clocks": 2 + waits + early,
            "dram_row_to_column_clocks": 1,
            "dram_precharge_clocks": 1,
            "refresh_period": 512 * 10**6,
        },
        keep=["host-clock"],
        fit={"cache-0": None, "cache-1": None, "tag": None},
    )


def bare_build(shop: Shop) -> Workload:
    """The workload ``build`` on CPU and memory alone, every access in an open row."""
    none = ("display_words", "port_accesses", "a20_switches", "disk_words", "firmware_reads",
            "display_firmware_reads")  # fmt: skip
    return shop.work("build", page_hits="1", **dict.fromkeys(none, "0"))


@pytest.mark.parametrize(("clock", "pipelined", "waits", "speed"), ENTRIES)
def test_386dx_slows_down_with_wait_states_as_published(
    shop: Shop, clock: int, pipelined: bool, waits: int, speed: float
) -> None:
    """A 386DX has the published share of its best speed at each clock and wait state, within 5 %.

    Source: 386DX Hardware Reference Manual, order 231732, table 4-2.
    """
    work = bare_build(shop)
    best = time(memory_alike(shop, 0, pipelined=False), work, {"host-clock": "33"})
    here = time(memory_alike(shop, waits, pipelined=pipelined), work, {"host-clock": str(clock)})

    assert float(best / here) == pytest.approx(speed, rel=0.05)


def test_table_is_read_with_its_own_wait_states(shop: Shop) -> None:
    """The machines behind the table really take two clocks and the stated wait states for every access."""
    for waits in range(4):
        machine = memory_alike(shop, waits, pipelined=False)
        assert fact(machine, "dram_hit_read_clocks", "clocks") == 2 + waits
        assert fact(machine, "dram_hit_write_clocks", "clocks") == 2 + waits
    piped = memory_alike(shop, 1, pipelined=True)
    assert fact(piped, "dram_hit_read_clocks", "clocks") == 3
    assert piped.members["cpu"][0].facts["cpu.pipelining"] is True


# ------------------------------------------------------------------------------------------ 486


@pytest.mark.parametrize("work", ["integer", "build"])
@pytest.mark.parametrize(("quick", "slow"), [("2", "3"), ("3", "4")])
def test_486_loses_about_six_per_cent_with_each_write_wait_state(
    shop: Shop, work: str, quick: str, slow: str
) -> None:
    """Each wait state on every write costs a 486 its published 6 %, within two points.

    Source: Embedded Intel486 Processor Hardware Reference Manual, p. 5-5.
    """
    machine = shop.machine("tollgate-486dx2", "cpu=486dx-33")
    traits = shop.work(work)
    before = time(machine, traits, {**GOOD, "memory-write": quick}, events=BUS_EVENTS)
    after = time(machine, traits, {**GOOD, "memory-write": slow}, events=BUS_EVENTS)

    assert float(after / before - 1) == pytest.approx(0.06, abs=0.02)


@pytest.mark.parametrize("work", ["integer", "build"])
def test_486_takes_about_two_clocks_an_instruction(shop: Shop, work: str) -> None:
    """With the fastest settings by data sheet a 486 takes 1.8 to 2 clocks for an instruction.

    Source: Embedded Intel486 Processor Hardware Reference Manual, p. 9-1.
    """
    # Embedded Intel486 Processor Hardware Reference Manual, p. 9-1.  Display, ports, drive and firmware
    # are left out: waiting for them is no work of instructions.
    machine = shop.machine("tollgate-486dx2", "cpu=486dx-33")
    traits = shop.work(work)
    best = {str(option): str(choice) for option, choice in shop.best(machine, traits).items()}
    period = fact(machine, "core_period", "ps", best)
    clocks = time(machine, traits, best, events=BUS_EVENTS) / period / 1000

    assert 1.8 <= clocks <= 2.0


def test_486_takes_two_clocks_for_a_word_and_five_for_a_line(shop: Shop) -> None:
    """At best a 486 takes two clocks for a single access and five for a line of 16 bytes.

    Source: Embedded Intel486 Processor Hardware Reference Manual, p. 9-1.
    """
    # Embedded Intel486 Processor Hardware Reference Manual, p. 9-1; refresh kept out of it
    machine = shop.machine("tollgate-486dx2")
    best = {"cache-read": "2-1-1-1", "refresh-hidden": "on"}
    period = fact(machine, "host_period", "ns")
    uncached = rebuilt(machine, {"cpu_cache_enabled": False})

    assert fact(machine, "l2_read_time", "ns", best) == 5 * period
    assert fact(uncached, "l2_read_time", "ns", best) == 2 * period


def test_486_with_its_cache_off_pays_for_every_read(shop: Shop) -> None:
    """With its on-chip cache off a 486 needs more than half as much time again."""
    machine = shop.machine("tollgate-386dx33", "cpu=486dx-33")
    off = rebuilt(machine, {"cpu_cache_enabled": False})

    for work in map(shop.work, ("integer", "build", "game-3d")):
        assert time(off, work) > 1.5 * time(machine, work)


def test_write_back_spares_slow_memory(shop: Shop) -> None:
    """Where writes to memory wait, a write-back cache on the board is faster than a write-through one."""
    for machine in map(shop.machine, PACKED):
        for work in map(shop.work, ("integer", "build")):
            assert time(machine, work, {"cache-use": "back"}) < time(machine, work, {"cache-use": "through"})


def test_on_chip_write_back_spares_the_bus(shop: Shop) -> None:
    """A CPU that keeps writes to itself is faster on a board whose memory makes writes wait."""
    machine = shop.machine("tollgate-486dx2")
    socket = replace(slot_of(machine, "cpu"), accepts=())
    through, back = (
        rebuilt(machine, {"cpu_cache_write_back": kept}, slots=[socket], fit={"cpu": one("486dx4wb-100")})
        for kept in (False, True)
    )

    assert time(back, shop.work("build")) < time(through, shop.work("build"))


def test_upgrade_cpu_lies_between_386_and_486(shop: Shop) -> None:
    """A 486 core with 1 KB of cache in a 386 socket is faster than a 386DX and slower than a full 486."""
    plain, upgrade, full = (
        shop.machine("tollgate-386dx33", f"cpu={cpu}") for cpu in ("386dx-33", "386dx-cached-33", "486dx-33")
    )
    for work in map(shop.work, ("integer", "build", "desktop")):
        assert time(full, work) < time(upgrade, work) < time(plain, work)


def test_16_bit_bus_costs_a_386_its_second_halves(shop: Shop) -> None:
    """A 386SX is slower than a 386DX of its clock, most where reads fill the bus."""
    machine = shop.machine("tollgate-386dx33")
    socket = replace(slot_of(machine, "cpu"), accepts=())
    narrow = rebuilt(machine, {}, slots=[socket], fit={"cpu": one("386sx-33")})
    slower = {
        name: float(time(narrow, shop.work(name)) / time(machine, shop.work(name)))
        for name in ("integer", "build", "float")
    }

    assert 2 > slower["integer"] > slower["build"] > slower["float"] > 1

"""ISA, local bus, PCI, display, drives and firmware."""

from __future__ import annotations

from dataclasses import replace

import pytest

from waitwright.machine import Machine
from waitwright.units import to_base

from .shop import Shop, fact, one, rebuilt, slot_of, time, times

EIGHT_MHZ = {"host-clock": "20", "isa-clock": "clk2-5", "isa-memory": "1", "isa-io": "1"}
"""CLK2 / 5 at 20 MHz: an ISA bus of 8 MHz with its usual waits."""

ISA_CLOCKS = ("fixed", "clk2-8", "clk2-6", "clk2-5", "clk2-4")

LOCAL_DISPLAY = ("isa-2=none", "local-1=display-vl-70")


# ------------------------------------------------------------------------------------------- ISA


def test_16_bit_isa_transfer_takes_three_clocks(shop: Shop) -> None:
    """A 16-bit transfer takes three bus clocks, which makes 5.3 MB/s at 8 MHz.

    Source: Linux Ethernet-HOWTO, ISA bus speed section.
    """
    machine = shop.machine("tollgate-386dx33")
    assert fact(machine, "isa_clock", "MHz", EIGHT_MHZ) == 8
    for name in ("isa_mem16_time", "isa_io16_time", "display_write_time"):
        transfer = fact(machine, name, "us", EIGHT_MHZ)
        assert transfer == 3 * fact(machine, "isa_period", "us", EIGHT_MHZ)
        assert float(2 / transfer) == pytest.approx(5.3, abs=0.05)


def test_display_write_of_a_string_takes_its_bus_cycle_and_five_clocks(shop: Shop) -> None:
    """A display write from a string instruction costs a 386 three bus clocks and five of its own.

    Source: books on PC code optimisation, chapters on cycle-eaters.
    """
    machine, work = shop.machine("tollgate-386dx33"), shop.work("text", display_words="1")
    bus, core = (fact(machine, name, "ps", EIGHT_MHZ) for name in ("isa_period", "core_period"))

    assert times(machine, work, EIGHT_MHZ)["display-words"] == 3 * bus + 5 * core


def test_zero_wait_request_saves_a_clock_where_it_is_granted(shop: Shop) -> None:
    """A card's request to go without wait counts where the board grants it, down to two bus clocks."""
    zero_wait, plain = (
        shop.machine("tollgate-386dx33", f"isa-2={card}")
        for card in ("display-isa16-zw-70", "display-isa16-70")
    )
    granted = {**EIGHT_MHZ, "isa-zero-wait": "granted"}
    bus = fact(plain, "isa_period", "ns", EIGHT_MHZ)

    assert fact(zero_wait, "display_write_time", "ns", EIGHT_MHZ) == 3 * bus
    assert fact(zero_wait, "display_write_time", "ns", granted) == 2 * bus
    assert fact(plain, "display_write_time", "ns", granted) == 3 * bus


@pytest.mark.parametrize("card", ["display-isa8", "display-mono8"])
@pytest.mark.parametrize("name", ["game-3d", "text"])
def test_old_display_cards_set_the_pace_themselves(shop: Shop, card: str, name: str) -> None:
    """With an old 8-bit display card the ISA clock makes little difference to display memory.

    Source: books on PC code optimisation: such cards are limited by their own slots, whatever the bus clock.
    """
    old = shop.machine("tollgate-386dx33", "isa-2=none", f"isa-6={card}")
    newer = shop.machine("tollgate-386dx33", "isa-2=display-isa16-70")
    events = ("display-bytes", "display-words", "display-dwords", "display-reads")
    old_times, newer_times = (
        [
            time(machine, shop.work(name), {"isa-8bit": "4", "isa-clock": clock}, events=events)
            for clock in ISA_CLOCKS
        ]
        for machine in (old, newer)
    )

    assert max(old_times) < 1.02 * min(old_times)
    assert max(newer_times) > 1.5 * min(newer_times)


def test_narrow_display_card_takes_a_word_in_two_cycles(shop: Shop) -> None:
    """A 16-bit word costs an 8-bit display card two cycles, a 32-bit one four."""
    machine = shop.machine("tollgate-386dx33", "isa-2=none", "isa-6=display-isa8")
    cycle, gap = (fact(machine, name, "ps") for name in ("display_write_time", "display_gap"))
    spent = times(machine, shop.work("text", display_bytes="1", display_words="1", display_dwords="1"))

    assert spent["display-bytes"] == cycle + gap
    assert spent["display-words"] == 2 * cycle + gap
    assert spent["display-dwords"] == 4 * cycle + gap


# ------------------------------------------------------------------------------- local bus and PCI


@pytest.mark.parametrize(
    ("clock", "ready", "read", "write"),
    [("33", "straight", 33, 44), ("40", "resynchronised", 40, 40), ("50", "resynchronised", 50, 50)],
)
def test_local_bus_moves_single_words_at_the_published_rates(
    shop: Shop, clock: str, ready: str, read: int, write: int
) -> None:
    """Single 32-bit reads and writes on the local bus reach the published MB/s at 33, 40 and 50 MHz.

    Source: published almanac of the local bus, cards without further waits; above 33 MHz ready is
    resynchronised.
    """
    machine = shop.machine("tollgate-486dx2")
    straps = {"host-clock": clock, "local-claim": "2", "local-write": "1", "local-ready": ready}
    for name, rate in (("display_read_time", read), ("display_write_time", write)):
        assert float(4 / fact(machine, name, "us", straps)) == pytest.approx(rate, rel=0.02)


def test_early_claim_speeds_up_local_reads_alone(shop: Shop) -> None:
    """A claim looked at sooner shortens reads on the local bus by a clock and leaves writes as they are."""
    machine = shop.machine("tollgate-486dx2")
    early, late = ({"local-ready": "straight", "local-claim": clocks} for clocks in ("1", "2"))
    period = fact(machine, "host_period", "ns")
    for name, saved in (("display_read_time", 1), ("display_write_time", 0)):
        assert fact(machine, name, "ns", late) - fact(machine, name, "ns", early) == saved * period


def on_pci(shop: Shop, **fixed: bool) -> Machine:
    """The 486 machine with its display card on PCI."""
    machine = shop.machine("tollgate-486dx2")
    slot = replace(slot_of(machine, "local-1"), bus="pci")
    return rebuilt(machine, fixed, slots=[slot], fit={"local-1": one("display-pci-70")})


def test_pci_display_gains_by_posting_and_by_bursts(shop: Shop) -> None:
    """Posted writes make a PCI display faster, bursts on top of them faster still, bursts alone nothing."""
    plain, bursts, posted, both = (
        on_pci(shop, pci_posted_writes=post, pci_burst=burst)
        for post, burst in ((False, False), (False, True), (True, False), (True, True))
    )
    for work in map(shop.work, ("game-3d", "desktop")):
        assert time(both, work) < time(posted, work) < time(plain, work) == time(bursts, work)


@pytest.mark.parametrize("name", ["game-3d", "desktop", "text"])
def test_display_is_faster_the_nearer_it_sits_to_the_cpu(shop: Shop, name: str) -> None:
    """An ISA display card is slower than one on the local bus or, with posted writes, on PCI."""
    local = shop.machine("tollgate-486dx2")
    isa = shop.machine("tollgate-486dx2", "local-1=none", "isa-3=display-isa16-zw-70")
    work = shop.work(name)

    assert time(isa, work) > 1.1 * time(local, work)
    assert time(isa, work) > 1.1 * time(on_pci(shop, pci_posted_writes=True), work)


# ---------------------------------------------------------------------------------- drives, firmware


@pytest.mark.parametrize(("mode", "cycle_ns"), [(0, 600), (1, 383), (2, 240)])
def test_drive_on_the_local_bus_moves_words_at_its_mode(shop: Shop, mode: int, cycle_ns: int) -> None:
    """A drive port on the local bus takes the cycle of its mode for each word, whatever the ISA clock.

    Source: Linux kernel, drivers/ata/libata-core.c.
    """
    machine = rebuilt(shop.machine("tollgate-486dx2"), {"ata_pio_mode": mode})
    for clock in ISA_CLOCKS:
        assert fact(machine, "disk_word_time", "ns", {"isa-clock": clock}) == cycle_ns


def test_fast_modes_end_where_bus_and_cpu_do(shop: Shop) -> None:
    """No mode moves a word faster than a local-bus read and the CPU's string instruction."""
    machine = rebuilt(shop.machine("tollgate-486dx2"), {"ata_pio_mode": 4})
    word, read, gap = (
        fact(machine, name, "ns") for name in ("disk_word_time", "local_read_time", "string_gap")
    )

    assert word == read + gap > fact(machine, "ata_port_cycle16", "ns")


def test_drive_on_the_isa_bus_follows_its_clock_and_rest(shop: Shop) -> None:
    """Over the ISA bus a file copy gains by bus clock, waits and rest."""
    machine, work = shop.machine("tollgate-386dx33"), shop.work("disk-copy")
    usual = time(machine, work)

    for change in ({"isa-clock": "clk2-6"}, {"isa-io": "1"}, {"isa-rest": "2-4"}):
        assert time(machine, work, change) < usual


def test_more_sectors_for_an_interrupt_make_copies_faster(shop: Shop) -> None:
    """Moving sixteen sectors for each drive interrupt costs a sixteenth of the interrupts."""
    one_by_one, blocks = (
        rebuilt(shop.machine("tollgate-386dx33"), {"ata_block_sectors": sectors}) for sectors in (1, 16)
    )
    work = shop.work("disk-copy")
    single, block = (times(machine, work)["disk-interrupts"] for machine in (one_by_one, blocks))

    assert single == 16 * block > 0


def test_machine_without_drive_spends_nothing_on_one(shop: Shop) -> None:
    """A machine without drive has no time for one, and all its times are known."""
    machine = shop.machine("tollgate-386dx33", "drive-isa=none")
    spent = times(machine, shop.work("disk-copy"))

    assert spent["disk-words"] == spent["disk-interrupts"] == 0


def test_firmware_in_memory_makes_text_faster(shop: Shop) -> None:
    """Text output gains by each copy of firmware, and by keeping the copies in the cache."""
    work = shop.work("text")
    for machine in (shop.machine("tollgate-386dx33"), shop.machine("tollgate-486dx2")):
        spent = [time(machine, work, {"firmware-copy": copy}) for copy in ("none", "system", "both")]
        cached = rebuilt(machine, {"shadow_cached": True})
        assert spent[0] > spent[1] > spent[2] > time(cached, work, {"firmware-copy": "both"})


@pytest.mark.parametrize("name", ["text", "desktop"])
def test_board_logic_switches_a20_faster(shop: Shop, name: str) -> None:
    """Programs that use memory above 1 MB gain where the board's logic switches line A20."""
    machine, work = shop.machine("tollgate-486dx2"), shop.work(name)
    gain = time(machine, work, {"a20-switch": "keyboard"}) / time(machine, work, {"a20-switch": "logic"}) - 1

    assert 0 < gain < to_base(3, "percent")

"""What the notes of the packed 486 machines claim, machine by machine."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from waitwright.api.check import check
from waitwright.api.opening import Question
from waitwright.api.rank import Wish, rank
from waitwright.api.swap import swap
from waitwright.report.views import CheckView, ResultView


@cache
def asked(name: str, sets: tuple[str, ...] = (), parts: tuple[str, ...] = ()) -> CheckView:
    """The machine under other settings or with other parts, by data-sheet limits."""
    return check(Question(name, sets=sets, parts=parts), hours=None)


def trouble(name: str, *sets: str, parts: Sequence[str] = ()) -> set[str]:
    """Ids of all that decides and is not kept under the current settings with changes."""
    view = asked(name, sets, tuple(parts))
    short = {rule.id for rule in view.rules if rule.rated == "falls short" and not rule.advisory}
    return short | {conflict.id for conflict in view.conflicts}


def spare(name: str, rule: str, *sets: str, parts: Sequence[str] = ()) -> float:
    """What one budget has left, in ns."""
    margins = {budget.id: budget.margin_ns for budget in asked(name, sets, tuple(parts)).budgets}
    left = margins[rule]
    assert left is not None
    return left


@cache
def best(name: str, workload: str = "integer", odds: float = 0.9) -> ResultView:
    """The fastest settings with good odds."""
    return rank(Question(name), Wish(odds=odds, top=1, workload=workload)).results[0]


def changed(result: ResultView) -> dict[str, str]:
    """What is changed, from option to new choice."""
    return {change.option: change.goal for change in result.changes}


# -------------------------------------------------------------------------- Brindlewick B4I, ISA


def test_bell_foundry_gains_most_in_the_slots_and_lacks_a_second_row() -> None:
    """In drawing the slots' lines bring more than all others; one row of 128 KB needs two clocks a word."""
    name = "bellfoundry-486dx33"
    game = best(name, "game-3d")
    slots = sum(change.share for change in game.changes if change.option.startswith("slot-"))
    small = [*(f"row-{row}=sram-8kx8-15" for row in (1, 2)), "tag=sram-4kx8-15"]

    assert slots > game.gain / 2
    assert slots > 5 * sum(c.share for c in best(name).changes if c.option.startswith("slot-"))
    assert "l2.interleave.banks" in trouble(name, "cache-rows=turns")
    assert "l2.read.next.data" in trouble(name, "cache-next=0")
    assert spare(name, "l2.read.next.data", "cache-next=0", "cache-rows=turns", parts=small) > 0


def test_the_cooperage_has_room_in_everything() -> None:
    """Whatever its logbook says, all of the settings that froze are slow enough by data sheet."""
    view = asked("cooperage-486sx25")

    assert view.stands
    for budget in view.budgets:
        if not budget.advisory and budget.margin_ns is not None:
            assert budget.margin_ns >= 10, budget.id


# -------------------------------------------------------- Sallowfield SV4, local bus, write-back


def test_ropewalk_is_held_by_its_dirty_chip() -> None:
    """Two-clock writes with eight tag bits need a faster dirty RAM; seven tag bits or three clocks do not."""
    name, quick = "ropewalk-486dx2", ("cache-write=2", "local-write=1")

    assert trouble(name, "outer-cache=back-8", *quick) == {"l2.write.dirty.chip"}
    assert trouble(name, "outer-cache=back-7", *quick) == set()
    assert trouble(name, "outer-cache=back-8") == set()
    assert trouble(name, "outer-cache=back-8", *quick, parts=["dirty=sram-64kx1-15"]) == set()
    assert trouble(name, "outer-cache=back-8", parts=["dirty=none"]) == {"l2.dirty.place"}
    assert trouble(name, "outer-cache=back-7", parts=["dirty=none"]) == set()


def test_saltpan_runs_at_the_pace_of_its_slower_bank_and_drive() -> None:
    """The 20 ns bank alone forbids two-clock writes and a word in each clock; the drive forbids any pace."""
    name, fast = "saltpan-486dx40", ("cache-write=2", "cache-burst=3-1-1-1")
    slow_bank = {"l2.write.pulse", "l2.read.next.enable"}

    assert slow_bank <= trouble(name, *fast)
    assert not slow_bank & trouble(name, *fast, parts=["bank-odd=sram-32kx8-15"])
    assert asked(name).parameters["ata_pio_mode"] == 0
    for pace in ("1", "2", "3"):
        assert any(rule.startswith("ata.port.") for rule in trouble(name, f"drive-pace={pace}"))
    assert "ata.iordy@drive" in trouble(name, "drive-pace=3")
    assert not trouble(name, "drive-pace=2", parts=["drive=drive-pio-2"])


# --------------------------------------------------------------------- Copperbeck C50, 50 MHz bus


def test_millrace_bears_one_card_made_for_its_clock_and_tells_it_so() -> None:
    """At 50 MHz a second local-bus card, a card for 40 MHz, or a wrong strap is refused; one card holds."""
    name = "millrace-486dx50"

    assert asked(name).clocks["host_mhz"] == 50
    assert trouble(name) == set()
    assert "local-bus.strap" in trouble(name, "slot-strap=slow")
    assert "local-bus.loads" in trouble(name, parts=["local-2=drive-port-vl"])
    assert "local-bus.clock.disk@local-2" in trouble(name, parts=["local-2=drive-port-vl"])
    assert "local-bus.ready.logic@local-1" in trouble(name, parts=["local-1=display-vl-70"])
    assert asked(name).clocks["core_mhz"] == 50


def test_level_crossing_stays_at_33_mhz_for_its_three_cards() -> None:
    """Three local-bus cards fail at 40 MHz under any line; with the network on an ISA card 40 MHz holds."""
    name = "crossing-486dx2"
    fast = ("host-clock=40", "slot-strap=fast", "memory-write=4", "cas-read=3")
    moved = ["local-3=none", "isa-3=network-isa16"]

    assert trouble(name) == set()
    assert trouble(name, *fast) == {"local-bus.loads"}
    assert trouble(name, *fast, parts=moved) == set()
    assert "local-bus.strap" in trouble(name, "host-clock=40", parts=moved)
    assert best(name).settings["host-clock"] == "33"


# ---------------------------------------------------------------------- Marlpit MP4, PCI and EDO


def test_fairlead_saves_a_clock_a_word_by_edo_and_keeps_pci_and_volts_apart() -> None:
    """CAS of one clock holds with EDO timing only; PCI and the supply each refuse their wrong position."""
    name, short_cas = "fairlead-486dx4", ("column-low=1", "read-lead=1")

    assert "dram.read.cas" in trouble(name, *short_cas)
    assert trouble(name, *short_cas, "module-kind=edo") == set()
    assert changed(best(name))["module-kind"] == "edo"
    assert {"pci.path@pci-1", "pci.clock@pci-1", "pci.clock.bridge"} <= trouble(name, "host-clock=40")
    assert not any(rule.startswith("pci.") for rule in trouble(name, "host-clock=40", "pci-clock=two-thirds"))
    assert trouble(name, "socket-volts=5") == {"cpu.supply.max"}
    assert "cpu-voltage" in {caution.id for caution in asked(name, ("socket-volts=5",)).cautions}


def test_tide_mill_cannot_use_edo_timing_for_one_bank() -> None:
    """A fast-page module beside EDO forbids EDO timing; two EDO modules allow it; 3.3 V starves the CPU."""
    name = "tidemill-486dx2"
    lone = ("module-kind=edo", "column-low=1")

    assert "memory.edo.parts" in trouble(name, *lone)
    assert trouble(name, *lone, parts=["module-2=edo-60"]) == set()
    assert best(name).settings["module-kind"] == "fast-page"
    assert trouble(name, "socket-volts=3.3") == {"cpu.supply.min"}
    assert trouble(name, parts=["cpu=486dx2-3v-66"]) == {"cpu.supply.max"}


# ----------------------------------------------------------- Withybed W4X, quadrupled, write-back


def test_signal_box_gains_by_keeping_writes_at_home() -> None:
    """Write-back in the CPU needs the line on foreign accesses, and pays; the second drive sets the mode."""
    name = "signalbox-5x86"
    gains = changed(best(name))

    assert trouble(name, "inner-mode=back") == {"cpu.cache.snoop"}
    assert trouble(name, "inner-mode=back", "inner-asked=yes") == set()
    assert gains["inner-mode"] == "back" and gains["inner-asked"] == "yes"
    assert asked(name).clocks["core_mhz"] == 133.333
    over = ("host-clock=40", "pci-clock=1.5")
    assert trouble(name, *over) == {"cpu.core-clock", "cpu.host-clock"}
    assert trouble(name, *over, parts=["cpu=5x86-160"]) == set()
    assert "overclock" in {caution.id for caution in asked(name, over).cautions}
    assert {rule.rpartition("@")[2] for rule in trouble(name, "port-mode=4")} == {"drive-second"}
    assert trouble(name, "port-mode=4", parts=["drive-second=drive-pio-4"]) == set()


def test_lamp_works_was_never_short_of_time() -> None:
    """The settings that crashed leave 5 ns and more in every budget, and a third of the core's clock."""
    view = asked("lampworks-5x86")

    assert view.stands
    assert view.clocks["core_mhz"] == 100
    for budget in view.budgets:
        if not budget.advisory and budget.margin_ns is not None:
            assert budget.margin_ns >= 5, budget.id


# --------------------------------------------------------------------------------- spares of all


def test_spares_bring_what_the_notes_say() -> None:
    """The ropewalk's dirty RAM buys no speed; with its network on ISA the crossing's 40 MHz pay."""
    dirty = next(
        one for one in swap(Question("ropewalk-486dx2")).swaps if one.exchanges[0].goal == "sram-64kx1-15"
    )
    best_of_crossing = swap(Question("crossing-486dx2")).swaps[0]

    assert abs(dirty.extra or 0) < 0.005
    assert {one.goal for one in best_of_crossing.exchanges} >= {"network-isa16"}
    assert (best_of_crossing.extra or 0) > 0.08
    assert any("40 MHz" in opened for opened in best_of_crossing.opens)

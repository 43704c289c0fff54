"""Accesses of a 386- or 486-class board, played out: cache, memory and cards on the ISA bus.

Each function plays one kind of access with the delays of one machine and tells which receivers were content.
They read data-sheet values and the board's settings only; how long a cycle is comes from counting edges.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from tests.bus_sim.signals import Facts, Scene, Sheet, Signal


@dataclass(frozen=True)
class Setup:
    """One machine under one combination: its times in ticks, and its settings."""

    facts: Facts
    sheet: Sheet

    @classmethod
    def of(cls, facts: Facts) -> Setup:
        """Read the clocks."""
        host = Fraction(1) / number(facts, "host_clock")
        source = facts("isa_source")
        divider = number(facts, "isa_divider")
        if source == "fixed":
            bus = divider * 1_000_000 / Fraction("14.31818")
        else:
            bus = host * divider / (2 if source == "clk2" else 1)
        core = host / number(facts, "core_multiplier")
        return cls(facts, Sheet(facts, {"host": host / 2, "bus": bus / 2, "core": core}))

    def halves(self, name: str) -> int:
        """A setting in half clocks."""
        count = 2 * number(self.facts, name)
        assert count.denominator == 1, name
        return int(count)

    def flag(self, name: str) -> bool:
        """Whether a setting or property is on."""
        return self.facts(name) is True


def number(facts: Facts, name: str) -> Fraction:
    """A known number."""
    value = facts(name)
    if not isinstance(value, int | Fraction) or isinstance(value, bool):
        raise KeyError(name)
    return Fraction(value)


# -------------------------------------------------------------------------------------- cache


def cache_read(setup: Setup) -> dict[str, bool]:
    """A hit: first word and tag, and on a burst CPU three more words, from one bank or two in turns."""
    t, scene = setup.sheet, Scene()
    first, beat = setup.halves("l2_read_first_clocks"), setup.halves("l2_read_next_clocks")
    turns = setup.flag("l2_interleave")
    edges = scene.clock(t("host"), first + 3 * beat)
    enable = t("logic.cache_bank_enable_max" if turns else "logic.cache_output_enable_max")
    address = scene.after(t("cpu.address_valid_max"), edges[0])
    address = scene.after(t("abuf.delay_max"), address)
    opened = scene.after(t("l2.data.output_enable"), scene.after(enable, edges[2]))
    word = scene.after(t("l2.data.access"), address)
    scene.look("first", word, edges[first], t("cpu.data_setup"))
    scene.look("first", opened, edges[first], t("cpu.data_setup"))
    ready = scene.after(t("logic.tag_compare_max"), scene.after(t("l2.tag.access"), address))
    scene.look("tag", ready, edges[first], t("cpu.ready_setup"))
    if setup.flag("cpu.burst"):
        for place in (2, 3) if turns else (1, 2, 3):
            taken = first + place * beat
            began = edges[taken - (2 if turns else 1) * beat]
            word = scene.after(t("l2.data.access"), scene.after(t("logic.cache_address_max"), began))
            scene.look("next", word, edges[taken], t("cpu.data_setup"))
        for place in (1, 2, 3) if turns else ():
            taken = first + place * beat
            shown = scene.after(t("l2.data.output_enable"), scene.after(enable, edges[taken - beat]))
            scene.look("next", shown, edges[taken], t("cpu.data_setup"))
    return scene.play()


# ------------------------------------------------------------------------------------- memory


def page_hit(setup: Setup) -> dict[str, bool]:
    """A read from an open row: CAS goes up, down again, and the data follow the later of CAS and column."""
    t, scene = setup.sheet, Scene()
    up = setup.halves("dram_read_lead_clocks")
    down = up + setup.halves("dram_cas_precharge_clocks")
    end = down + setup.halves("dram_cas_read_clocks")
    edges = scene.clock(t("host"), end)
    address = scene.after(t("cpu.address_valid_max"), edges[0])
    column = scene.after(t("logic.column_from_address_max"), address)
    cas = scene.after(t("logic.cas_active_max"), edges[down])
    word = _through(
        scene, setup, scene.after(t("dram.cas_access"), cas), scene.after(t("dram.column_access"), column)
    )
    scene.look("hit", word, edges[end], max(t("cpu.data_setup"), t("logic.data_setup")))
    # Ends later than it begins, by what both ends of the same output differ at most.
    lag = t("logic.cas_precharge_loss")
    risen = scene.after(max(0, lag), edges[up])
    fallen = scene.after(max(0, -lag), edges[down])
    scene.measure("cas-high", risen, edges[down], t("dram.cas_precharge"))
    scene.measure("cas-low", fallen, edges[end], t("dram.cas_width"))
    return scene.play()


def row_miss(setup: Setup) -> dict[str, bool]:
    """A read that closes a row and opens another: RAS up, down, column address, CAS, data, and RAS again."""
    t, scene = setup.sheet, Scene()
    down = setup.halves("dram_precharge_clocks")
    to_cas = setup.halves("dram_row_to_column_clocks")
    end = down + to_cas + setup.halves("dram_cas_read_clocks")
    # The row address is kept for half of the whole clocks between RAS and CAS, at least half a clock.
    kept = max(1, (to_cas // 2 * 2) // 2)
    edges = scene.clock(t("host"), end + down)
    ras = scene.after(t("logic.ras_active_max"), edges[down])
    column = scene.after(t("logic.column_address_max"), edges[down + kept])
    cas = scene.after(t("logic.cas_active_max"), edges[down + to_cas])
    word = _through(
        scene,
        setup,
        scene.after(t("dram.row_access"), ras),
        scene.after(t("dram.column_access"), column),
        scene.after(t("dram.cas_access"), cas),
    )
    scene.look("miss", word, edges[end], max(t("cpu.data_setup"), t("logic.data_setup")))
    risen = scene.after(max(0, t("logic.ras_precharge_loss")), edges[0])
    scene.measure("ras-high", risen, edges[down], t("dram.row_precharge"))
    scene.measure("row-cycle", edges[down], edges[end + down], t("dram.row_cycle"))
    scene.measure("ras-to-cas", edges[down], edges[down + to_cas], t("dram.row_to_cas_min"))
    return scene.play()


def _through(scene: Scene, setup: Setup, *ready: Signal) -> Signal:
    """Data on their way from the modules to the CPU."""
    word = scene.after(setup.sheet("logic.data_delay_max"), *ready)
    return scene.after(setup.sheet("dbuf.delay_max"), word) if setup.flag("dbuf.present") else word


# ---------------------------------------------------------------------------------------- ISA

NARROWER = {"mem16": "mem16", "io16": "io16", "mem8": "8", "io8": "8"}
"""Which of the board's figures belong to a kind of cycle."""


@dataclass(frozen=True)
class Slot:
    """A kind of cycle as the board makes it: edges, in half bus clocks, of a cycle that begins at 0."""

    kind: str
    command: int
    end: int

    @classmethod
    def of(cls, setup: Setup, kind: str) -> Slot:
        """One clock for the address, then the waits; a late command ends no later."""
        delay = "isa_io_command_delay" if kind.startswith("io") else f"isa_{kind}_command_delay"
        waits = "isa_bus8_waits" if kind.endswith("8") else f"isa_{kind}_waits"
        return cls(kind, 2 + setup.halves(delay), 2 + 2 + setup.halves(waits))


def card_cycle(setup: Setup, kind: str) -> dict[str, bool]:
    """A read and a write of one card: address, width decode, command, data, requests to wait or not to."""
    t, scene, slot = setup.sheet, Scene(), Slot.of(setup, kind)
    memory = kind.startswith("mem")
    edges = scene.clock(t("bus"), slot.end + 2)
    command, end = edges[slot.command], edges[slot.end]
    loss = t(f"logic.isa_width_loss_{NARROWER[kind]}")
    low = scene.after(loss, command)
    scene.measure("width", low, end, t("card.command_width"))
    if not (memory and setup.flag("card.uses_ready") and setup.facts("card.purpose") == "display"):
        word = scene.after(t("card.memory_access" if memory else "card.io_access"), low)
        scene.look("read", word, end, t(f"logic.isa_data_setup_{NARROWER[kind]}"))
    if kind == "mem16":
        scene.measure("address", edges[0], command, t("card.address_to_command"))
        answer = scene.after(t("card.decode_mem16"), edges[0])
        scene.look("decode", answer, edges[2], t("logic.isa_mem16_decode_loss"))
    else:
        address = scene.after(t("logic.isa_address_delay_max"), edges[0])
        begins = scene.after(t("logic.bus_command_active_min"), command)
        scene.measure("address", address, begins, t("card.address_to_command"))
    if kind == "io16":
        answer = scene.after(t("card.decode_io16"), edges[0])
        scene.look("decode", answer, command, t("logic.isa_io16_decode_setup"))
    data = scene.after(t("logic.isa_write_data_delay_max"), edges[2])
    ends = scene.after(t("logic.bus_command_inactive_min"), end)
    scene.look("write", data, ends, t("card.write_data_setup"))
    if memory and setup.flag("card.uses_ready"):
        held = scene.after(t("card.ready_answer"), command)
        scene.look("ready", held, edges[slot.end - 2], t("logic.isa_ready_setup"))
    if kind == "mem16" and setup.flag("isa_zero_wait") and setup.flag("card.zero_wait_request"):
        asked = scene.after(t("card.zero_wait_answer"), command)
        scene.look("zero-request", asked, edges[slot.command + 1], t("logic.isa_zero_wait_setup"))
        scene.measure("zero-width", low, edges[slot.command + 2], t("card.command_width"))
    return scene.play()


def rest(setup: Setup, kind: str) -> dict[str, bool]:
    """Two accesses to one card in a row: how long the command is up in between."""
    t, scene, slot = setup.sheet, Scene(), Slot.of(setup, kind)
    first = scene.clock(t("bus"), slot.end)
    if kind.startswith("mem"):
        again = scene.clock(t("bus"), slot.command, slot.end * t("bus"))
        next_command = again[slot.command]
    else:
        own = {"io16": 4, "io8": 8}[kind] * t("core")
        pause = setup.halves(f"isa_recovery{kind.removeprefix('io')}_clocks")
        again = scene.clock(t("bus"), slot.command - 2, (slot.end + pause) * t("bus") + own)
        next_command = again[slot.command - 2]
    scene.measure("rest", first[slot.end], next_command, t("card.command_high"))
    return scene.play()


def slot_start(setup: Setup) -> dict[str, bool]:
    """A 16-bit memory cycle from the CPU's own edge on: the address comes through, the card answers."""
    t, scene = setup.sheet, Scene()
    sent = scene.clock(t("host"), 0)
    begin = setup.halves("isa_start_clocks") * t("host")
    edges = scene.clock(t("bus"), 2, begin)
    address = scene.after(t("cpu.address_valid_max"), sent[0])
    address = scene.after(t("logic.isa_address_delay_max"), address)
    answer = scene.after(t("card.decode_mem16"), address)
    scene.look("start", answer, edges[2], t("logic.isa_mem16_decode_loss"))
    return scene.play()


def display_writes(setup: Setup, kind: str) -> dict[str, bool]:
    """Writes at the pace of the bus into display memory: each must find the last one done."""
    t, scene, slot = setup.sheet, Scene(), Slot.of(setup, kind)
    short = kind == "mem16" and setup.flag("isa_zero_wait") and setup.flag("card.zero_wait_request")
    edges = scene.clock(t("bus"), 5 * (4 if short else slot.end))
    arrivals = edges[:: 4 if short else slot.end]
    done = arrivals[0]
    for arrival, following in pairwise(arrivals):
        done = scene.after(t("card.memory_cycle"), arrival, done)
        scene.look("display", done, following, 0)
    return scene.play()

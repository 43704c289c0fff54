"""Rated verdicts against an event-driven simulation that replays each access with the same delays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache, partial
from random import Random

import pytest

from tests.bus_checks.judged import soldered
from tests.bus_sim.cycles import (
    Setup,
    cache_read,
    card_cycle,
    display_writes,
    page_hit,
    rest,
    row_miss,
    slot_start,
)
from tests.bus_sim.signals import Scene
from tests.workshop import MACHINES, rebuilt
from waitwright.ids import Settings
from waitwright.machine import FactTable, Machine
from waitwright.timing.bind import BoundRules, bind
from waitwright.timing.margins import budget_margin

LAYOUTS, EACH = 250, 4
"""How many machines are built, and how many combinations each is tried with: 1,000 in all."""

PARTS: Mapping[str, tuple[str, ...]] = {
    "cpu": ("386dx-25", "386dx-33", "386dx-40", "486sx-25", "486sx-33", "486dx-33", "486dx-50", "486dx2-66"),
    "cache": tuple(f"sram-32kx8-{grade}" for grade in (8, 12, 15, 20, 25, 35)),
    "memory": tuple(f"fpm-{grade}" for grade in (50, 60, 70, 80, 100, 150)),
    "logic": ("logic-hybrid-386-486", "logic-486-late", "85c471", "logic-486-single-chip"),
    "buffer": ("74f244", "74fr543", "74ahct244"),
    "isa": (
        "none", "display-isa8", "display-isa16-100", "display-isa16-60", "display-isa16-zw-80",
        "display-isa16-zw-60", "display-isa16-late-70", "network-isa16-cs8900", "network-isa16", "sound-isa8",
        "sound-isa16", "serial-isa8", "other-isa8",
    ),
}  # fmt: skip

CACHE = {
    "first": ("l2.read.first.data", "l2.read.first.enable"),
    "tag": ("l2.read.tag",),
    "next": ("l2.read.next.data", "l2.read.next.enable"),
}
HIT = {
    "hit": ("dram.read.cas", "dram.read.column"),
    "cas-high": ("dram.cas.precharge",),
    "cas-low": ("dram.cas.width.read",),
}
MISS = {
    "miss": ("dram.row.access", "dram.row.column", "dram.read.cas"),
    "ras-high": ("dram.row.precharge",),
    "row-cycle": ("dram.row.cycle",),
    "ras-to-cas": ("dram.row.to-cas",),
}
CARD = {
    "width": "isa.width.{kind}",
    "read": "isa.read.{kind}",
    "address": "isa.address.{kind}",
    "decode": "isa.decode.{kind}",
    "write": "isa.write.{kind}",
    "ready": "isa.ready.{kind}",
    "rest": "isa.recovery.{kind}",
    "zero-request": "isa.zero-wait.request",
    "zero-width": "isa.zero-wait.width",
    "start": "isa.start.{kind}",
    "display": "display.memory.{kind}",
}
"""What a receiver in the simulation is content with, and the rules that say so together."""


@cache
def layouts() -> tuple[tuple[Machine, BoundRules], ...]:
    """Random machines: packed ones with other chips, modules, cards and board logic."""
    random = Random("buses")
    found = []
    for _ in range(LAYOUTS):
        memory = random.choice(PARTS["memory"])
        parts = {"cpu": random.choice(PARTS["cpu"]), "tag": random.choice(PARTS["cache"]), "simm-0": memory}
        parts |= {bank: random.choice(PARTS["cache"]) for bank in ("cache-0", "cache-1")}
        if random.random() < 0.3:
            parts["cache-1"] = "none"
        parts |= {f"isa-{place}": random.choice(PARTS["isa"]) for place in (2, 3, 4)}
        name = random.choice(MACHINES)
        chips = {"logic": random.choice(PARTS["logic"]), "address-buffer": random.choice(PARTS["buffer"])}
        board = partial(soldered, parts=chips)
        machine = rebuilt(name, what_if=parts, board=board)
        found.append((machine, bind(machine)))
    return tuple(found)


def combinations() -> Iterator[tuple[Machine, BoundRules, Settings]]:
    """Each layout with random choices; the board's own timing takes the place of many and is rarely on."""
    random = Random("settings")
    for machine, rules in layouts():
        for _ in range(EACH):
            settings = {option.id: random.choice(option.choices).id for option in machine.options}
            if random.random() < 0.9:
                settings |= {key: choice for key, choice in machine.current.items() if key == "self-timing"}
            yield machine, rules, settings


def opinions(
    machine: Machine, rules: BoundRules, settings: Settings
) -> Iterator[tuple[str, bool, list[bool]]]:
    """Receiver, whether the simulation left it content, and the verdicts of the rules that speak of it."""
    facts = FactTable(machine, settings)
    verdicts: dict[str, bool] = {}
    for bound in rules.budgets:
        found = budget_margin(machine, bound, facts)
        if found is not None and found.verdict != "unchecked":
            verdicts[bound.id] = found.verdict != "falls short"
    for told, groups in scenes(machine, facts):
        for name, content in told.items():
            yield name, content, [verdicts[rule] for rule in groups[name] if rule in verdicts]


def scenes(
    machine: Machine, facts: FactTable
) -> Iterator[tuple[Mapping[str, bool], Mapping[str, tuple[str, ...]]]]:
    """Each kind of access that the machine makes, played, and the rules behind each of its receivers."""
    setup = Setup.of(facts)
    if setup.flag("l2_enabled") and machine.members.get("l2.data"):
        yield cache_read(setup), CACHE
    if setup.flag("dram_page_mode"):
        yield page_hit(setup), HIT
    yield row_miss(setup), MISS
    for member in machine.members["card"]:
        if member.item.bus not in {"isa8", "isa16"}:
            continue
        card, slot = Setup.of(facts.under(member)), member.item.slot
        for kind in kinds(card):
            told = card_cycle(card, kind) | rest(card, kind)
            if kind == "mem16":
                told |= slot_start(card)
            if kind.startswith("mem") and card.facts("card.purpose") == "display":
                told |= display_writes(card, kind)
            yield told, {what: (f"{rule.format(kind=kind)}@{slot}",) for what, rule in CARD.items()}


def test_a_thousand_random_machines_agree_with_a_simulation() -> None:
    """Cache reads, page hits, new rows and every card's cycles pass and fail exactly as the budgets say.

    Second opinion: an event-driven simulation with SimPy, which adds up no budget.
    """
    seen: Counter[tuple[str, bool]] = Counter()
    machines = 0
    for machine, rules, settings in combinations():
        machines += 1
        for name, content, verdicts in opinions(machine, rules, settings):
            assert verdicts, f"no rule speaks of {name}"
            assert content is all(verdicts), (name, settings)
            seen[name, content] += 1

    assert machines == LAYOUTS * EACH
    receivers = {name for name, _ in seen}
    assert receivers == {*CACHE, *HIT, *MISS, *CARD}
    never = {(name, told) for name in receivers for told in (True, False) if not seen[name, told]}
    # No choice of this board brings CAS closer to RAS than modules bear.
    assert never <= {("ras-to-cas", False)}, f"the draw never shows {sorted(never)}"


@pytest.mark.parametrize("rule", ["l2.read.tag", "dram.row.access", "isa.read.io16", "isa.decode.mem16"])
def test_the_simulation_notices_a_rule_that_forgot_a_delay(rule: str) -> None:
    """With the first delay of one rule left out, the two opinions differ on some machine."""

    def forgetful(rules: BoundRules) -> BoundRules:
        return replace(
            rules,
            budgets=tuple(
                replace(bound, rule=replace(bound.rule, spend=bound.rule.spend[1:]))
                if bound.rule.id == rule
                else bound
                for bound in rules.budgets
            ),
        )

    assert any(
        content is not all(verdicts)
        for machine, rules, settings in combinations()
        for _, content, verdicts in opinions(machine, forgetful(rules), settings)
    )


def kinds(card: Setup) -> list[str]:
    """Kinds of cycles that a card answers."""
    found = []
    for what, word in (("memory", "mem"), ("io", "io")):
        width = card.facts(f"card.{what}_width")
        if card.flag(f"card.has_{what}") and width in {8, 16}:
            found.append(f"{word}{width}")
    return found


# ------------------------------------------------------------------------- the simulation itself


@pytest.mark.parametrize(("delay", "content"), [(14, True), (15, True), (16, False)])
def test_a_receiver_needs_its_setup_to_the_tick(delay: int, content: bool) -> None:
    """A signal 5 ticks before the edge at 20 is just in time for a setup of 5."""
    scene = Scene()
    edges = scene.clock(10, 2)
    scene.look("data", scene.after(delay, edges[0]), edges[2], 5)

    assert scene.play() == {"data": content}


def test_a_part_waits_for_the_last_of_its_inputs() -> None:
    """Data follow the later of two signals."""
    scene = Scene()
    edges = scene.clock(10, 4)
    late = scene.after(3, edges[0], edges[2])
    scene.measure("sum", edges[0], late, 23)
    scene.measure("more", edges[0], late, 24)

    assert scene.play() == {"sum": True, "more": False}


def test_what_never_comes_is_never_in_time() -> None:
    """A signal that follows a line which stays as it is leaves its receiver waiting."""
    scene, other = Scene(), Scene()
    edges = scene.clock(10, 1)
    scene.look("data", other.clock(10, 1)[0], edges[1], 0)

    assert scene.play() == {"data": False}

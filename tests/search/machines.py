"""Machines of every kind on the packed board: other parts, other current choices, fewer options."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import product
from random import Random

from hypothesis import strategies as st

from waitwright._resources import packed_profile
from waitwright.ids import OptionId, Settings
from waitwright.machine import FactTable, Machine, build_machine
from waitwright.rulebook.domain import Workload
from waitwright.rulebook.load import load_rulebook
from waitwright.rulebook.machines import board_finder, load_machine
from waitwright.rulebook.profiles import MachineProfile, OptionDef
from waitwright.timing.bind import BoundRules, bind
from waitwright.timing.margins import broken, margins
from waitwright.workload.model import event_times

PACKED = ("tollgate-386dx33", "tollgate-486dx2")

PARTS = {
    "cpu": ["386dx-25", "386dx-40", "386dx-cached-33", "486sx-25", "486dx-33", "486dx2-50"],
    "clock-generator": ["clockgen-50", "clockgen-80", "clockgen-100"],
    "cache-0": ["sram-32kx8-12", "sram-32kx8-15", "sram-32kx8-25", "sram-32kx8-35"],
    "cache-1": ["none", "sram-32kx8-15", "sram-32kx8-35"],
    "tag": ["sram-32kx8-12", "sram-16kx8-15", "sram-32kx8-25"],
    "simm-0": ["fpm-50", "fpm-60", "fpm-80", "fpm-100"],
    "simm-1": ["none", "fpm-60", "fpm-100"],
    "isa-4": ["display-mono8", "serial-isa8-old", "network-isa16"],
    "local-2": ["display-vl-60", "display-vl-80", "none"],
}
"""Parts that may be tried in each slot; not all of them go together, nor do they have to."""


@dataclass(frozen=True, slots=True)
class Workshop:
    """A machine with its rules bound and the work it is to do.

    Attributes:
        free: Options with more than one choice.
    """

    machine: Machine
    rules: BoundRules
    work: Workload
    free: tuple[OptionDef, ...]

    def settings(self) -> Iterator[Settings]:
        """Every combination of choices."""
        ids = [option.id for option in self.machine.options]
        choices = [[choice.id for choice in option.choices] for option in self.machine.options]
        for combination in product(*choices):
            yield dict(zip(ids, combination, strict=True))

    def stands(self, settings: Settings) -> bool:
        """Whether the exact engine finds no rule broken by rated values."""
        return margins(self.machine, self.rules, settings).stands

    def is_logical(self, settings: Settings) -> bool:
        """Whether no requirement between options is broken for certain."""
        return not any(one.known for one in broken(self.rules.logic, FactTable(self.machine, settings)))

    def cost(self, settings: Settings) -> Fraction:
        """Exact time of 1000 instructions under one combination, in picoseconds."""
        events = event_times(self.machine, self.work, settings)
        return sum((Fraction(event.total) for event in events if event.total is not None), Fraction(0))


@cache
def _packed(name: str) -> MachineProfile:
    book = load_rulebook()
    packed = packed_profile("machines", name)
    assert packed is not None
    return load_machine(packed, book, board_finder(book), f"{name}.toml")


def narrowed(
    name: str, keep: Mapping[OptionId, OptionDef], current: Settings, parts: Mapping[str, str], work: str
) -> Workshop:
    """A packed machine with the options of *keep* in place of its own and *parts* in some slots."""
    book, profile = load_rulebook(), _packed(name)
    board = replace(profile.board, options=tuple(keep.values()))
    profile = replace(profile, board=board, current=current)
    machine = build_machine(name, profile, board, book, parts)
    free = tuple(option for option in machine.options if len(option.choices) > 1)
    return Workshop(machine, bind(machine), book.workloads[work], free)


def large(seed: int, *, most: int) -> Workshop:
    """A packed machine with other parts, with up to *most* combinations of options chosen by lot."""
    random = Random(seed)
    name = PACKED[seed % len(PACKED)]
    profile = _packed(name)
    options, current, size = {}, {}, 1
    for option in random.sample(profile.board.options, len(profile.board.options)):
        now = profile.current[option.id]
        if size * len(option.choices) <= most:
            size *= len(option.choices)
            options[option.id] = option
            current[option.id] = random.choice([choice.id for choice in option.choices])
        else:
            options[option.id] = replace(option, choices=(option.choice(now),))
            current[option.id] = now
    parts = {slot: random.choice(PARTS[slot]) for slot in random.sample(sorted(PARTS), 3)}
    work = random.choice(sorted(load_rulebook().workloads))
    return narrowed(
        name, {option.id: options[option.id] for option in profile.board.options}, current, parts, work
    )


@st.composite
def workshops(draw: st.DrawFn, *, free: int, most: int) -> Workshop:
    """A machine with up to *free* options that can be chosen, *most* combinations, and any current ones."""
    name = draw(st.sampled_from(PACKED))
    profile = _packed(name)
    order = draw(st.permutations(profile.board.options))
    options, current, left, size = {}, {}, free, 1
    for option in order:
        now = profile.current[option.id]
        if left and size * len(option.choices) <= most:
            left, size = left - 1, size * len(option.choices)
            options[option.id] = option
            current[option.id] = draw(st.sampled_from([now, *(choice.id for choice in option.choices)]))
        else:
            options[option.id] = replace(option, choices=(option.choice(now),))
            current[option.id] = now
    slots = draw(st.lists(st.sampled_from(sorted(PARTS)), max_size=4, unique=True))
    parts = {slot: draw(st.sampled_from(PARTS[slot])) for slot in slots}
    work = draw(st.sampled_from(sorted(load_rulebook().workloads)))
    in_order = {option.id: options[option.id] for option in profile.board.options}
    return narrowed(name, in_order, current, parts, work)

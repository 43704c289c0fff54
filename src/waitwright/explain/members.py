"""What an owner can give up: choices on the screen or by jumper, cards, drives, chips, the CPU."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from waitwright.ids import ChoiceId, OptionId, SlotId
from waitwright.machine import Fitted, Machine
from waitwright.rulebook.domain import Part
from waitwright.rulebook.profiles import OptionDef

Tier = Literal["setting", "jumper", "clock", "mode", "card", "drive", "chip", "cpu"]
TIERS: tuple[Tier, ...] = ("setting", "jumper", "clock", "mode", "card", "drive", "chip", "cpu")
"""From what is given up most easily to what is given up last.

``clock`` is a slower clock, ``mode`` one in which the board chooses for the owner, however they are set.
"""

PART_WORD = "part:"
"""Before a slot in the words for a part, which an option id can never be taken for."""

_TIER_OF_KIND: dict[str, Tier] = {"card": "card", "floppy": "card", "drive": "drive", "cpu": "cpu"}


@dataclass(frozen=True, slots=True)
class Choice:
    """One option at one choice."""

    option: OptionDef
    choice: ChoiceId

    @property
    def tier(self) -> Tier:
        """How easily it is given up."""
        return "setting" if self.option.kind == "setup" else "jumper"

    @property
    def words(self) -> str:
        """``OPTION=CHOICE``, as ``--set`` takes it."""
        return f"{self.option.id}={self.choice}"

    def __hash__(self) -> int:
        return hash(self.words)


@dataclass(frozen=True, slots=True)
class PartGroup:
    """Equal parts in one role, which are bought and exchanged together; one card or drive by itself."""

    slots: tuple[SlotId, ...]
    part: Part

    @property
    def tier(self) -> Tier:
        """How easily it is given up."""
        return _TIER_OF_KIND.get(self.part.kind, "chip")

    @property
    def words(self) -> str:
        """``part:SLOT=PART``; several slots are joined by ``+``."""
        return f"{PART_WORD}{'+'.join(self.slots)}={self.part.id}"

    def __hash__(self) -> int:
        return hash(self.words)


Member = Choice | PartGroup


def choices_of(machine: Machine, settings: Iterable[tuple[OptionId, ChoiceId]]) -> tuple[Choice, ...]:
    """Choices as members, the most easily given up first, else in the board's order.

    An option that could put the board in charge of others stands behind these others.
    """
    place = {option.id: index for index, option in enumerate(machine.options)}
    asked = {name for automatic in machine.board.automatics for name in automatic.when.names}

    def ease(one: Choice) -> tuple[int, bool, int]:
        return (TIERS.index(one.tier), not asked.isdisjoint(one.option.parameters), place[one.option.id])

    return tuple(sorted((Choice(machine.option(option), choice) for option, choice in settings), key=ease))


def part_groups(machine: Machine) -> tuple[PartGroup, ...]:
    """Everything fitted that can be exchanged, the most easily given up first, else in slot order.

    What is soldered belongs to the board and is no member.
    """
    soldered = {slot.id for slot in machine.board.slots if slot.soldered}
    loose = [item for item in machine.fitted if item.slot not in soldered]
    order = {_group_key(machine, item): place for place, item in reversed(list(enumerate(loose)))}
    loose.sort(key=lambda item: order[_group_key(machine, item)])
    groups = [
        PartGroup(tuple(dict.fromkeys(item.slot for item in items)), items[0].part)
        for items in (list(members) for _, members in groupby(loose, lambda item: _group_key(machine, item)))
    ]
    return tuple(sorted(groups, key=lambda one: TIERS.index(one.tier)))


def _group_key(machine: Machine, item: Fitted) -> tuple[str, str]:
    """Equal parts of one role go together; cards, and roles whose parts are judged one by one, do not."""
    alone = not item.role or machine.rulebook.roles[item.role].each
    return (item.slot if alone else item.role, item.part.id)

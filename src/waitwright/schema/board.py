"""What a board profile may hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from waitwright.schema.problems import Entry
from waitwright.schema.rulefile import LogicEntry
from waitwright.schema.scalars import CellValue, FactId, Id, Line, Prose, RuleText, Slug


class BoardHead(Entry):
    """The keys at the top of a board profile."""

    STAND_INS: ClassVar[Mapping[str, Any]] = {"schema": 1, "title": "?"}

    schema_: Annotated[Literal[1], Field(alias="schema")]
    """Version of this layout."""
    title: Line
    """What the board is, in one line."""
    note: Prose = ""
    """Some sentences about it: what it was made for, what is special."""
    fixed: Annotated[dict[FactId, CellValue], Field(default_factory=dict, max_length=200)]
    """Timing parameters that the board sets one way only, in the units of the parameters."""


class SlotEntry(Entry):
    """``[[slot]]``: a place for parts, known to rules by a role, or a card slot on a bus."""

    id: Slug
    """How profiles and ``--part`` name the slot."""
    title: Line
    """What is printed beside it, or what an owner would call it."""
    role: FactId | None = None
    """How rules name what sits here; absent for card slots."""
    bus: Literal["isa8", "isa16", "vl", "pci"] | None = None
    """The bus of a card slot."""
    accepts: Annotated[list[Id], Field(default_factory=list, min_length=1, max_length=200)]
    """Families of parts that fit; any of the right kind if absent."""
    chips: Annotated[int, Field(ge=1, le=64)] = 1
    """How many equal parts fill it."""
    soldered: Id | None = None
    """The part that is fixed here."""
    on: Slug | None = None
    """For drives: the slot of the card with their port, or ``board-isa``, ``board-vl``, ``board-pci``."""
    loads: Annotated[int, Field(ge=0, le=10)] = 0
    """Local-bus loads that are soldered to the board here."""


class ChoiceEntry(Entry):
    """``[[option.choice]]``: one choice, with the parameters it sets in the parameters' units."""

    id: Id
    """How ``[current]`` and ``--set`` name the choice."""
    label: Line
    """What the screen shows, or how the jumper sits."""
    set: Annotated[dict[FactId, CellValue], Field(default_factory=dict, max_length=60)]
    """Timing parameters that it sets, in the units of the parameters."""


class OptionEntry(Entry):
    """``[[option]]``: a line of the setup screen, or a jumper."""

    id: Slug
    """How ``[current]`` and ``--set`` name the option."""
    label: Line
    """What the owner reads on the screen, or beside the jumper."""
    kind: Literal["setup", "jumper"]
    """A line of the setup screen, or a jumper."""
    help: Prose = ""
    """What it does, in some sentences."""
    choice: Annotated[list[ChoiceEntry], Field(min_length=1, max_length=64)]
    """Its choices, from slow to fast where there is such an order."""


class AutomaticEntry(Entry):
    """``[[automatic]]``: parameters that the board sets by itself while ``when`` holds."""

    when: RuleText
    """When the board sets them by itself."""
    set: Annotated[dict[FactId, RuleText], Field(min_length=1, max_length=60)]
    """Timing parameters and what they become, in the rule language."""


SECTIONS: Mapping[str, type[Entry]] = {
    "slot": SlotEntry,
    "option": OptionEntry,
    "automatic": AutomaticEntry,
    "rule": LogicEntry,
}
"""Lists of tables in a board profile."""

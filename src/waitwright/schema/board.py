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
    title: Line
    note: Prose = ""
    fixed: Annotated[dict[FactId, CellValue], Field(default_factory=dict, max_length=200)]


class SlotEntry(Entry):
    """``[[slot]]``: a place for parts, known to rules by a role, or a card slot on a bus."""

    id: Slug
    title: Line
    role: FactId | None = None
    bus: Literal["isa8", "isa16", "vl", "pci"] | None = None
    accepts: Annotated[list[Id], Field(default_factory=list, min_length=1, max_length=200)]
    chips: Annotated[int, Field(ge=1, le=64)] = 1
    soldered: Id | None = None
    on: Slug | None = None
    loads: Annotated[int, Field(ge=0, le=10)] = 0


class ChoiceEntry(Entry):
    """``[[option.choice]]``: one choice, with the parameters it sets in the parameters' units."""

    id: Id
    label: Line
    set: Annotated[dict[FactId, CellValue], Field(default_factory=dict, max_length=60)]


class OptionEntry(Entry):
    """``[[option]]``: a line of the setup screen, or a jumper."""

    id: Slug
    label: Line
    kind: Literal["setup", "jumper"]
    help: Prose = ""
    choice: Annotated[list[ChoiceEntry], Field(min_length=1, max_length=64)]


class AutomaticEntry(Entry):
    """``[[automatic]]``: parameters that the board sets by itself while ``when`` holds."""

    when: RuleText
    set: Annotated[dict[FactId, RuleText], Field(min_length=1, max_length=60)]


SECTIONS: Mapping[str, type[Entry]] = {
    "slot": SlotEntry,
    "option": OptionEntry,
    "automatic": AutomaticEntry,
    "rule": LogicEntry,
}
"""Lists of tables in a board profile."""

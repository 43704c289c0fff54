"""What the files under ``rules/`` may hold: words, facts, parts, rules, workloads, cautions, suspects.

A rule file is told by its top-level tables, so one file may mix them.  Files of words are told by
their name (``words/roles.toml``), since their top-level keys are the words themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from waitwright.schema.problems import Entry
from waitwright.schema.scalars import (
    Basis,
    Cells,
    CellValue,
    FactId,
    Id,
    Line,
    Number,
    Prose,
    RoleRef,
    RuleText,
    Symptoms,
    UnitName,
)

Source = Annotated[str, StringConstraints(min_length=1, max_length=600)]
Grade = Annotated[str, StringConstraints(max_length=30, pattern=r"^[a-z0-9._+-]*$")]

# ---------------------------------------------------------------------------------------- words


class RoleEntry(Entry):
    """``[ROLE]`` of ``words/roles.toml``."""

    kind: FactId
    title: Line
    purpose: Prose = ""
    each: bool = False


class ParameterEntry(Entry):
    """``[PARAMETER]`` of ``words/parameters.toml``; bounds in the parameter's unit.

    A parameter ``for_boards`` means something in the automatics of boards only, and to no rule.
    """

    unit: UnitName
    title: Line
    default: RuleText | None = None
    least: Number | None = None
    most: Number | None = None
    values: Annotated[list[Id], Field(min_length=1, max_length=40)] | None = None
    for_boards: bool = False


class RowWordEntry(Entry):
    """One row in ``[KIND]`` of ``words/rows.toml``."""

    unit: UnitName
    title: Line
    worst: Literal["max", "min"] = "max"


class FactWordEntry(Entry):
    """``["FACT"]`` of ``words/counted.toml``, and ``[TRAIT]`` of ``words/traits.toml``."""

    unit: UnitName
    title: Line


# ---------------------------------------------------------------------------------------- parts


class RowEntry(Entry):
    """One line of a data sheet: one value for all grades, or a list by grade."""

    unit: UnitName
    value: Cells | None = None
    min: Cells | None = None
    typ: Cells | None = None
    max: Cells | None = None
    source: Source | None = None
    basis: Basis | None = None


class SpreadEntry(Entry):
    """Spread of the true delays or abilities of a family, over the data sheet's figure."""

    ratio: Number
    sigma: Number
    source: Source
    basis: Basis


class FamilyEntry(Entry):
    """``[[family]]``: a data sheet with its grades."""

    id: Id
    kind: FactId
    title: Line
    grades: Annotated[list[Grade], Field(default_factory=lambda: [""], min_length=1, max_length=40)]
    grade_titles: Annotated[list[Line], Field(min_length=1, max_length=40)] | None = None
    source: Source | None = None
    basis: Basis | None = None
    note: Prose = ""
    rows: Annotated[dict[FactId, RowEntry], Field(min_length=1, max_length=200)]
    delay: SpreadEntry | None = None
    ability: SpreadEntry | None = None


# ---------------------------------------------------------------------------------------- rules


class Identified(Entry):
    """An entry with an id of its own."""

    id: str


class FactEntry(Identified):
    """``[[fact]]``: a fact computed from others; its ``name`` is its id."""

    id: Annotated[FactId, Field(alias="name")]
    unit: UnitName
    title: Line
    expr: RuleText
    source: Source
    basis: Basis


class TermEntry(Entry):
    """One named time of a budget."""

    name: Line
    time: RuleText
    part: RoleRef = ""
    when: RuleText | None = None


class RuleHead(Identified):
    """What all rules share."""

    id: Id
    title: Line
    when: RuleText | None = None
    each: RoleRef = ""
    symptoms: Symptoms
    advice: Prose
    source: Source
    basis: Basis


class BudgetEntry(RuleHead):
    """``[[budget]]``: time available >= sum of named delays."""

    room: Id
    available: Annotated[list[TermEntry], Field(min_length=1, max_length=20)]
    spend: Annotated[list[TermEntry], Field(min_length=1, max_length=40)]
    advisory: bool = False


class LimitEntry(RuleHead):
    """``[[limit]]``: a quantity within a rating."""

    room: Id
    value: RuleText
    rating: RuleText
    sense: Literal["at most", "at least"]
    unit: UnitName
    part: RoleRef = ""
    advisory: bool = False


class LogicEntry(RuleHead):
    """``[[rule]]``: an exact requirement."""

    require: RuleText


# ------------------------------------------------------------------------------ work and cautions


class EventEntry(Identified):
    """``[[event]]``: something a machine spends time on, how often in 1000 instructions, and how long."""

    id: Id
    title: Line
    rate: RuleText
    time: RuleText
    source: Source
    basis: Basis


class TraitEntry(Entry):
    """One trait of a workload."""

    value: CellValue
    unit: UnitName
    source: Source | None = None
    basis: Basis | None = None


class WorkloadEntry(Identified):
    """``[[workload]]``: a named kind of work, told by its traits."""

    id: Id
    title: Line
    note: Prose = ""
    traits: Annotated[dict[FactId, TraitEntry], Field(default_factory=dict, max_length=100)]
    source: Source | None = None
    basis: Basis | None = None


class CautionEntry(Identified):
    """``[[caution]]``: a safety note."""

    id: Id
    text: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    when: RuleText | None = None
    commands: Annotated[list[Id], Field(min_length=1, max_length=40)]


# --------------------------------------------------------------------------------------- suspects


class ReadingsEntry(Entry):
    """How readings spread: mean and deviation, median and deviation of the logarithm, or chance of a yes."""

    shape: Literal["normal", "lognormal", "chance"]
    centre: Number
    sigma: Number | None = None
    source: Source
    basis: Basis


class BandEntry(Entry):
    """What readings up to a bound mean; the last band has none."""

    at_most: Number | None = None
    text: Line


class MeasurementEntry(Identified):
    """``[[measurement]]``: something to measure, look at or swap."""

    id: Id
    title: Line
    how: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    unit: UnitName
    kind: Literal["number", "list", "answer"]
    relative_to: RuleText | None = None
    healthy: ReadingsEntry
    faulty: ReadingsEntry
    judge: Annotated[list[BandEntry], Field(min_length=1, max_length=10)]
    places: Annotated[int, Field(ge=1, le=64)] = 1
    rooms: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    minutes: Number
    cautions: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    source: Source
    basis: Basis


class SuspectEntry(Identified):
    """``[[suspect]]``: a cause of instability that no timing cures; ``symptoms`` are weights."""

    id: Id
    title: Line
    signs: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    prior: Number
    when: RuleText | None = None
    only_with: RoleRef = ""
    rate: RuleText
    spread: Number
    warmth: Literal["any", "cold", "warm"] = "any"
    symptoms: Annotated[dict[Id, Number], Field(min_length=1, max_length=8)]
    measurements: Annotated[list[Id], Field(min_length=1, max_length=20)]
    remedy: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    cautions: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    source: Source
    basis: Basis


class RuleFileHead(Entry):
    """A rule file holds nothing at its top but the tables of :data:`SECTIONS`."""


SECTIONS: Mapping[str, type[Entry]] = {
    "family": FamilyEntry,
    "fact": FactEntry,
    "budget": BudgetEntry,
    "limit": LimitEntry,
    "rule": LogicEntry,
    "event": EventEntry,
    "workload": WorkloadEntry,
    "caution": CautionEntry,
    "measurement": MeasurementEntry,
    "suspect": SuspectEntry,
}
"""Top-level tables of a rule file."""

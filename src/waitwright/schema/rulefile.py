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
    """Kind of part that takes the role."""
    title: Line
    """What sits there."""
    purpose: Prose = ""
    """What it is for."""
    each: bool = False
    """True where several parts may have the role, and rules apply to each."""


class ParameterEntry(Entry):
    """``[PARAMETER]`` of ``words/parameters.toml``; bounds in the parameter's unit.

    A parameter ``for_boards`` means something in the automatics of boards only, and to no rule.
    """

    unit: UnitName
    """Unit of its values, or ``text`` or ``flag``."""
    title: Line
    """What it sets."""
    default: RuleText | None = None
    """Its value where no option and no board sets it, in the rule language."""
    least: Number | None = None
    """Smallest value."""
    most: Number | None = None
    """Largest value."""
    values: Annotated[list[Id], Field(min_length=1, max_length=40)] | None = None
    """The texts that it may take."""
    for_boards: bool = False
    """True where only the automatics of boards speak of it."""


class RowWordEntry(Entry):
    """One row in ``[KIND]`` of ``words/rows.toml``."""

    unit: UnitName
    """Unit of the row, or ``text`` or ``flag``."""
    title: Line
    """What the row of the data sheet tells."""
    worst: Literal["max", "min"] = "max"
    """Which of its limits is the worse case."""


class FactWordEntry(Entry):
    """``["FACT"]`` of ``words/counted.toml``, and ``[TRAIT]`` of ``words/traits.toml``."""

    unit: UnitName
    """Unit of its values, or ``text`` or ``flag``."""
    title: Line
    """What it is."""


# ---------------------------------------------------------------------------------------- parts


class RowEntry(Entry):
    """One line of a data sheet: one value for all grades, or a list by grade."""

    unit: UnitName
    """Unit of the values, or ``text`` or ``flag``."""
    value: Cells | None = None
    """The figure, where the sheet gives one: for all grades, or a list with one for each."""
    min: Cells | None = None
    """Least values."""
    typ: Cells | None = None
    """Typical values."""
    max: Cells | None = None
    """Greatest values."""
    source: Source | None = None
    """Where the row comes from, if not from the source of the family."""
    basis: Basis | None = None
    """What that source is worth."""


class SpreadEntry(Entry):
    """Spread of the true delays or abilities of a family, over the data sheet's figure."""

    ratio: Number
    """What an ordinary part really needs, or bears, over what the sheet says."""
    sigma: Number
    """Standard deviation of its logarithm."""
    source: Source
    """Where both come from."""
    basis: Basis
    """What that source is worth."""


class FamilyEntry(Entry):
    """``[[family]]``: a data sheet with its grades."""

    id: Id
    """Id of the family; a dash and a grade behind it make that of a part."""
    kind: FactId
    """Kind of part; tells which rows it may have."""
    title: Line
    """What it is."""
    grades: Annotated[list[Grade], Field(default_factory=lambda: [""], min_length=1, max_length=40)]
    """Grades of the sheet, such as speeds; absent for a family of one part."""
    grade_titles: Annotated[list[Line], Field(min_length=1, max_length=40)] | None = None
    """The grades in words."""
    source: Source | None = None
    """The document: order or part number, title, page or table."""
    basis: Basis | None = None
    """What that source is worth."""
    note: Prose = ""
    """Some sentences about it."""
    rows: Annotated[dict[FactId, RowEntry], Field(min_length=1, max_length=200)]
    """Lines of the data sheet by name."""
    delay: SpreadEntry | None = None
    """How much of their data-sheet maximum true delays take."""
    ability: SpreadEntry | None = None
    """How much of their rating parts really bear."""


# ---------------------------------------------------------------------------------------- rules


class Identified(Entry):
    """An entry with an id of its own."""

    id: str
    """Id of the entry; one of the same id in a folder of your own takes its place."""


class FactEntry(Identified):
    """``[[fact]]``: a fact computed from others; its ``name`` is its id."""

    id: Annotated[FactId, Field(alias="name")]
    """How rules name the fact."""
    unit: UnitName
    """Unit of its values, or ``text`` or ``flag``."""
    title: Line
    """What it is, in words that can stand in a sentence."""
    expr: RuleText
    """How it is computed, in the rule language."""
    source: Source
    """Where the formula comes from."""
    basis: Basis
    """What that source is worth."""


class TermEntry(Entry):
    """One named time of a budget."""

    name: Line
    """What takes the time, or gives it."""
    time: RuleText
    """The time, in the rule language."""
    part: RoleRef = ""
    """Role of the part whose delay it is."""
    when: RuleText | None = None
    """Where the term counts, in the rule language; everywhere if absent."""


class RuleHead(Identified):
    """What all rules share."""

    id: Id
    """Id of the rule; one of the same id in a folder of your own takes its place."""
    title: Line
    """What it is about: the access, then what must be in time."""
    when: RuleText | None = None
    """Where the rule applies, in the rule language; everywhere if absent."""
    each: RoleRef = ""
    """Role for each of whose parts the rule applies once."""
    symptoms: Symptoms
    """What a bench would show if it broke."""
    advice: Prose
    """What to do about it."""
    source: Source
    """Where the rule comes from: document, title, page or table."""
    basis: Basis
    """What that source is worth."""


class BudgetEntry(RuleHead):
    """``[[budget]]``: time available >= sum of named delays."""

    room: Id
    """Part of the machine that it belongs to."""
    available: Annotated[list[TermEntry], Field(min_length=1, max_length=20)]
    """What time there is."""
    spend: Annotated[list[TermEntry], Field(min_length=1, max_length=40)]
    """What takes it, in the order in which the signal meets it."""
    advisory: bool = False
    """True where the rule is shown and decides nothing."""


class LimitEntry(RuleHead):
    """``[[limit]]``: a quantity within a rating."""

    room: Id
    """Part of the machine that it belongs to."""
    value: RuleText
    """The quantity, in the rule language."""
    rating: RuleText
    """What it is held against, in the rule language."""
    sense: Literal["at most", "at least"]
    """Which side of the rating is allowed."""
    unit: UnitName
    """Unit in which both are shown."""
    part: RoleRef = ""
    """Role of the part whose rating it is."""
    advisory: bool = False
    """True where the rule is shown and decides nothing."""


class LogicEntry(RuleHead):
    """``[[rule]]``: an exact requirement."""

    require: RuleText
    """What must be true, in the rule language."""


# ------------------------------------------------------------------------------ work and cautions


class EventEntry(Identified):
    """``[[event]]``: something a machine spends time on, how often in 1000 instructions, and how long."""

    id: Id
    """Id of the event."""
    title: Line
    """What the machine spends time on."""
    rate: RuleText
    """How often in 1000 instructions, in the rule language; names traits as ``work.NAME``."""
    time: RuleText
    """How long one takes, in the rule language."""
    source: Source
    """Where both come from."""
    basis: Basis
    """What that source is worth."""


class TraitEntry(Entry):
    """One trait of a workload."""

    value: CellValue
    """Its value."""
    unit: UnitName
    """Unit of the value."""
    source: Source | None = None
    """Where it comes from, if not from the source of the workload."""
    basis: Basis | None = None
    """What that source is worth."""


class WorkloadEntry(Identified):
    """``[[workload]]``: a named kind of work, told by its traits."""

    id: Id
    """How ``--workload`` names it."""
    title: Line
    """What kind of work it is."""
    note: Prose = ""
    """Some sentences about it."""
    traits: Annotated[dict[FactId, TraitEntry], Field(default_factory=dict, max_length=100)]
    """Its traits by name."""
    source: Source | None = None
    """Where the traits come from."""
    basis: Basis | None = None
    """What that source is worth."""


class CautionEntry(Identified):
    """``[[caution]]``: a safety note."""

    id: Id
    """Id of the caution."""
    text: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    """What to beware of, and how."""
    when: RuleText | None = None
    """Where it shows, in the rule language; everywhere if absent."""
    rooms: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    """Shown only where a changed option bears on rules of these rooms; any change or none if absent."""
    commands: Annotated[list[Id], Field(min_length=1, max_length=40)]
    """Commands whose answer shows it."""


# --------------------------------------------------------------------------------------- suspects


class ReadingsEntry(Entry):
    """How readings spread: mean and deviation, median and deviation of the logarithm, or chance of a yes."""

    shape: Literal["normal", "lognormal", "twosided", "chance"]
    """How the readings are spread; twosided: around the centre, and as far on the other side of 1."""
    centre: Number
    """Mean, median, or chance of a yes."""
    sigma: Number | None = None
    """Standard deviation, of the logarithm where the shape is lognormal."""
    source: Source
    """Where both come from."""
    basis: Basis
    """What that source is worth."""


class BandEntry(Entry):
    """What readings up to a bound mean; the last band has none."""

    at_most: Number | None = None
    """Upper end of the band; absent for the last one."""
    says: Literal["sound", "unclear", "fault"]
    """What such a reading speaks for: a sound machine, neither, or a fault."""
    text: Line
    """What a reading within it means."""


class BoundsEntry(Entry):
    """What a meter can truly show; readings beyond are refused."""

    least: Number
    """Smallest reading."""
    most: Number
    """Largest reading."""
    below: Line
    """What is the matter where it shows less."""
    above: Line
    """What is the matter where it shows more."""


class MeasurementEntry(Identified):
    """``[[measurement]]``: something to measure, look at or swap."""

    id: Id
    """How ``--measure`` names it."""
    title: Line
    """What is measured."""
    how: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    """How to do it safely."""
    unit: UnitName
    """Unit of the readings."""
    kind: Literal["number", "list", "answer"]
    """One number, several of the same thing, or yes or no."""
    relative_to: RuleText | None = None
    """Expected value, in the rule language: the reading is judged as a multiple of it."""
    healthy: ReadingsEntry
    """Readings of a sound machine."""
    faulty: ReadingsEntry
    """Readings where a suspect is at work."""
    judge: Annotated[list[BandEntry], Field(min_length=1, max_length=10)]
    """What readings mean, from the smallest up."""
    bounds: BoundsEntry | None = None
    """What a meter can truly show; any number if absent."""
    printed: Annotated[list[Number], Field(min_length=2, max_length=2)] | None = None
    """Smallest and largest value that such a thing is made with; for lists, which need it."""
    missed: Annotated[Number, Field(gt=0, lt=1)] | None = None
    """Chance that a fault does not show in a number that is read; one in ten if absent."""
    places: Annotated[int, Field(ge=1, le=64)] = 1
    """How many such things a board usually has, of which a fault touches one."""
    rooms: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    """Rooms whose timing, where it made the machine fail, makes the reading look faulty too."""
    minutes: Number
    """How long it takes."""
    cautions: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    """Cautions that belong to it."""
    source: Source
    """Where the readings come from."""
    basis: Basis
    """What that source is worth."""


class SuspectEntry(Identified):
    """``[[suspect]]``: a cause of instability that no timing cures; ``symptoms`` are weights."""

    id: Id
    """How ``--repaired`` names it."""
    title: Line
    """What is the matter."""
    signs: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    """How it shows."""
    prior: Number
    """Share of machines that have it."""
    when: RuleText | None = None
    """Where it does harm, in the rule language; everywhere if absent."""
    only_with: RoleRef = ""
    """Role of the part without which it does not show."""
    rate: RuleText
    """How often it makes the machine fail in an hour while it shows, in the rule language."""
    spread: Number
    """Standard deviation of the logarithm of that rate."""
    warmth: Literal["any", "cold", "warm"] = "any"
    """Whether it shows on a cold or a warm machine."""
    symptoms: Annotated[dict[Id, Number], Field(min_length=1, max_length=8)]
    """Symptom to its share of the failures."""
    measurements: Annotated[list[Id], Field(min_length=1, max_length=20)]
    """Measurements that tell of it."""
    remedy: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    """What to do about it."""
    cautions: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    """Cautions that belong to it."""
    source: Source
    """Where all this comes from."""
    basis: Basis
    """What that source is worth."""


class RuleFileHead(Entry):
    """A rule file holds nothing at its top but the tables of :data:`SECTIONS`."""


MARKING_SECTIONS = ("code", "chip", "module", "spoken")
"""Tables that :mod:`waitwright.schema.markings` describes; named here, as few commands need more of them."""

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

"""What a machine profile may hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, PlainValidator, StringConstraints

from waitwright.schema.problems import Entry
from waitwright.schema.scalars import Id, Line, Number, Prose, Slug, Symptoms, UnitName, shown

BoardName = Annotated[str, StringConstraints(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f]+$")]
LabelKey = Annotated[str, StringConstraints(min_length=1, max_length=130)]


class FitEntry(Entry):
    """Equal parts in one slot."""

    part: Id
    count: Annotated[int, Field(ge=1, le=64)] | None = None
    size_mb: Number | None = None
    refresh: Id | None = None


class EnvironmentEntry(Entry):
    """Measured surroundings: volts at the CPU, degrees Celsius on its case."""

    supply_v: Number | None = None
    case_c: Number | None = None


class ProvenEntry(Entry):
    """What the owner knows of the current settings."""

    hours: Number | None = None
    symptoms: Symptoms | None = None


def _fits(raw: object) -> tuple[Mapping[str, Any], ...]:
    """A part id, a table, or a list of tables (a mixed bank), as raw tables."""
    items = raw if isinstance(raw, list) else [raw]
    fits: list[Mapping[str, Any]] = []
    for item in items[:16]:
        if isinstance(item, str):
            fits.append({"part": item})
        elif isinstance(item, dict):
            fits.append(item)
    if not fits or len(fits) != len(items):
        raise ValueError(f"expected a part id, {{ part = ... }}, or a list of those, found {shown(raw)}")
    return tuple(fits)


RawFits = Annotated[tuple[Mapping[str, Any], ...], PlainValidator(_fits)]
"""The parts of one slot, not yet checked one by one."""


class MachineHead(Entry):
    """The keys of a machine profile, without its lists of tables.

    The parts in ``fit`` are checked one by one as :class:`FitEntry`, whichever way they are written.
    """

    STAND_INS: ClassVar[Mapping[str, Any]] = {"schema": 1, "title": "?", "fit": {}, "current": {}}

    schema_: Annotated[Literal[1], Field(alias="schema")]
    title: Line
    note: Prose = ""
    board: BoardName
    fit: Annotated[dict[Slug, RawFits], Field(max_length=100)]
    current: Annotated[dict[Slug, Id], Field(max_length=200)]
    labels: Annotated[dict[LabelKey, Line], Field(default_factory=dict, max_length=2000)]
    environment: Annotated[EnvironmentEntry, Field(default_factory=EnvironmentEntry)]
    proven: ProvenEntry | None = None


class SpareEntry(Entry):
    """``[[spare]]``: parts in the owner's drawer."""

    part: Id
    count: Annotated[int, Field(ge=1, le=10_000)] = 1


class MeasuredEntry(Entry):
    """``[[measured]]``: a reading of the owner."""

    name: Id
    value: Number
    unit: UnitName
    where: Prose = ""


SECTIONS: Mapping[str, type[Entry]] = {"spare": SpareEntry, "measured": MeasuredEntry}
"""Lists of tables in a machine profile."""

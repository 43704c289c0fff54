"""What a machine profile may hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, PlainValidator, StringConstraints

from waitwright.schema.problems import Entry
from waitwright.schema.scalars import Id, Line, Number, Prose, Slug, Symptoms, UnitName, shown

BoardName = Annotated[str, StringConstraints(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f]+$")]
MAX_FITS = 16
"""Most different parts in one slot."""

LabelKey = Annotated[str, StringConstraints(min_length=1, max_length=130)]


class FitEntry(Entry):
    """Equal parts in one slot."""

    part: Id
    """Id of the part, such as ``fpm-70``."""
    count: Annotated[int, Field(ge=1, le=64)] | None = None
    """How many of them; as many as the slot takes unless told."""
    size_mb: Number | None = None
    """Megabytes of one module."""
    refresh: Id | None = None
    """Part id of the refresh class of a memory module, where it is known."""


class EnvironmentEntry(Entry):
    """Measured surroundings: volts at the CPU, degrees Celsius on its case."""

    supply_v: Number | None = None
    """Volts measured at the CPU."""
    case_c: Number | None = None
    """Degrees Celsius measured on the case of the CPU."""


class ProvenEntry(Entry):
    """What the owner knows of the current settings."""

    hours: Number | None = None
    """How long the current settings have run without a fault."""
    symptoms: Symptoms | None = None
    """How the current settings fail."""


def read_fits(raw: object) -> tuple[Mapping[str, Any], ...]:
    """A part id, a table, or a list of tables (a mixed bank), as raw tables.

    Raises:
        ValueError: if *raw* is none of these.
    """
    items = raw if isinstance(raw, list) else [raw]
    fits: list[Mapping[str, Any]] = []
    for item in items[:MAX_FITS]:
        if isinstance(item, str):
            fits.append({"part": item})
        elif isinstance(item, dict):
            fits.append(item)
    if not fits or len(fits) != len(items):
        raise ValueError(f"expected a part id, {{ part = ... }}, or a list of those, found {shown(raw)}")
    return tuple(fits)


RawFits = Annotated[tuple[Mapping[str, Any], ...], PlainValidator(read_fits)]
"""The parts of one slot, not yet checked one by one."""


class MachineHead(Entry):
    """The keys of a machine profile, without its lists of tables.

    The parts in ``fit`` are checked one by one as :class:`FitEntry`, whichever way they are written.
    """

    STAND_INS: ClassVar[Mapping[str, Any]] = {"schema": 1, "title": "?", "fit": {}, "current": {}}

    schema_: Annotated[Literal[1], Field(alias="schema")]
    """Version of this layout."""
    title: Line
    """What the machine is, in one line."""
    note: Prose = ""
    """Some sentences about it."""
    board: BoardName
    """Path of a board profile, or the name of a packed one."""
    fit: Annotated[dict[Slug, RawFits], Field(max_length=100)]
    """Slot id to what sits in it: a part id, a table, or a list of tables for a mixed bank."""
    current: Annotated[dict[Slug, Id], Field(max_length=200)]
    """Option id to choice id: what is set now."""
    labels: Annotated[dict[LabelKey, Line], Field(default_factory=dict, max_length=2000)]
    """``OPTION`` or ``OPTION.CHOICE`` to what stands on your own screen."""
    environment: Annotated[EnvironmentEntry, Field(default_factory=EnvironmentEntry)]
    """Measured surroundings."""
    proven: ProvenEntry | None = None
    """What is known of the current settings."""


class SpareEntry(Entry):
    """``[[spare]]``: parts in the owner's drawer."""

    part: Id
    """Id of the part."""
    count: Annotated[int, Field(ge=1, le=10_000)] = 1
    """How many of them."""


class MeasuredEntry(Entry):
    """``[[measured]]``: a reading of the owner."""

    name: Id
    """Id of the measurement; ``rules list --kind measurement`` tells them."""
    value: Number
    """What the meter told."""
    unit: UnitName
    """Its unit."""
    where: Prose = ""
    """Where it was measured."""


SECTIONS: Mapping[str, type[Entry]] = {"spare": SpareEntry, "measured": MeasuredEntry}
"""Lists of tables in a machine profile."""

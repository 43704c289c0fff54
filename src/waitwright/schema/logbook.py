"""What a logbook of trials, and of what came between them, may hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, ClassVar, Literal

from pydantic import Field, PlainValidator, StringConstraints

from waitwright.schema.machine import RawFits
from waitwright.schema.problems import Entry
from waitwright.schema.scalars import (
    MOST,
    Cell,
    Id,
    Line,
    Number,
    Slug,
    Symptoms,
    UnitName,
    read_number,
    shown,
)

SCHEMA = 1
"""Version of the logbook's layout that is written, and the newest that is read."""

MAX_UNIT = 40
MAX_WHERE = 100
MAX_READINGS = 64
MAX_NOTE = 600
"""Such a note, with every sign escaped, still fits the longest line that a file may have."""


def read_time(raw: object) -> datetime:
    """*raw* as a moment that all the world agrees on.

    Raises:
        ValueError: if it is no time, or has no offset.
    """
    if isinstance(raw, datetime) and raw.utcoffset() is not None:
        return raw
    raise ValueError(
        f"expected a time with its offset from UTC, such as 2026-01-31T18:30:00+01:00, found {shown(raw)}"
    )


def read_values(raw: object) -> tuple[Cell, ...]:
    """*raw* as one number, a list of them, or true or false.

    Raises:
        ValueError: if it is none of these.
    """
    if isinstance(raw, bool):
        return (raw,)
    items = raw if isinstance(raw, list) else [raw]
    if not 0 < len(items) <= MAX_READINGS:
        raise ValueError(f"expected one number, or a list of at most {MAX_READINGS}")
    return tuple(map(read_number, items))


Time = Annotated[datetime, PlainValidator(read_time)]
Values = Annotated[tuple[Cell, ...], PlainValidator(read_values)]
Note = Annotated[str, StringConstraints(max_length=MAX_NOTE)]
Tried = Annotated[dict[Slug, Id], Field(min_length=1, max_length=200)]
"""The choice of every option that the machine had at the time."""
Hours = Annotated[Number, Field(ge=0, le=100_000)]
TrialNumber = Annotated[int, Field(ge=1, le=MOST)]
Repaired = Annotated[list[Id], Field(default_factory=list, max_length=20)]


class ScoreEntry(Entry):
    """``[[trial.score]]``: what a measuring program told; the unit is whatever that program calls it."""

    value: Annotated[Number, Field(gt=0, le=MOST)]
    """The score."""
    unit: Annotated[str, StringConstraints(min_length=1, max_length=MAX_UNIT)]
    """Its unit, as the measuring program calls it."""
    workload: Id | None = None
    """What it measures."""


class ReadingEntry(Entry):
    """``[[trial.reading]]``, ``[[aside.reading]]``: what a meter told, in numbers or by yes or no."""

    name: Id
    """Id of the measurement."""
    value: Values
    """One reading, a list of readings of the same thing, or true or false."""
    unit: UnitName
    """Unit of the readings."""
    where: Annotated[str, StringConstraints(max_length=MAX_WHERE)] = ""
    """Where it was measured."""
    printed: Annotated[Number, Field(gt=0, le=MOST)] | None = None
    """Value printed on it, in that unit."""


class TrialEntry(Entry):
    """``[[trial]]``: one combination, tried."""

    number: TrialNumber
    """Entries are counted from 1, trials and asides together."""
    time: Time
    """When it was recorded, with the offset from UTC."""
    outcome: Literal["stable", "failed"]
    """How it went."""
    symptoms: Annotated[Symptoms, Field(default_factory=list)]
    """How it failed."""
    hours: Hours | None = None
    """How long it ran, or after how long it failed."""
    repaired: Repaired
    """Suspects that were mended before it."""
    note: Note = ""
    """Words of the owner."""
    withdrawn: bool = False
    """True once it counts no more."""
    settings: Tried
    """The choice of every option at the time."""
    parts: Annotated[dict[Slug, RawFits], Field(max_length=100)] | None = None
    """What was fitted, as under ``fit`` in a profile; the parts of the profile unless told.

    A part id alone stands for a single one.
    """
    score: Annotated[list[ScoreEntry], Field(default_factory=list, max_length=100)]
    """What measuring programs told."""
    reading: Annotated[list[ReadingEntry], Field(default_factory=list, max_length=100)]
    """What meters told."""


class AsideEntry(Entry):
    """``[[aside]]``: what was measured, mended or noted between two trials; no trial itself."""

    number: TrialNumber
    """Entries are counted from 1, trials and asides together."""
    time: Time
    """When it was recorded, with the offset from UTC."""
    repaired: Repaired
    """Suspects that were mended."""
    note: Note = ""
    """Words of the owner."""
    withdrawn: bool = False
    """True once it counts no more."""
    settings: Tried | None = None
    """The choice of every option at the time; those of the trial before unless told."""
    reading: Annotated[list[ReadingEntry], Field(default_factory=list, max_length=100)]
    """What meters told, after any repair."""


class OfferEntry(Entry):
    """``[offer]``: the trial that was offered last."""

    number: TrialNumber
    """Number that the trial will have."""
    time: Time
    """When it was offered, with the offset from UTC."""
    mode: Literal["single", "jump"]
    """One change at a time, or several at once."""
    hours: Annotated[Number, Field(gt=0, le=100_000)] | None = None
    """How long it is to run."""
    reason: Note = ""
    """Why this trial."""
    settings: Tried
    """The choice of every option."""


class LogbookHead(Entry):
    """The keys of a logbook, without its trials."""

    STAND_INS: ClassVar[Mapping[str, object]] = {"schema": SCHEMA, "machine": "?"}

    schema_: Annotated[Literal[1], Field(alias="schema")]
    """Version of this layout; files of a newer one are left alone."""
    machine: Line
    """Name of the machine."""
    offer: OfferEntry | None = None
    """The trial that was offered last."""


SECTIONS: Mapping[str, type[Entry]] = {"trial": TrialEntry, "aside": AsideEntry}
"""Lists of tables in a logbook."""

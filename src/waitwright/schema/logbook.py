"""What a logbook of trials may hold."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, ClassVar, Literal

from pydantic import Field, PlainValidator, StringConstraints

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


def _time(raw: object) -> datetime:
    if isinstance(raw, datetime) and raw.utcoffset() is not None:
        return raw
    raise ValueError(
        f"expected a time with its offset from UTC, such as 2026-01-31T18:30:00+01:00, found {shown(raw)}"
    )


def _values(raw: object) -> tuple[Cell, ...]:
    """One number, a list of them, or true or false."""
    if isinstance(raw, bool):
        return (raw,)
    items = raw if isinstance(raw, list) else [raw]
    if not 0 < len(items) <= MAX_READINGS:
        raise ValueError(f"expected one number, or a list of at most {MAX_READINGS}")
    return tuple(map(read_number, items))


Time = Annotated[datetime, PlainValidator(_time)]
Values = Annotated[tuple[Cell, ...], PlainValidator(_values)]
Note = Annotated[str, StringConstraints(max_length=MAX_NOTE)]
Tried = Annotated[dict[Slug, Id], Field(min_length=1, max_length=200)]
"""The choice of every option that the machine had at the time."""
Hours = Annotated[Number, Field(ge=0, le=100_000)]
TrialNumber = Annotated[int, Field(ge=1, le=MOST)]


class ScoreEntry(Entry):
    """``[[trial.score]]``: what a measuring program told; the unit is whatever that program calls it."""

    value: Annotated[Number, Field(gt=0, le=MOST)]
    unit: Annotated[str, StringConstraints(min_length=1, max_length=MAX_UNIT)]
    workload: Id | None = None


class ReadingEntry(Entry):
    """``[[trial.reading]]``: what a meter told, one number or several of the same thing, or a yes or no."""

    name: Id
    value: Values
    unit: UnitName
    where: Annotated[str, StringConstraints(max_length=MAX_WHERE)] = ""


class TrialEntry(Entry):
    """``[[trial]]``: one combination, tried."""

    number: TrialNumber
    time: Time
    outcome: Literal["stable", "failed"]
    symptoms: Annotated[Symptoms, Field(default_factory=list)]
    hours: Hours | None = None
    repaired: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    note: Note = ""
    withdrawn: bool = False
    settings: Tried
    score: Annotated[list[ScoreEntry], Field(default_factory=list, max_length=100)]
    reading: Annotated[list[ReadingEntry], Field(default_factory=list, max_length=100)]


class OfferEntry(Entry):
    """``[offer]``: the trial that was offered last."""

    number: TrialNumber
    time: Time
    mode: Literal["single", "jump"]
    hours: Annotated[Number, Field(gt=0, le=100_000)] | None = None
    reason: Note = ""
    settings: Tried


class LogbookHead(Entry):
    """The keys of a logbook, without its trials."""

    STAND_INS: ClassVar[Mapping[str, object]] = {"schema": SCHEMA, "machine": "?"}

    schema_: Annotated[Literal[1], Field(alias="schema")]
    machine: Line
    offer: OfferEntry | None = None


SECTIONS: Mapping[str, type[Entry]] = {"trial": TrialEntry}
"""Lists of tables in a logbook."""

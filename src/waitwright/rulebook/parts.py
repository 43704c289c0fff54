"""Catalogue: families of parts as data sheets have them, spread out into one part for each grade."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from waitwright.ids import PartId
from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import Basis, Part, PartValue, Provenance, Row, Scalar, Spread
from waitwright.rulebook.texts import TextReader
from waitwright.rulebook.words import Words
from waitwright.schema.problems import Placed
from waitwright.schema.rulefile import FamilyEntry, RowEntry, SpreadEntry
from waitwright.schema.scalars import MOST, Cell, in_base_units
from waitwright.schema.spans import KeyPath
from waitwright.units import UNITS

_NO_VALUE = "-"
_BOUND_KEYS = ("min", "typ", "max")


def read_family(placed: Placed[FamilyEntry], words: Words, texts: TextReader) -> tuple[Part, ...]:
    """The parts of one family, in the order of its grades."""
    return _FamilyReader(placed, words, texts).read()


@dataclass(slots=True)
class _FamilyReader:
    placed: Placed[FamilyEntry]
    words: Words
    texts: TextReader

    def read(self) -> tuple[Part, ...]:
        entry = self.placed.entry
        kinds = {row.kind for row in self.words.rows.things.values()}
        if entry.kind not in kinds:
            self._fault(("kind",), f"unknown kind of part {entry.kind!r}", did_you_mean(entry.kind, kinds))
            return ()
        titles = entry.grade_titles or entry.grades
        if len(titles) != len(entry.grades):
            self._fault(("grade_titles",), f"expected {len(entry.grades)} of them, as there are grades")
            return ()
        values: list[dict[str, PartValue]] = [{} for _ in entry.grades]
        for name, row in entry.rows.items():
            self._read_row(name, row, values)
        delay = self._spread("delay", entry.delay)
        ability = self._spread("ability", entry.ability)
        return tuple(
            Part(
                id=PartId(f"{entry.id}-{grade}" if grade else entry.id),
                kind=entry.kind,
                family=entry.id,
                grade=grade,
                title=f"{entry.title}, {title}" if title else entry.title,
                values=values[position],
                delay=delay,
                ability=ability,
                note=entry.note,
            )
            for position, (grade, title) in enumerate(zip(entry.grades, titles, strict=True))
        )

    def _fault(self, path: KeyPath, message: str, hint: str = "") -> None:
        self.texts.faults.add(self.placed.file, (*self.placed.path, *path), message, hint)

    def _read_row(self, name: str, row: RowEntry, values: list[dict[str, PartValue]]) -> None:
        path = ("rows", name)
        kind = self.placed.entry.kind
        word = self.words.rows.things.get(f"{kind}/{name}")
        if word is None:
            known = [row.name for row in self.words.rows.things.values() if row.kind == kind]
            self._fault(path, f"no row {name!r} on a data sheet of kind {kind!r}", did_you_mean(name, known))
            return
        if not _same_sort(row.unit, word):
            self._fault((*path, "unit"), f"unit {row.unit!r} does not fit", f"write it in {word.unit!r}")
            return
        provenance = self._provenance(path, row)
        if provenance is None:
            return
        columns = dict(self._columns(path, name, row))
        for suffix, column in columns.items():
            for position, value in enumerate(column):
                if value is not None:
                    values[position][name + suffix] = PartValue(value, row.unit, provenance)
        self._check_order(path, columns)

    def _provenance(self, path: KeyPath, row: RowEntry) -> Provenance | None:
        family = self.placed.entry
        source: str | None = row.source or family.source
        basis: Basis | None = row.basis or family.basis
        for key, found in (("source", source), ("basis", basis)):
            if found is None:
                self._fault(path, f"has no {key}", f"give the row or its family a {key}")
        return self.texts.provenance(source, basis) if source and basis else None

    def _columns(self, path: KeyPath, name: str, row: RowEntry) -> Iterator[tuple[str, list[Scalar | None]]]:
        given = [key for key in _BOUND_KEYS if getattr(row, key) is not None]
        if row.value is not None and given:
            self._fault(path, f"has both value and {given[0]}", "a row has value, or min, typ and max")
        elif row.value is not None:
            yield "", self._column((*path, "value"), row.value, row.unit, negative="_loss" in name)
        elif given and row.unit in {"text", "flag"}:
            self._fault((*path, given[0]), f"a row of unit {row.unit!r} has a value only", "use value")
        elif given:
            for key in given:
                negative = key == "min" or "_loss" in name
                yield f"_{key}", self._column((*path, key), getattr(row, key), row.unit, negative=negative)
        else:
            self._fault(path, "has no value", "give value, or min, typ, max")

    def _column(
        self, path: KeyPath, cells: Cell | tuple[Cell, ...], unit: str, *, negative: bool
    ) -> list[Scalar | None]:
        """One value for each grade; None where the grade has none or it is faulty."""
        grades = self.placed.entry.grades
        if not isinstance(cells, tuple):
            return [self._value(path, cells, unit, negative=negative)] * len(grades)
        if len(cells) != len(grades):
            self._fault(
                path, f"{len(cells)} values for {len(grades)} grades", 'write "-" where there is none'
            )
            return [None] * len(grades)
        return [
            None if cell == _NO_VALUE else self._value((*path, position), cell, unit, negative=negative)
            for position, cell in enumerate(cells)
        ]

    def _value(self, path: KeyPath, cell: Cell, unit: str, *, negative: bool) -> Scalar | None:
        try:
            return in_base_units(cell, unit, least=-MOST if negative else 0)
        except ValueError as error:
            self._fault(path, str(error))
            return None

    def _check_order(self, path: KeyPath, columns: dict[str, list[Scalar | None]]) -> None:
        present = [key for key in _BOUND_KEYS if f"_{key}" in columns]
        for low, high in pairwise(present):
            pairs = zip(columns[f"_{low}"], columns[f"_{high}"], strict=True)
            if any(_above(first, second) for first, second in pairs):
                self._fault(path, f"{low} is above {high}")

    def _spread(self, key: Literal["delay", "ability"], entry: SpreadEntry | None) -> Spread | None:
        if entry is None:
            return None
        if key == "delay" and not 0 < entry.ratio <= 1:
            self._fault((key, "ratio"), "expected typical over maximum: more than 0, at most 1")
        if key == "ability" and not 1 <= entry.ratio <= 1000:
            self._fault((key, "ratio"), "expected true ability over rating: at least 1, at most 1000")
        if not 0 <= entry.sigma <= 1:
            self._fault((key, "sigma"), "expected a spread between 0 and 1")
        return Spread(
            float(entry.ratio), float(entry.sigma), self.texts.provenance(entry.source, entry.basis)
        )


def _same_sort(unit: str, word: Row) -> bool:
    if unit in UNITS and word.unit in UNITS:
        return UNITS[unit].dimension == UNITS[word.unit].dimension
    return unit == word.unit


def _above(first: Scalar | None, second: Scalar | None) -> bool:
    if first is None or second is None or isinstance(first, str) or isinstance(second, str):
        return False
    return first > second

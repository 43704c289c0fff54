"""Words of the rule language: roles, rows, parameters and counted facts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import PurePath
from typing import TypeVar

from waitwright.ids import FactName, ParameterName, RoleName
from waitwright.nearest import did_you_mean
from waitwright.rulebook.domain import Counted, Parameter, Role, Row, Trait
from waitwright.rulebook.shelf import Place, Shelf
from waitwright.rulebook.texts import TextReader
from waitwright.schema.problems import Entry, Placed
from waitwright.schema.rulefile import FactWordEntry, ParameterEntry, RoleEntry, RowWordEntry
from waitwright.schema.scalars import shown
from waitwright.schema.tomlfile import TomlFile
from waitwright.units import Exact, to_base

E = TypeVar("E", bound=Entry)


@dataclass(slots=True)
class Words:
    """The vocabulary as it is being read; rows are shelved as ``kind/row``."""

    roles: Shelf[Role] = field(default_factory=lambda: Shelf("role"))
    parameters: Shelf[Parameter] = field(default_factory=lambda: Shelf("parameter"))
    rows: Shelf[Row] = field(default_factory=lambda: Shelf("row"))
    counted: Shelf[Counted] = field(default_factory=lambda: Shelf("counted fact"))
    traits: Shelf[Trait] = field(default_factory=lambda: Shelf("trait"))


def is_words_file(name: str) -> bool:
    """Whether the file called *name* holds words: it lies in a folder ``words``."""
    return PurePath(name).parent.name == "words"


def read_words(words: Words, file: TomlFile, layer: int, texts: TextReader) -> None:
    """Add the words of one file; its stem tells what kind of words they are."""
    readers: dict[str, Callable[[Words, TomlFile, int, TextReader], None]] = {
        "roles": _read_roles,
        "parameters": _read_parameters,
        "rows": _read_rows,
        "counted": _read_counted,
        "traits": _read_traits,
    }
    stem = PurePath(file.name).stem
    reader = readers.get(stem)
    if reader is None:
        texts.faults.add(file, (), f"unknown file of words {stem!r}", did_you_mean(stem, readers))
        return
    reader(words, file, layer, texts)


def _tables(model: type[E], file: TomlFile, texts: TextReader) -> Iterator[Placed[E]]:
    for name, raw in file.data.items():
        entry = texts.faults.take(model, file, (name,), raw)
        if entry is not None:
            yield Placed(file, (name,), entry)


def _read_roles(words: Words, file: TomlFile, layer: int, texts: TextReader) -> None:
    for placed in _tables(RoleEntry, file, texts):
        entry = placed.entry
        role = Role(RoleName(placed.key), entry.kind, entry.title, entry.purpose, entry.each)
        words.roles.put(texts.faults, placed.key, role, Place(file, placed.path, layer))


def _read_counted(words: Words, file: TomlFile, layer: int, texts: TextReader) -> None:
    for placed in _tables(FactWordEntry, file, texts):
        counted = Counted(FactName(placed.key), placed.entry.unit, placed.entry.title)
        words.counted.put(texts.faults, placed.key, counted, Place(file, placed.path, layer))


def _read_traits(words: Words, file: TomlFile, layer: int, texts: TextReader) -> None:
    for placed in _tables(FactWordEntry, file, texts):
        trait = Trait(placed.key, placed.entry.unit, placed.entry.title)
        words.traits.put(texts.faults, placed.key, trait, Place(file, placed.path, layer))


def _read_rows(words: Words, file: TomlFile, layer: int, texts: TextReader) -> None:
    for kind, table in file.data.items():
        if not isinstance(table, dict):
            texts.faults.add(file, (kind,), f"expected a table of rows, found {shown(table)}")
            continue
        for name, raw in table.items():
            entry = texts.faults.take(RowWordEntry, file, (kind, name), raw)
            if entry is not None:
                row = Row(kind, name, entry.unit, entry.title, entry.worst)
                words.rows.put(texts.faults, f"{kind}/{name}", row, Place(file, (kind, name), layer))


def _read_parameters(words: Words, file: TomlFile, layer: int, texts: TextReader) -> None:
    for placed in _tables(ParameterEntry, file, texts):
        entry = placed.entry
        least = _bound(placed, "least", entry.least, texts)
        most = _bound(placed, "most", entry.most, texts)
        if least is not None and most is not None and least > most:
            texts.faults.add(file, (*placed.path, "least"), "least is above most")
        if entry.values is not None and entry.unit != "text":
            texts.faults.add(file, (*placed.path, "values"), 'only a parameter of unit "text" has values')
        if entry.unit == "text" and entry.values is None:
            texts.faults.add(file, placed.path, 'missing key "values"', "list the texts it may take")
        mark = len(texts.faults.problems)
        default = texts.optional(file, (*placed.path, "default"), entry.default)
        if len(texts.faults.problems) > mark:
            default = None
        parameter = Parameter(
            ParameterName(placed.key),
            entry.unit,
            entry.title,
            default,
            least,
            most,
            tuple(entry.values or ()),
            entry.for_boards,
        )
        words.parameters.put(texts.faults, placed.key, parameter, Place(file, placed.path, layer))


def _bound(placed: Placed[ParameterEntry], key: str, bound: Exact | None, texts: TextReader) -> Exact | None:
    unit = placed.entry.unit
    if bound is None:
        return None
    if unit in {"flag", "text"}:
        texts.faults.add(placed.file, (*placed.path, key), f"a parameter of unit {unit!r} has no bounds")
        return None
    return to_base(Fraction(bound), unit)

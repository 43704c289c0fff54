"""The scalars of all files: exact numbers, texts, ids, and how they become base units."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field, PlainValidator, StringConstraints

from waitwright.nearest import did_you_mean
from waitwright.schema.spans import quoted
from waitwright.units import UNITS, Exact, tidy

MOST = 10**9
"""No quantity in a file is larger than this in its own unit."""

MAX_CELL_TEXT = 200
MAX_CELLS = 40
"""Most values of one line of a data sheet, one for each grade."""

ID_PATTERN = r"^[a-z0-9][a-z0-9._+-]*$"
SLUG_PATTERN = r"^[a-z0-9][a-z0-9-]*$"
FACT_PATTERN = r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*$"
ROLE_PATTERN = r"^([a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*)?$"
NUMBER_PATTERN = r"-?[0-9]{1,40}(?:\.[0-9]{1,40})?(?:/[0-9]{1,40})?"
_NUMBER_TEXT = re.compile(NUMBER_PATTERN)
_NUMBER_WORDS = 'a number such as 12, 12.5 or "100/3"'

Cell = Exact | str | bool
"""A value whose meaning depends on its unit; decimals are exact by now, ratios still text."""


def read_number(raw: object) -> Exact:
    """*raw* as TOML gave it as an exact number.

    Raises:
        ValueError: telling what was expected.
    """
    if isinstance(raw, bool):
        pass
    elif isinstance(raw, int):
        return raw
    elif isinstance(raw, Fraction):
        return tidy(raw)
    elif isinstance(raw, Decimal):
        if not raw.is_finite() or abs(raw.adjusted()) > 20 or len(raw.as_tuple().digits) > 40:
            raise ValueError(f"expected {_NUMBER_WORDS}, within reason")
        return tidy(Fraction(raw))
    elif isinstance(raw, str) and _NUMBER_TEXT.fullmatch(raw):
        over, _, under = raw.partition("/")
        if under and not int(under):
            raise ValueError(f"{shown(raw)} divides by zero")
        return tidy(Fraction(over) / Fraction(under or 1))
    raise ValueError(f"expected {_NUMBER_WORDS}, found {shown(raw)}")


def read_cell(raw: object) -> Cell:
    """*raw* as an exact number, a text or a flag.

    Raises:
        ValueError: if it is a table, a list, a date, or an absurd number.
    """
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, str):
        if len(raw) > MAX_CELL_TEXT:
            raise ValueError(f"expected a text of at most {MAX_CELL_TEXT} characters")
        return raw
    if isinstance(raw, int | Decimal):
        return read_number(raw)
    raise ValueError(f"expected a number, a text, or true or false, found {shown(raw)}")


def read_cells(raw: object) -> Cell | tuple[Cell, ...]:
    """One cell, or a list of cells by grade.

    Raises:
        ValueError: if the list is empty or too long, or an item is no cell.
    """
    if isinstance(raw, list):
        if not 0 < len(raw) <= MAX_CELLS:
            raise ValueError("expected one value, or a list with one value for each grade")
        return tuple(map(read_cell, raw))
    return read_cell(raw)


def in_base_units(cell: Cell, unit: str, *, least: Exact = -MOST, most: Exact = MOST) -> Cell:
    """*cell*, written in *unit* (a unit name, ``text`` or ``flag``), in base units.

    Args:
        least: Smallest number accepted, in *unit*.
        most: Largest number accepted, in *unit*.

    Raises:
        ValueError: if the cell is not what the unit asks for, or is out of bounds.
    """
    if unit == "flag":
        if isinstance(cell, bool):
            return cell
        raise ValueError(f"expected true or false, found {shown(cell)}")
    if unit == "text":
        if isinstance(cell, str):
            return cell
        raise ValueError(f"expected a text, found {shown(cell)}")
    number = read_number(cell)
    if number < least:
        if least == 0:
            raise ValueError(f"{shown(cell)} {unit} is negative")
        raise ValueError(f"{shown(cell)} {unit} is below {plain(least)} {unit}")
    if number > most:
        raise ValueError(f"{shown(cell)} {unit} is above {plain(most)} {unit}")
    return tidy(number * UNITS[unit].scale)


def plain(number: Exact) -> str:
    """*number* as a file would write it: a short decimal where that is exact, a ratio elsewhere."""
    if isinstance(number, Fraction):
        for places in range(1, 13):
            tens = 10**places
            if tens % number.denominator == 0:
                whole, rest = divmod(abs(number.numerator) * (tens // number.denominator), tens)
                return f"{'-' if number < 0 else ''}{whole}.{rest:0{places}d}"
    return str(number)


def shown(raw: object) -> str:
    """A value from a file, short, in words of TOML."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, dict):
        return "a table"
    if isinstance(raw, list | tuple):
        return "a list"
    if isinstance(raw, str):
        return quoted(raw)
    if isinstance(raw, int) and abs(raw) > 10**20:
        return "a huge number"
    text = plain(raw) if isinstance(raw, int | Fraction) else str(raw)
    return text if len(text) <= 40 else text[:37] + "..."


def read_unit(raw: object) -> str:
    """*raw* as the name of a unit, or ``text`` or ``flag``.

    Raises:
        ValueError: if there is no such unit.
    """
    known = [*UNITS, "text", "flag"]
    if isinstance(raw, str) and raw in known:
        return raw
    hint = did_you_mean(raw, known) if isinstance(raw, str) else "expected its name as a text"
    raise ValueError(f"unknown unit {shown(raw)}" + (f"; {hint}" if hint else ""))


Number = Annotated[Exact, PlainValidator(read_number)]
CellValue = Annotated[Cell, PlainValidator(read_cell)]
Cells = Annotated[Cell | tuple[Cell, ...], PlainValidator(read_cells)]
UnitName = Annotated[str, PlainValidator(read_unit)]

Line = Annotated[str, StringConstraints(min_length=1, max_length=300)]
"""One line of text for people."""
Prose = Annotated[str, StringConstraints(max_length=2000)]
"""Some sentences for people."""
RuleText = Annotated[str, StringConstraints(min_length=1, max_length=1000)]
"""Text in the rule language; the parser has stricter bounds of its own."""
Id = Annotated[str, StringConstraints(max_length=60, pattern=ID_PATTERN)]
"""Id of a rule, a part, a choice."""
Slug = Annotated[str, StringConstraints(max_length=60, pattern=SLUG_PATTERN)]
"""Id of a slot or an option: no dots, so that ``option.choice`` reads one way only."""
FactId = Annotated[str, StringConstraints(max_length=60, pattern=FACT_PATTERN)]
"""Name of a fact, a parameter, a role, a row."""
RoleRef = Annotated[str, StringConstraints(max_length=60, pattern=ROLE_PATTERN)]
"""Name of a role, or an empty text for none."""

Basis = Literal["published", "memory", "practice"]
Symptoms = Annotated[
    list[
        Literal[
            "no-start",
            "hang",
            "reboot",
            "memory-error",
            "display-artefact",
            "disk-error",
            "sound-fault",
            "port-error",
        ]
    ],
    Field(max_length=8),
]

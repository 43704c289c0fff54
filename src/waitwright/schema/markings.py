"""What the files under ``rules/markings/`` may hold: how people read parts off a board."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from waitwright.schema.problems import Entry
from waitwright.schema.rulefile import MARKING_SECTIONS, Identified, Source
from waitwright.schema.scalars import Basis, FactId, Id, Line, Number

Digits = Annotated[str, StringConstraints(pattern=r"^[0-9]{1,3}$")]
ChipNumber = Annotated[
    str, StringConstraints(min_length=3, max_length=20, pattern=r"^[a-z]{0,3}[0-9][a-z0-9]*$")
]
Words = Annotated[str, StringConstraints(min_length=1, max_length=40, pattern=r"^[a-z0-9][a-z0-9 /-]*$")]


class CodeEntry(Identified):
    """``[[code]]``: what the figure behind the dash of a memory chip means."""

    id: Id
    """How ``[[chip]]`` names it."""
    title: Line
    """Which chips are marked so."""
    unit: Literal["ns"]
    """Unit of what the figures mean."""
    means: Annotated[
        dict[Digits, Annotated[list[Number], Field(min_length=1, max_length=3)]], Field(max_length=60)
    ]
    """Figure as printed to what it may mean; several where practice knows several."""
    source: Source
    """Where that comes from."""
    basis: Basis
    """What that source is worth."""


class ChipEntry(Identified):
    """``[[chip]]``: the digits that part numbers of one organisation share."""

    id: Id
    """Id of the entry."""
    kind: Literal["sram", "dram"]
    """Kind of part."""
    organisation: Annotated[str, StringConstraints(pattern=r"^[0-9]{1,4}[KM]x[0-9]{1,2}$")]
    """Words by bits, such as 32Kx8."""
    families: Annotated[list[Id], Field(min_length=1, max_length=10)]
    """Families of the catalogue that hold the figures of such chips; the first is the general one."""
    numbers: Annotated[list[ChipNumber], Field(min_length=1, max_length=60)]
    """Digits, with letters between them, as they stand in the part number.

    A maker's letters stand before them only where another maker means another chip by the same digits.
    """
    code: Id
    """The ``[[code]]`` by which its speed is marked."""
    source: Source
    """Where that comes from."""
    basis: Basis
    """What that source is worth."""


class ModuleEntry(Identified):
    """``[[module]]``: what usually sits on a memory module of one size."""

    id: Id
    """Id of the entry."""
    pins: Literal[30, 72]
    """Contacts of the module."""
    size_mb: Number
    """Size of the module in MB."""
    chips: Annotated[list[Annotated[int, Field(ge=1, le=40)]], Field(min_length=1, max_length=6)]
    """How many chips may be on it, parity included or not."""
    refresh: Id
    """Refresh class of those chips."""
    source: Source
    """Where that comes from."""
    basis: Basis
    """What that source is worth."""


class SpokenEntry(Identified):
    """``[[spoken]]``: words for a family of parts, or for parts whose data sheet says a certain text."""

    id: Id
    """Id of the entry."""
    kind: FactId
    """Kind of part."""
    words: Annotated[list[Words], Field(min_length=1, max_length=40)]
    """The words, in lower-case letters."""
    families: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    """Families that are meant; none where a row is given."""
    grade: Annotated[str, StringConstraints(max_length=20)] = ""
    """The one grade of them that is meant, where the words tell it as well, such as a rating."""
    row: FactId | None = None
    """Row of the data sheet that tells which parts are meant."""
    values: Annotated[list[Id], Field(default_factory=list, max_length=20)]
    """What that row says of them."""
    source: Source
    """Where that comes from."""
    basis: Basis
    """What that source is worth."""


SECTIONS: Mapping[str, type[Entry]] = dict(
    zip(MARKING_SECTIONS, (CodeEntry, ChipEntry, ModuleEntry, SpokenEntry), strict=True)
)
"""Tables of markings in a rule file."""

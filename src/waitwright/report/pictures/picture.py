"""What every picture is: a drawing, the same in words, and the same in numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """The numbers of a picture, as text; every row has one cell for each header."""

    caption: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture ready for a page.

    Attributes:
        id: Identifier of the drawing; identifiers inside begin with it.
        title: Its name, in plain text.
        alt: What it shows, in full sentences.
        svg: A whole ``<svg>`` element; every text in it is escaped.
        height: How high it is where it is 360 units wide.
        table: Every number that is drawn, and those for which there was no room.
    """

    id: str
    title: str
    alt: str
    svg: str
    height: float
    table: Table

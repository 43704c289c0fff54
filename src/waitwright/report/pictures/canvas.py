"""A drawing in the making: shapes and escaped text on paper 360 units wide.

Phones show one unit as about one pixel.  Looks are classes of ``paper.css`` only: a page with a strict
content policy takes no inline styles.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

from waitwright.report.pictures.picture import Picture, Table

WIDTH = 360
"""Units across; the height is as it comes."""

LETTER = 7.3
"""Units that one typewritten letter takes, for the widest of the usual fonts."""

LINE = 16
"""Units from one line of text to the next."""

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ODD = re.compile(r"[^A-Za-z0-9_-]+")


def clean(text: str) -> str:
    """*text* on one line, without characters that XML cannot hold."""
    return " ".join(_FORBIDDEN.sub("\ufffd", text).split())


def identifier(*words: str) -> str:
    """An identifier from words, such as rule ids; it begins with a letter."""
    joined = "-".join(filter(None, (_ODD.sub("-", word).strip("-") for word in words)))
    return joined if joined[:1].isalpha() else f"p-{joined}"


def letters(width: float) -> int:
    """How many letters go into *width* units."""
    return int(width / LETTER)


def wrapped(text: str, room: int, most: int = 2) -> list[str]:
    """*text* in lines of at most *room* letters, *most* lines; what goes beyond ends in an ellipsis."""
    lines: list[str] = [""]
    for word in clean(text).split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    lines = [line for line in lines if line] or [""]
    told = lines[:most]
    if len(lines) > most:
        told[-1] = f"{told[-1]} {lines[most]}"
    return [line if len(line) <= room else f"{line[: room - 1].rstrip()}\u2026" for line in told]


class Canvas:
    """Collects the elements of one drawing, whose identifier is *name* (see :func:`identifier`)."""

    def __init__(self, name: str) -> None:
        self.id = name
        self._parts: list[str] = []

    def text(self, x: float, y: float, words: str, look: str = "", anchor: str = "") -> None:
        """A line of text; *y* is its base line, *anchor* is empty, ``middle`` or ``end``."""
        where = f' text-anchor="{anchor}"' if anchor else ""
        self._parts.append(f'<text x="{_n(x)}" y="{_n(y)}"{_look(look)}{where}>{escape(clean(words))}</text>')

    def lines(self, x: float, y: float, lines: Sequence[str], look: str = "") -> float:
        """Several lines of text under one another; returns the base line of the last."""
        for place, line in enumerate(lines):
            self.text(x, y + place * LINE, line, look)
        return y + (len(lines) - 1) * LINE

    def line(self, x1: float, y1: float, x2: float, y2: float, look: str) -> None:
        """A straight line."""
        ends = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
        self._parts.append(f"<line {ends}{_look(look)}/>")

    def box(self, x: float, y: float, width: float, height: float, look: str, hatch: str = "") -> None:
        """A rectangle, filled by its *look* or by one of the hatchings."""
        fill = f' fill="url(#{self.id}-{hatch})"' if hatch else ""
        sides = f'x="{_n(x)}" y="{_n(y)}" width="{_n(max(width, 0))}" height="{_n(height)}"'
        self._parts.append(f"<rect {sides}{fill}{_look(look)}/>")

    def path(self, points: Sequence[tuple[float, float]], look: str, *, closed: bool = False) -> None:
        """Straight strokes from point to point."""
        strokes = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        name = "polygon" if closed else "polyline"
        self._parts.append(f'<{name} points="{strokes}"{_look(look)}/>')

    def circle(self, x: float, y: float, radius: float, look: str) -> None:
        """A circle."""
        self._parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{_look(look)}/>')

    def picture(self, title: str, alt: str, height: float, table: Table) -> Picture:
        """The finished picture, *height* units high."""
        return Picture(self.id, clean(title), clean(alt), self._svg(title, alt, height), height, table)

    def _svg(self, title: str, alt: str, height: float) -> str:
        label, told = f"{self.id}-title", f"{self.id}-desc"
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" id="{self.id}" class="picture" '
            f'viewBox="0 0 {WIDTH} {_n(height)}" '
            f'role="img" aria-labelledby="{label}" aria-describedby="{told}">'
            f'<title id="{label}">{escape(clean(title))}</title>'
            f'<desc id="{told}">{escape(clean(alt))}</desc>'
        )
        return "".join((head, self._hatchings(), *self._parts, "</svg>"))

    def _hatchings(self) -> str:
        """The hatchings in use: pencil strokes one way, crayon strokes the other."""
        drawn = "".join(self._parts)
        found = [
            f'<pattern id="{self.id}-{name}" width="{step}" height="{step}" '
            f'patternUnits="userSpaceOnUse" patternTransform="rotate({turn})">'
            f'<line x1="0" y1="0" x2="0" y2="{step}" class="stroke-{name}"/></pattern>'
            for name, step, turn in (("pencil", 4, 45), ("crayon", 5, -45))
            if f"#{self.id}-{name})" in drawn
        ]
        return f"<defs>{''.join(found)}</defs>" if found else ""


def _look(classes: str) -> str:
    return f" class={quoteattr(classes)}" if classes else ""


def _n(value: float) -> str:
    """A coordinate to a tenth, without trailing zeros."""
    shown = f"{value:.1f}"
    return "0" if shown in {"-0.0", "0.0"} else shown.removesuffix(".0")

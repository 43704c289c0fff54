"""A second opinion: Python itself evaluates rule text, on any numbers that follow its protocols."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from waitwright.expr.nodes import UNIT_CALLS
from waitwright.units import UNITS

_PIECE = re.compile(
    r"(?P<text>'[^']*'|\"[^\"]*\")|(?P<number>\b\d+(?:\.\d+)?)|(?P<name>[a-z_][a-z0-9_.]*)", re.IGNORECASE
)
_KEPT = frozenset({"and", "or", "not", "in", "if", "else", "min", "max", "abs", "ceil", "floor", *UNIT_CALLS})


def python_value(text: str, facts: Mapping[str, Any], number: Callable[[Fraction], Any] = Fraction) -> Any:
    """What Python makes of rule *text*; *number* turns each literal into the numbers to calculate with."""
    literals: list[Any] = []

    def swap(piece: re.Match[str]) -> str:
        if piece["text"] is not None or piece["name"] in _KEPT:
            return piece.group()
        if piece["name"] in {"true", "false"}:
            return str(piece["name"]).capitalize()
        literals.append(number(Fraction(piece["number"])) if piece["number"] else facts[piece["name"]])
        return f"literals[{len(literals) - 1}]"

    known = {
        "literals": literals,
        "min": lambda *values: min(values),
        "max": lambda *values: max(values),
        "ceil": lambda value: number(Fraction(-(-value // 1))),
        "floor": lambda value: number(Fraction(value // 1)),
        **{unit: lambda value, unit=unit: value * UNITS[unit].scale for unit in UNIT_CALLS},
    }
    # The second opinion is the point here, and the text comes from these tests only.
    return eval(_PIECE.sub(swap, text), {"__builtins__": {"abs": abs}}, known)  # noqa: S307


class Unclear(Exception):
    """Floats cannot be expected to settle this the way exact numbers do."""


class Tracked:
    """An exact number that knows how far a float in its place may be off, relative to it.

    It raises :class:`Unclear` where numbers differ by less than floats can tell, without being equal.
    """

    WORST = Fraction(1, 10**13)
    NEAR = Fraction(1, 10**11)

    def __init__(self, value: Fraction, error: Fraction = Fraction(1, 2**53)) -> None:
        if error > self.WORST or (value and not 10**-200 < abs(value) < 10**200):
            raise Unclear
        self.value = value
        self.error = error + Fraction(1, 2**53)

    def __neg__(self) -> Tracked:
        return Tracked(-self.value, self.error)

    def __abs__(self) -> Tracked:
        return Tracked(abs(self.value), self.error)

    def __add__(self, other: Tracked) -> Tracked:
        total = self.value + other.value
        if not total:
            return Tracked(total)
        if abs(total) <= self.NEAR * abs(self.value):
            raise Unclear
        off = abs(self.value) * self.error + abs(other.value) * other.error
        return Tracked(total, off / abs(total))

    def __sub__(self, other: Tracked) -> Tracked:
        return self + -other

    def __mul__(self, other: Tracked | int | Fraction) -> Tracked:
        factor = other if isinstance(other, Tracked) else Tracked(Fraction(other))
        return Tracked(self.value * factor.value, self.error + factor.error)

    def __truediv__(self, other: Tracked) -> Tracked:
        return Tracked(self.value / other.value, self.error + other.error)

    def __floordiv__(self, one: int) -> int:
        off = abs(self.value - round(self.value))
        if off and off <= self.NEAR * abs(self.value):
            raise Unclear
        return self.value // one

    def _difference(self, other: Tracked) -> Fraction:
        difference = self.value - other.value
        if difference and abs(difference) <= self.NEAR * max(abs(self.value), abs(other.value)):
            raise Unclear
        return difference

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Tracked) and self._difference(other) == 0

    def __lt__(self, other: Tracked) -> bool:
        return self._difference(other) < 0

    def __le__(self, other: Tracked) -> bool:
        return self._difference(other) <= 0

    def __gt__(self, other: Tracked) -> bool:
        return self._difference(other) > 0

    def __ge__(self, other: Tracked) -> bool:
        return self._difference(other) >= 0

    __hash__ = None  # type: ignore[assignment]

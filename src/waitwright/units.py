"""Exact quantities: time in picoseconds, clocks as ratios, and the only rounding in the package.

A quantity is an ``int`` where it is whole and a ``Fraction`` where it is not (:data:`Exact`), always
in the base unit of its dimension: picoseconds, 1/ps for frequencies, volts, bytes, and so on.
So 33 1/3 MHz is exactly ``Fraction(1, 30000)`` and its period exactly ``30000`` (ps).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

Exact = int | Fraction
"""A number without rounding: whole numbers as int, everything else as Fraction."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """Exponents of the base quantities; ``Dimension()`` is a plain number (counts, clocks, ratios)."""

    time: int = 0
    volt: int = 0
    byte: int = 0
    kelvin: int = 0
    ampere: int = 0

    def __mul__(self, other: Dimension) -> Dimension:
        return Dimension(
            self.time + other.time,
            self.volt + other.volt,
            self.byte + other.byte,
            self.kelvin + other.kelvin,
            self.ampere + other.ampere,
        )

    def __truediv__(self, other: Dimension) -> Dimension:
        return self * Dimension(-other.time, -other.volt, -other.byte, -other.kelvin, -other.ampere)

    def __str__(self) -> str:
        return _DIMENSION_WORDS.get(self, "a compound quantity")


NUMBER = Dimension()
TIME = Dimension(time=1)
FREQUENCY = Dimension(time=-1)
VOLTAGE = Dimension(volt=1)
SIZE = Dimension(byte=1)
TEMPERATURE = Dimension(kelvin=1)
CURRENT = Dimension(ampere=1)
RESISTANCE = VOLTAGE / CURRENT
CAPACITANCE = (CURRENT * TIME) / VOLTAGE

_DIMENSION_WORDS = {
    NUMBER: "a plain number",
    TIME: "a time",
    FREQUENCY: "a frequency",
    VOLTAGE: "a voltage",
    SIZE: "a memory size",
    TEMPERATURE: "a temperature",
    CURRENT: "a current",
    RESISTANCE: "a resistance",
    CAPACITANCE: "a capacitance",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as files name it: one *name* is *scale* base units of *dimension*."""

    name: str
    dimension: Dimension
    scale: Exact


UNITS: dict[str, Unit] = {
    unit.name: unit
    for unit in (
        Unit("ps", TIME, 1),
        Unit("ns", TIME, 10**3),
        Unit("us", TIME, 10**6),
        Unit("ms", TIME, 10**9),
        Unit("s", TIME, 10**12),
        Unit("h", TIME, 3600 * 10**12),
        Unit("Hz", FREQUENCY, Fraction(1, 10**12)),
        Unit("kHz", FREQUENCY, Fraction(1, 10**9)),
        Unit("MHz", FREQUENCY, Fraction(1, 10**6)),
        Unit("V", VOLTAGE, 1),
        Unit("mV", VOLTAGE, Fraction(1, 1000)),
        Unit("B", SIZE, 1),
        Unit("KB", SIZE, 2**10),
        Unit("MB", SIZE, 2**20),
        Unit("C", TEMPERATURE, 1),
        Unit("mA", CURRENT, Fraction(1, 1000)),
        Unit("A", CURRENT, 1),
        Unit("ohm", RESISTANCE, 1),
        Unit("kohm", RESISTANCE, 1000),
        Unit("Mohm", RESISTANCE, 10**6),
        Unit("pF", CAPACITANCE, 1),
        Unit("nF", CAPACITANCE, 1000),
        Unit("uF", CAPACITANCE, 10**6),
        Unit("clocks", NUMBER, 1),
        Unit("count", NUMBER, 1),
        Unit("bits", NUMBER, 1),
        Unit("loads", NUMBER, 1),
        Unit("ratio", NUMBER, 1),
        Unit("percent", NUMBER, Fraction(1, 100)),
    )
}
"""All units that files may name.  1 pF is the base capacitance since 1 V x 1 pF / 1 ps = 1 A."""


def exact(value: int | float | str | Fraction) -> Exact:
    """*value* as an exact number, an int where whole.

    Text may be a decimal (``"14.31818"``) or a ratio (``"100/3"``).  A float is read through its
    shortest decimal form, so ``0.1`` means one tenth.

    Raises:
        ValueError: if the text is no number, is not finite, or divides by zero.
    """
    try:
        number = Fraction(repr(value) if isinstance(value, float) else value)
    except ZeroDivisionError as error:
        raise ValueError(f"{value!r} divides by zero") from error
    return number.numerator if number.denominator == 1 else number


def tidy(number: Exact) -> Exact:
    """The same number, as an int where whole."""
    if isinstance(number, Fraction) and number.denominator == 1:
        return number.numerator
    return number


def to_base(value: int | float | str | Fraction, unit: str) -> Exact:
    """*value* in *unit* as an exact number of base units.

    Raises:
        ValueError: if *value* is no number.
        KeyError: if *unit* is not one of :data:`UNITS`.
    """
    return tidy(exact(value) * UNITS[unit].scale)


def from_base(number: Exact, unit: str) -> Exact:
    """An exact number of base units expressed in *unit*."""
    return tidy(Fraction(number) / UNITS[unit].scale)


def display(number: Exact, unit: str, decimals: int = 2) -> float:
    """*number* base units in *unit* as a float for people, rounded half to even."""
    return float(round(Fraction(from_base(number, unit)), decimals))


def words(number: Exact, unit: str, decimals: int = 2) -> str:
    """*number* base units as text with its unit, without trailing zeros, e.g. ``"12.5 ns"``."""
    shown = f"{display(number, unit, decimals):.{decimals}f}"
    if "." in shown:
        shown = shown.rstrip("0").rstrip(".")
    if shown == "-0":
        shown = "0"
    return shown if unit in {"count", "ratio"} else f"{shown} {unit}"

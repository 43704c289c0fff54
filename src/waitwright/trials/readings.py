"""What people type of readings and scores: ``ripple=120 mV``, ``36.1 points``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from waitwright.errors import UsageError
from waitwright.nearest import hint_behind
from waitwright.rulebook.domain import Bounds
from waitwright.schema.logbook import MAX_READINGS, MAX_UNIT, MAX_WHERE
from waitwright.schema.scalars import MOST, in_base_units, plain, read_number
from waitwright.schema.spans import quoted
from waitwright.trials.logbook import ANSWER, Reading, Score
from waitwright.units import UNITS, Exact

OFF_SCALE = "OL"
"""What a meter shows for a resistance beyond its range, and people type."""

OPEN: Exact = 10**9
"""What is noted for :data:`OFF_SCALE`, in ohms: no hand-held meter shows so much."""


@dataclass(frozen=True, slots=True)
class Measurable:
    """Something that a meter can tell of a machine.

    Attributes:
        name: What people type, such as ``ripple``.
        title: What it is, in words.
        unit: Usual unit; a reading may be in any unit of the same dimension.  :data:`ANSWER` for what is
            answered by yes or no.
        bounds: What can be read at all, in *unit*; None takes any number.
        several: Whether one reading is a list, as of the elements of a network.
    """

    name: str
    title: str
    unit: str
    bounds: Bounds | None = None
    several: bool = False


def parse_readings(texts: Iterable[str], vocabulary: Mapping[str, Measurable]) -> tuple[Reading, ...]:
    """Texts such as ``ripple=120 mV``, ``network=9.8,10.1,OL kohm beside the slots``, ``warm=yes``.

    Args:
        texts: NAME=VALUE UNIT each, or NAME=yes or no; words behind say where it was measured.
        vocabulary: By name, what can be measured; behind a list ``of 10 kohm`` tells the printed value.

    Raises:
        UsageError: telling which text, and what was expected.
    """
    return tuple(_reading(text, vocabulary) for text in texts)


def _reading(text: str, vocabulary: Mapping[str, Measurable]) -> Reading:
    shown = f"--measure {quoted(text)}"
    name, equals, rest = (part.strip() for part in text.partition("="))
    measurable = vocabulary.get(name)
    if not equals:
        raise UsageError(f"{shown}: expected NAME=VALUE UNIT, NAME one of {', '.join(vocabulary)}")
    if measurable is None:
        hint = hint_behind(name, vocabulary)
        raise UsageError(f"{shown}: nothing called {quoted(name)} is measured{hint}")
    try:
        reading = _answer(name, rest) if measurable.unit == ANSWER else _measured(rest, measurable)
    except ValueError as error:
        raise UsageError(f"{shown}: {error}") from None
    if len(reading.where) > MAX_WHERE or not reading.where.isprintable():
        raise UsageError(f"{shown}: expected at most {MAX_WHERE} plain letters to say where")
    return reading


def _answer(name: str, text: str) -> Reading:
    word, _, where = text.partition(" ")
    if word not in {"yes", "no"}:
        raise ValueError(f"expected yes or no, found {quoted(word)}")
    return Reading(name, (int(word == "yes"),), ANSWER, where.strip())


def _measured(text: str, measurable: Measurable) -> Reading:
    elements, where = _parted(text, measurable)
    if len(elements) > 1 and not measurable.several:
        raise ValueError(f"{measurable.title} is one value; write 9.8, not 9,8")
    if len(elements) > MAX_READINGS:
        raise ValueError(f"expected at most {MAX_READINGS} values")
    units = _units(elements, measurable)
    values = tuple(
        _value(number, unit, measurable) for (number, _), unit in zip(elements, units, strict=True)
    )
    unit = units[0] if len(set(units)) == 1 else measurable.unit
    printed, where = _printed(where, measurable)
    return Reading(measurable.name, values, unit, where, printed)


def _parted(text: str, measurable: Measurable) -> tuple[list[tuple[str, str]], str]:
    """Numbers with their units, empty where none is told, and the place.

    A unit begins at the first letter; the place is what follows a unit and is neither a number nor OL.
    """
    pieces = text.split(",")
    elements: list[tuple[str, str]] = []
    for place, piece in enumerate(pieces):
        number, unit, rest = _piece(piece.strip(), measurable)
        if elements and elements[-1][1] and not number and unit:  # words, after a comma
            return elements, ",".join(pieces[place:]).strip()
        elements.append((number, unit))
        if rest:
            return elements, ",".join((rest, *pieces[place + 1 :])).strip()
    return elements, ""


def _printed(where: str, measurable: Measurable) -> tuple[Exact | None, str]:
    """The printed value at the begin of what follows the readings, and the place behind it."""
    begun, _, rest = where.partition(" ")
    if begun != "of" or not measurable.several or not rest[:1].isdigit():
        return None, where
    [(number, unit), *more], place = _parted(rest, measurable)
    if more:
        raise ValueError(f"expected one printed value after of, such as of 10 {measurable.unit}")
    [unit] = _units([(number, unit)], measurable)
    return _value(number, unit, measurable), place


def _piece(text: str, measurable: Measurable) -> tuple[str, str, str]:
    """A number, its unit, and what follows; behind OL a unit may stand, but need not."""
    first, _, rest = text.partition(" ")
    if measurable.several and first.upper() == OFF_SCALE:
        unit, _, behind = rest.strip().partition(" ")
        return (
            (OFF_SCALE, unit, behind.strip())
            if unit in _allowed(measurable)
            else (OFF_SCALE, "", rest.strip())
        )
    begin = next((place for place, sign in enumerate(text) if sign.isalpha()), len(text))
    unit, _, rest = text[begin:].partition(" ")
    return text[:begin].strip(), unit, rest.strip()


def _units(elements: list[tuple[str, str]], measurable: Measurable) -> list[str]:
    """A unit for each value: its own, else that of the next one that has one, else that of the one before."""
    allowed = _allowed(measurable)
    known = [unit for _, unit in elements if unit]
    if not known and all(number == OFF_SCALE for number, _ in elements):
        known = [measurable.unit]
    for unit in known or [""]:
        if unit not in allowed:
            found = f"found {quoted(unit)}" if unit else "found none"
            wanted = f"{', '.join(allowed[:-1])} or {allowed[-1]}" if len(allowed) > 1 else allowed[0]
            raise ValueError(f"expected a unit after the value, {wanted}; {found}")
    units, unit = [], known[-1]
    for _, own in reversed(elements):
        unit = own or unit
        units.append(unit)
    return units[::-1]


def _allowed(measurable: Measurable) -> list[str]:
    """Units that a reading may be in."""
    dimension = UNITS[measurable.unit].dimension
    return [known.name for known in UNITS.values() if known.dimension == dimension]


def _value(number: str, unit: str, measurable: Measurable) -> Exact:
    if number == OFF_SCALE:
        return OPEN
    value = read_number(in_base_units(number, unit))
    bounds, scale = measurable.bounds, UNITS[measurable.unit].scale
    if bounds is not None and not bounds.least * scale <= value <= bounds.most * scale:
        reason = bounds.below if value < bounds.least * scale else bounds.above
        limits = f"{plain(bounds.least)} to {plain(bounds.most)} {measurable.unit}"
        raise ValueError(f"expected {limits}, found {number[:40]} {unit}: {reason}")
    return value


def parse_score(text: str, workload: str = "") -> Score:
    """A text such as ``36.1 points`` or ``6.3 frames/s``; the unit is free.

    Args:
        text: VALUE UNIT.
        workload: Id of the kind of work that the score measures, where it is known.

    Raises:
        UsageError: telling what was expected.
    """
    shown = f"--score {quoted(text)}"
    number, *words = text.split(maxsplit=1)[:2] or [""]
    unit = " ".join(" ".join(words).split())
    if not unit:
        raise UsageError(f"{shown}: expected VALUE UNIT, such as '36.1 points'")
    try:
        value = read_number(number)
    except ValueError as error:
        raise UsageError(f"{shown}: {error}") from None
    if not 0 < value <= MOST:
        raise UsageError(f"{shown}: expected a value of more than 0, at most {MOST}")
    if len(unit) > MAX_UNIT or not unit.isprintable():
        raise UsageError(f"{shown}: expected a unit of at most {MAX_UNIT} plain letters")
    return Score(value, unit, workload)

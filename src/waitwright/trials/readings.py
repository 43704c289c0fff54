"""What people type of readings and scores: ``ripple=120 mV``, ``36.1 points``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from waitwright.errors import UsageError
from waitwright.nearest import hint_behind
from waitwright.schema.logbook import MAX_READINGS, MAX_UNIT, MAX_WHERE
from waitwright.schema.scalars import MOST, in_base_units, plain, read_number
from waitwright.schema.spans import quoted
from waitwright.trials.logbook import ANSWER, Reading, Score
from waitwright.units import UNITS, Exact


@dataclass(frozen=True, slots=True)
class Measurable:
    """Something that a meter can tell of a machine.

    Attributes:
        name: What people type, such as ``ripple``.
        title: What it is, in words.
        unit: Usual unit; a reading may be in any unit of the same dimension.  :data:`ANSWER` for what is
            answered by yes or no.
        least: Smallest believable reading, in *unit*.
        most: Largest believable reading, in *unit*.
        several: Whether one reading is a list, as of the elements of a network.
    """

    name: str
    title: str
    unit: str
    least: Exact
    most: Exact
    several: bool = False


def parse_readings(texts: Iterable[str], vocabulary: Mapping[str, Measurable]) -> tuple[Reading, ...]:
    """Texts such as ``ripple=120 mV``, ``network=9.8,10.1,104 kohm beside the slots``, ``warm=yes``.

    Args:
        texts: NAME=VALUE UNIT each, or NAME=yes or no; words behind say where it was measured.
        vocabulary: By name, what can be measured.

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
    numbers, unit, where = _parted(text)
    allowed = [known.name for known in UNITS.values() if known.dimension == UNITS[measurable.unit].dimension]
    if unit not in allowed:
        found = f"found {quoted(unit)}" if unit else "found none"
        raise ValueError(f"expected a unit after the value, {' or '.join(allowed)}; {found}")
    values = tuple(_value(number.strip(), unit, measurable) for number in _split(numbers, measurable))
    return Reading(measurable.name, values, unit, where)


def _parted(text: str) -> tuple[str, str, str]:
    """Numbers, unit and place: the unit begins at the first letter."""
    begin = next((place for place, sign in enumerate(text) if sign.isalpha()), len(text))
    unit, _, where = text[begin:].partition(" ")
    return text[:begin].strip(), unit, where.strip()


def _split(numbers: str, measurable: Measurable) -> list[str]:
    values = numbers.split(",")
    if len(values) > 1 and not measurable.several:
        raise ValueError(f"{measurable.title} is one value; write 9.8, not 9,8")
    if len(values) > MAX_READINGS:
        raise ValueError(f"expected at most {MAX_READINGS} values")
    return values


def _value(number: str, unit: str, measurable: Measurable) -> Exact:
    value = read_number(in_base_units(number, unit))
    scale = UNITS[measurable.unit].scale
    if not measurable.least * scale <= value <= measurable.most * scale:
        bounds = f"{plain(measurable.least)} to {plain(measurable.most)} {measurable.unit}"
        raise ValueError(f"expected {measurable.title} of {bounds}, found {number[:40]} {unit}")
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

"""What comes in by forms and addresses, read strictly; what is wrong is told beside its field.

Nothing is decided here: a form becomes what the api takes, in the words that the command line takes, and
what the owner typed is kept, so that nobody has to type it again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite
from urllib.parse import parse_qsl

from waitwright.api.helping import DEFAULT_WANTED
from waitwright.api.opening import Question
from waitwright.api.rank import Wish
from waitwright.api.record import Report
from waitwright.errors import UsageError
from waitwright.report.controls_view import ControlsView
from waitwright.schema.logbook import MAX_NOTE
from waitwright.schema.spans import quoted
from waitwright.timing.soak import DEFAULT_SOAK_HOURS

MOST_FIELDS = 400

Fields = Mapping[str, Sequence[str]]
"""Every value of every field, in the order in which they came."""


class BadForm(Exception):
    """A form that cannot be taken.

    Attributes:
        errors: One clear line for each field that is wrong; ``""`` stands for the form as a whole.
    """

    def __init__(self, errors: Mapping[str, str]) -> None:
        self.errors = errors
        super().__init__("; ".join(errors.values()))


def fields(text: str) -> dict[str, list[str]]:
    """The fields of a query or of a body, ``application/x-www-form-urlencoded``.

    Raises:
        BadForm: if it is no such text, or holds too many fields.
    """
    found: dict[str, list[str]] = {}
    try:
        pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict")
    except (ValueError, UnicodeDecodeError):
        raise BadForm({"": f"expected a form of at most {MOST_FIELDS} fields, in UTF-8"}) from None
    for name, value in pairs:
        found.setdefault(name, []).append(value)
    return found


def one(given: Fields, name: str) -> str:
    """The value of field *name* without blanks around it; empty where there is none; the last of several."""
    values = given.get(name, ())
    return values[-1].strip() if values else ""


# ------------------------------------------------------------------------------------ questions


def question_of(given: Fields, base: Question, controls: ControlsView) -> Question:
    """*base* with the ``set`` and ``part`` fields put over it.

    A choice that the profile has anyway is left out: it is not asked about.
    """
    current = {option.option: option.current for option in controls.options}
    sets = {**_pairs(base.sets), **_pairs(given.get("set", ()))}
    parts = {**_pairs(base.parts), **_pairs(given.get("part", ()))}
    return replace(
        base,
        sets=tuple(f"{name}={value}" for name, value in sets.items() if current.get(name) != value),
        parts=tuple(f"{slot}={part}" for slot, part in parts.items() if part),
    )


def _pairs(texts: Iterable[str]) -> dict[str, str]:
    """``NAME=VALUE`` texts; one without ``=`` is kept as it is, for the api to refuse."""
    return {name: value for name, _, value in (text.partition("=") for text in texts if text.strip())}


def number(text: str, least: float, most: float, what: str) -> float:
    """*text* as a number from *least* to *most*; a comma may stand for the point.

    Raises:
        UsageError: telling what was expected.
    """
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not isfinite(value) or not least <= value <= most:
        raise UsageError(f"{what}: expected a number from {least:g} to {most:g}, found {text[:40]!r}")
    return value


@dataclass(slots=True)
class Reader:
    """Reads fields and collects what is wrong with them."""

    given: Fields
    errors: dict[str, str] = field(default_factory=dict)

    def number(self, name: str, least: float, most: float, what: str) -> float | None:
        """The number in field *name*; None where it is empty or wrong."""
        text = one(self.given, name)
        if not text:
            return None
        try:
            return number(text, least, most, what)
        except UsageError as error:
            self.errors[name] = str(error)
            return None

    def choice(self, name: str, among: Iterable[str], what: str) -> str:
        """The value of field *name*, one of *among*; empty where it is empty or wrong."""
        text = one(self.given, name)
        if text and text not in set(among):
            self.errors[name] = f"{what}: no such choice: {text[:40]!r}"
            return ""
        return text

    def choices(self, name: str, among: Iterable[str], what: str) -> tuple[str, ...]:
        """All values of field *name*, each one of *among*."""
        known = set(among)
        texts = tuple(text for text in self.given.get(name, ()) if text)
        for text in texts:
            if text not in known:
                self.errors[name] = f"{what}: no such choice: {text[:40]!r}"
        return texts

    def finish(self) -> None:
        """End the reading.

        Raises:
            BadForm: if anything was wrong.
        """
        if self.errors:
            raise BadForm(self.errors)


def hours_of(reader: Reader) -> float:
    """Length of the soak test that is asked about."""
    return reader.number("soak", 0.1, 1000, "hours of the soak test") or DEFAULT_SOAK_HOURS


def workload_of(reader: Reader, controls: ControlsView) -> str | None:
    """The kind of work that is asked about; None for the usual one."""
    return reader.choice("workload", (work.id for work in controls.workloads), "kind of work") or None


def usual_wish() -> Wish:
    """The ranking that is shown where nothing else is asked."""
    return Wish(odds=DEFAULT_WANTED, hours=DEFAULT_SOAK_HOURS, curve=True)


def wish_of(reader: Reader, controls: ControlsView) -> Wish:
    """What a ranking should be like.  Odds are in percent; ``exactly`` goes before the slider."""
    exactly = reader.number("exactly", 0, 100, "odds in percent")
    slider = reader.number("odds", 0, 100, "odds in percent")
    odds = exactly if exactly is not None else slider
    return Wish(
        odds=DEFAULT_WANTED if odds is None else round(odds / 100, 6),
        rated=one(reader.given, "judge") == "sheet",
        workload=workload_of(reader, controls),
        fix=reader.choices("fix", (option.option for option in controls.options), "option to leave alone"),
        hours=hours_of(reader),
        curve=one(reader.given, "judge") != "sheet",
    )


# --------------------------------------------------------------------------------------- deeds

_FIELDS = {
    "--score": "score",
    "--measure": "value",
    "--symptom": "symptom",
    "--repaired": "repaired",
    "--set": "set",
    "--hours": "hours",
    "--part": "part",
}
"""The field that stands for a switch of the command line."""


def report_of(given: Fields, controls: ControlsView, sets: Sequence[str]) -> Report:
    """What a form says of a trial of the settings *sets*, or, without any, of what was done without one.

    Raises:
        BadForm: with one line for each field that is wrong.
    """
    reader = Reader(given)
    outcome = reader.choice("outcome", ("stable", "failed"), "outcome")
    symptoms = reader.choices("symptom", controls.symptoms, "how it failed")
    repaired = reader.choices("repaired", (one.id for one in controls.suspects), "mended")
    hours = reader.number("hours", 0, 10_000, "hours")
    planned = reader.number("planned", 0, 10_000, "planned hours")
    trial = reader.number("number", 1, 1e9, "number of the trial")
    note = one(given, "note").replace("\r\n", "\n")
    scores, measures = _scores(reader), _measures(reader, controls)
    workload = workload_of(reader, controls)
    if sets and not outcome:
        reader.errors.setdefault("outcome", "say how it went: it held, or it failed")
    if outcome and not sets:
        reader.errors.setdefault("set", "say which settings the machine ran with")
    if not (sets or outcome or measures or repaired or note or reader.errors):
        reader.errors["measure"] = "nothing to record: choose what was measured or mended, or write a note"
    if len(note) > MAX_NOTE:
        reader.errors["note"] = f"note: expected at most {MAX_NOTE} signs, found {len(note)}"
    reader.finish()
    return Report(
        outcome=outcome or None,
        symptoms=symptoms if outcome == "failed" else (),
        hours=planned if hours is None and outcome == "stable" else hours,
        scores=scores,
        measures=measures,
        repaired=repaired,
        note=note,
        workload=workload,
        number=None if trial is None else int(trial),
    )


def _scores(reader: Reader) -> tuple[str, ...]:
    value, unit = one(reader.given, "score"), one(reader.given, "unit")
    if value and not unit:
        reader.errors["unit"] = "unit of the score: say what the program counts in, such as points"
    return (f"{value.replace(',', '.')} {unit}",) if value and unit else ()


def _measures(reader: Reader, controls: ControlsView) -> tuple[str, ...]:
    known = {one.id: one for one in controls.measurables}
    name = reader.choice("measure", known, "what was measured")
    value, where = one(reader.given, "value"), one(reader.given, "where")
    if not name:
        if value:
            reader.errors.setdefault("measure", "what was measured: choose it, as a value stands beside it")
        return ()
    if not value:
        reader.errors["value"] = "reading: the value is missing"
        return ()
    unit = known[name].unit
    bare = not any(sign.isalpha() for sign in value)
    return (" ".join(filter(None, (f"{name}={value}", unit if bare else "", where))),)


def beside_field(error: UsageError, report: Report) -> BadForm:
    """What the api refuses, told beside the field that it is about, without the switch's name."""
    text = str(error)
    switch = text.split(" ", 1)[0]
    for given in (*report.scores, *report.measures, *report.symptoms, *report.repaired):
        for shown in (quoted(given), given):
            text = text.removeprefix(f"{switch} {shown}: ")
    return BadForm({_FIELDS.get(switch, ""): text})


def hours_again(given: Fields) -> float:
    """The planned hours of a form that comes back; the usual length where it says nothing usable."""
    return Reader(given).number("planned", 0.1, 10_000, "planned hours") or DEFAULT_SOAK_HOURS

"""``record``: put the outcome of a trial into the logbook, or withdraw the last one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from waitwright.api.lessons import lessons
from waitwright.api.opening import Question
from waitwright.api.reading_notes import reading_notes
from waitwright.api.scoring import calibration_view, claims
from waitwright.api.trial_room import TrialRoom, asked_settings, enter, own_store
from waitwright.errors import UsageError
from waitwright.ids import Settings
from waitwright.nearest import hint_behind
from waitwright.report.trial_views import RecordView
from waitwright.rulebook.domain import SYMPTOMS, Symptom
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.logbook import Logbook, Outcome, add, warnings, withdraw
from waitwright.trials.measuring import vocabulary
from waitwright.trials.readings import parse_readings, parse_score


class Overtaken(UsageError):
    """Somebody else has changed the logbook in the meantime; nothing was written."""


@dataclass(frozen=True, slots=True)
class Report:
    """What the owner tells of a trial; texts as they were typed.

    Attributes:
        outcome: ``stable`` or ``failed``.
        hours: How long it ran, or after how long it failed; None takes the soak's length if stable.
        scores: ``VALUE UNIT`` each.
        measures: ``NAME=VALUE UNIT`` each.
        repaired: Ids of suspects that were mended before the trial.
        number: Number that the trial must get; None takes whatever comes.  So two who record at once do
            not record the same trial twice.
    """

    outcome: str
    symptoms: tuple[str, ...] = ()
    hours: float | None = None
    scores: tuple[str, ...] = ()
    measures: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    note: str = ""
    workload: str | None = None
    number: int | None = None


def record(
    question: Question, report: Report, *, now: datetime, hours: float = DEFAULT_SOAK_HOURS
) -> RecordView:
    """Put *report* into the logbook; without ``question.sets`` it means the trial last offered.

    Raises:
        InputError: if anything told is faulty, or the logbook cannot be written; then nothing is changed.
    """
    room = enter(question, hours=hours)
    store = own_store(room, question.machine)
    outcome = _outcome(report.outcome)
    symptoms = tuple(_symptom(symptom) for symptom in report.symptoms)
    readings = parse_readings(report.measures, vocabulary(room.machine))
    repaired = tuple(_suspect(room, name) for name in report.repaired)
    scores = tuple(parse_score(text, report.workload or "") for text in report.scores)
    settings = asked_settings(room, question.sets)
    ran = report.hours if report.hours is not None or outcome == "failed" else _planned(room, settings, hours)

    def entered(book: Logbook) -> Logbook:
        _same(report.number, book.next_number, "to record")
        return add(
            book,
            time=now,
            settings=settings,
            outcome=outcome,
            symptoms=symptoms,
            hours=None if ran is None else Fraction(str(ran)),
            scores=scores,
            readings=readings,
            repaired=repaired,
            note=report.note,
        )

    book = store.change(entered)
    after = replace(room, logbook=book)
    told = (*reading_notes(after, readings), *lessons(after))
    return replace(
        _view(after, book.trials[-1].number, outcome, told),
        claims=claims(book, after.machine, book.trials[-1]),
        calibration=calibration_view(book, after.machine, book.trials[-1]),
    )


def undo(question: Question, *, hours: float = DEFAULT_SOAK_HOURS, number: int | None = None) -> RecordView:
    """Withdraw the last trial that counts, by marking it.

    Args:
        number: Number that it must have; None takes whichever is the last.

    Raises:
        InputError: if there is none, or another one, or the logbook cannot be written.
    """
    gone: list[int] = []

    def without_last(book: Logbook) -> Logbook:
        after = withdraw(book)
        gone.append(book.standing[-1].number)
        _same(number, gone[-1], "to withdraw")
        return after

    room = enter(question, hours=hours)
    book = own_store(room, question.machine).change(without_last)
    after = replace(room, logbook=book)
    return _view(after, gone[-1], "withdrawn", lessons(after))


def _same(expected: int | None, found: int, what: str) -> None:
    if expected not in {None, found}:
        raise Overtaken(
            f"the logbook has changed meanwhile: trial {found} is the one {what} now, not {expected}; "
            "look at it first"
        )


def _view(room: TrialRoom, trial: int, outcome: str, told: tuple[str, ...]) -> RecordView:
    path = "" if room.store is None else str(room.store.path)
    return RecordView(
        room.machine.name,
        trial,
        outcome,
        path,
        room.proven(),
        told,
        warnings(room.logbook, room.machine.options),
    )


def _planned(room: TrialRoom, settings: Settings, hours: float) -> float:
    """How long a trial of *settings* was to run."""
    pending = room.logbook.pending
    if pending is None or pending.hours is None or pending.settings != settings:
        return hours
    return float(pending.hours)


def _suspect(room: TrialRoom, name: str) -> str:
    suspects = room.machine.rulebook.suspects
    if name not in suspects:
        raise UsageError(f"--repaired {name}: no such suspect{hint_behind(name, suspects)}")
    return name


def _outcome(text: str) -> Outcome:
    if text == "stable":
        return "stable"
    if text == "failed":
        return "failed"
    raise UsageError(f"outcome {text!r}: expected stable or failed")


def _symptom(text: str) -> Symptom:
    for symptom in SYMPTOMS:
        if symptom == text:
            return symptom
    raise UsageError(f"--symptom {text}: expected one of {', '.join(SYMPTOMS)}{hint_behind(text, SYMPTOMS)}")

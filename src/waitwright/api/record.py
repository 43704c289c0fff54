"""``record``: put a trial's outcome, or what came between two, into the logbook; withdraw the last entry."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import partial

from waitwright.api.lessons import lessons
from waitwright.api.opening import Question, find_workload
from waitwright.api.reading_notes import reading_notes
from waitwright.api.scoring import calibration_view, claims
from waitwright.api.trial_room import TrialRoom, asked_settings, enter, own_store
from waitwright.errors import InputError, UsageError
from waitwright.ids import Settings
from waitwright.nearest import hint_behind
from waitwright.report.trial_views import RecordView
from waitwright.rulebook.domain import SYMPTOMS, Symptom
from waitwright.schema.logbook import MAX_NOTE
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.history import fitted
from waitwright.trials.logbook import Entry, Logbook, Outcome, Trial, add, add_aside, withdraw
from waitwright.trials.measuring import vocabulary
from waitwright.trials.readings import parse_readings, parse_score

_LEAST_STABLE_H = 1 / 60
"""Shorter runs tell nothing: a machine may take longer to start."""


class Overtaken(UsageError):
    """Somebody else has changed the logbook in the meantime; nothing was written."""


class _Moved(Exception):
    """The logbook is another one than the answer was worked out for."""


@dataclass(frozen=True, slots=True)
class Report:
    """What the owner tells of a trial, or of what was done without one; texts as they were typed.

    Attributes:
        outcome: ``stable`` or ``failed``; None where no trial was made, and something was measured, mended
            or noted.
        hours: How long it ran, or after how long it failed; None takes the soak's length if stable.
        scores: ``VALUE UNIT`` each.
        measures: ``NAME=VALUE UNIT`` each.
        repaired: Ids of suspects that were mended before the trial, and before the readings.
        number: Number that the entry must get; None takes whatever comes.  So two who record at once do
            not record the same twice.
    """

    outcome: str | None = None
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
    """Put *report* into the logbook; without ``question.sets`` a trial means the one last offered.

    The whole answer is worked out before anything is written.

    Raises:
        InputError: if anything told is faulty, or the logbook cannot be written; then nothing is changed.
    """
    if question.parts:
        raise UsageError(
            "record takes no --part: a trial is one of the parts that the profile lists; put others into "
            "it first, with new --edit"
        )
    store = own_store(question.machine)
    while True:
        room = enter(question, hours=hours)
        after = replace(room, logbook=_entered(room, question, report, now, hours))
        view = _recorded(after)
        try:
            store.change(partial(_exchanged, room.logbook, after.logbook))
        except _Moved:
            continue  # somebody was faster: what this entry means is to be worked out anew
        return view


def _exchanged(before: Logbook, after: Logbook, found: Logbook) -> Logbook:
    if found != before:
        raise _Moved
    return after


def _entered(room: TrialRoom, question: Question, report: Report, now: datetime, hours: float) -> Logbook:
    """The logbook of *room* with what *report* tells."""
    book = room.logbook
    _same(report.number, book.next_number, "to record")
    readings = parse_readings(report.measures, vocabulary(room.machine))
    repaired = tuple(_suspect(room, name) for name in report.repaired)
    if len(report.note) > MAX_NOTE:
        raise UsageError(f"--note: expected at most {MAX_NOTE} signs, found {len(report.note)}")
    if report.outcome is None:
        _refuse_of_no_trial(report)
        settings = room.bench.settings if question.sets else None
        return add_aside(
            book, time=now, settings=settings, readings=readings, repaired=repaired, note=report.note
        )
    outcome = _outcome(report.outcome)
    work = "" if report.workload is None else find_workload(room.machine.rulebook, report.workload).id
    tried = asked_settings(room, question.sets)
    ran = report.hours if report.hours is not None or outcome == "failed" else _planned(room, tried, hours)
    if outcome == "stable" and ran is not None and ran < _LEAST_STABLE_H:
        raise UsageError(f"--hours {ran:g}: what runs for less than a minute cannot be called stable")
    return add(
        book,
        time=now,
        settings=tried,
        outcome=outcome,
        symptoms=tuple(_symptom(symptom) for symptom in report.symptoms),
        hours=None if ran is None else Fraction(str(ran)),
        scores=tuple(parse_score(text, work) for text in report.scores),
        readings=readings,
        repaired=repaired,
        note=report.note,
        parts=fitted(room.machine),
    )


def _refuse_of_no_trial(report: Report) -> None:
    """Refuse what tells of a trial, and what tells of nothing, where no outcome is told."""
    if not (report.measures or report.repaired or report.note):
        raise UsageError(
            "record MACHINE: expected stable or failed after the machine, or what there is to note without "
            "a trial: --measure, --repaired, --note"
        )
    given = {"--symptom": report.symptoms, "--score": report.scores, "--workload": report.workload}
    told = [name for name, value in given.items() if value]
    if report.hours is not None:
        told.append("--hours")
    if told:
        raise UsageError(f"{told[0]} tells of a trial: say stable or failed after the machine")


def _recorded(room: TrialRoom) -> RecordView:
    """The answer, the last entry of *room*'s logbook being new."""
    book, entry = room.logbook, room.logbook.entries[-1]
    told = (*reading_notes(room, entry.readings), *lessons(room))
    if not isinstance(entry, Trial):
        return _view(room, entry, "noted", told)
    return replace(
        _view(room, entry, entry.outcome, told),
        claims=claims(book, room.machine, entry),
        calibration=calibration_view(book, room.machine, entry),
    )


def undo(question: Question, *, hours: float = DEFAULT_SOAK_HOURS, number: int | None = None) -> RecordView:
    """Withdraw the last entry that counts, by marking it.

    It is withdrawn before anything is concluded from the logbook: whatever stands there, its owner gets
    it out.

    Args:
        number: Number that it must have; None takes whichever is the last.

    Raises:
        InputError: if there is none, or another one, or the logbook cannot be written.
    """
    gone: list[Entry] = []

    def without_last(book: Logbook) -> Logbook:
        after = withdraw(book)
        gone.append(book.counting[-1])
        _same(number, gone[-1].number, "to withdraw")
        return after

    own_store(question.machine).change(without_last)
    try:
        room = enter(question, hours=hours)
        return _view(room, gone[-1], "withdrawn", lessons(room))
    except InputError as error:
        raise UsageError(f"{_named(gone[-1])} is withdrawn; what follows cannot be told: {error}") from None


def _same(expected: int | None, found: int, what: str) -> None:
    if expected not in {None, found}:
        raise Overtaken(
            f"the logbook has changed meanwhile: entry {found} is the one {what} now, not {expected}; "
            "look at it first"
        )


def _named(entry: Entry) -> str:
    return f"{'trial' if isinstance(entry, Trial) else 'entry'} {entry.number}"


def _view(room: TrialRoom, entry: Entry, outcome: str, told: tuple[str, ...]) -> RecordView:
    return RecordView(
        machine=room.machine.name,
        entry=entry.number,
        trial=entry.number if isinstance(entry, Trial) else None,
        outcome=outcome,
        logbook="" if room.store is None else str(room.store.path),
        proven=room.proven(),
        lessons=told,
        warnings=room.warnings,
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

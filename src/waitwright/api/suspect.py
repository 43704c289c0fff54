"""``suspect``: causes that no setting cures, most likely first, and the measurement that would tell most."""

from __future__ import annotations

from collections.abc import Iterable

from waitwright.api.check import cautions
from waitwright.api.lessons import lessons
from waitwright.api.opening import Question
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.machine import FactTable
from waitwright.report.bands import band_words
from waitwright.report.trial_views import SuspectsView, SuspectView, TestView
from waitwright.rulebook.domain import Measurement, Suspect
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.logbook import Trial
from waitwright.trials.measuring import information, verdict
from waitwright.trials.suspicion import best_measurement, chance_at_work, taken


def suspect(question: Question, *, hours: float = DEFAULT_SOAK_HOURS) -> SuspectsView:
    """Every suspect with its odds after all trials and readings.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty.
    """
    room = enter(question, hours=hours)
    chances = room.standing.suspicion()
    book = room.machine.rulebook
    ordered = sorted(book.suspects.values(), key=lambda one: (-chances[one.id], one.id))
    done = taken(room.standing, room.logbook)
    best = best_measurement(room.standing, book.measurements, done)
    facts = FactTable(room.machine, room.machine.current)
    return SuspectsView(
        machine=room.machine.name,
        title=room.machine.title,
        suspects=tuple(_view(room, one, chances[one.id], done) for one in ordered),
        timing_odds=round(1.0 - room.standing.any_fault(), 6),
        next_test=None if best is None else _test(best, chance_at_work(room.standing, best)),
        lessons=lessons(room),
        warnings=room.warnings,
        cautions=cautions(room.machine, facts, "suspect"),
    )


def _view(room: TrialRoom, one: Suspect, chance: float, done: frozenset[str]) -> SuspectView:
    best = best_measurement(room.standing, one.measurements, done)
    return SuspectView(
        id=one.id,
        title=one.title,
        odds=round(chance, 6),
        prior=one.prior,
        signs=one.signs,
        evidence=tuple(_evidence(room, one)),
        test=None if best is None else _test(best, chance_at_work(room.standing, best)),
        remedy=one.remedy,
    )


def _evidence(room: TrialRoom, one: Suspect) -> Iterable[str]:
    """What speaks for or against a suspect: readings, and its share in each failure."""
    facts = FactTable(room.machine, room.machine.current)
    known = room.machine.rulebook.measurements
    for entry in room.logbook.counting:
        for reading in entry.readings:
            if reading.name in one.measurements:
                band = verdict(known[reading.name], reading, facts)
                which = f"trial {entry.number}" if isinstance(entry, Trial) else f"entry {entry.number}"
                yield f"{which}, {known[reading.name].title}: {band.text}"
    for outcome in room.standing.outcomes:
        if not outcome.stable:
            share = dict(room.standing.blame(outcome)).get(one.id, 0.0)
            if share >= 0.1:
                seen = ", ".join(outcome.symptoms) or "failure"
                yield f"{seen}: explains it with {100 * share:.0f} %"


def _test(measurement: Measurement, chance: float) -> TestView:
    return TestView(
        id=measurement.id,
        title=measurement.title,
        how=measurement.how,
        unit="yes or no" if measurement.kind == "answer" else measurement.unit,
        bands=tuple(band_words(measurement, band) for band in measurement.bands),
        bits=round(information(measurement, chance), 4),
        minutes=measurement.minutes,
        record=_how_to_record(measurement),
    )


def _how_to_record(measurement: Measurement) -> str:
    if measurement.kind == "answer":
        return f"--measure {measurement.id}=yes"
    value = "9.8,9.9,10" if measurement.kind == "list" else "VALUE"
    return f"--measure '{measurement.id}={value} {measurement.unit}'"

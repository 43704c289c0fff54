"""The logbook to read: what was tried, how it went, what was measured."""

from __future__ import annotations

from waitwright.api.check import plain
from waitwright.api.opening import Question
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.explain.figures import plain as number
from waitwright.machine import FactTable
from waitwright.report.logbook_view import EntryView, LogbookView, StepView, TakenView
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.logbook import ANSWER, Reading, Score, Trial, misfits, warnings
from waitwright.trials.measuring import verdict
from waitwright.units import from_base
from waitwright.workload.gain import Pricer, gain


def logbook(
    question: Question, *, hours: float = DEFAULT_SOAK_HOURS, workload: str | None = None
) -> LogbookView:
    """Every trial, the withdrawn ones too, with its speed for *workload*, and what is proven by them.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty.
    """
    room = enter(question, hours=hours, workload=workload)
    pricer = Pricer(room.machine, room.events)
    pending = room.logbook.pending
    return LogbookView(
        machine=room.machine.name,
        title=room.machine.title,
        path="" if room.store is None else str(room.store.path),
        entries=tuple(_entry(room, pricer, trial) for trial in room.logbook.trials),
        proven=room.proven(),
        offer=None if pending is None else pending.number,
        mode=None if pending is None else pending.mode,
        next_number=room.logbook.next_number,
        warnings=warnings(room.logbook, room.machine.options),
    )


def _entry(room: TrialRoom, pricer: Pricer, trial: Trial) -> EntryView:
    machine = room.machine
    fits = not misfits(trial.settings, machine.options)
    suspects = machine.rulebook.suspects
    return EntryView(
        number=trial.number,
        time=trial.time.isoformat(),
        settings=plain(trial.settings),
        steps=_steps(room, trial) if fits else (),
        gain=round(gain(pricer.total(machine.current), pricer.total(trial.settings)), 6) if fits else None,
        fits=fits,
        outcome=trial.outcome,
        symptoms=trial.symptoms,
        hours=None if trial.hours is None else float(trial.hours),
        scores=tuple(map(_score, trial.scores)),
        readings=tuple(_taken(room, trial, reading, fits=fits) for reading in trial.readings),
        repaired=tuple(suspects[name].title if name in suspects else name for name in trial.repaired),
        note=trial.note,
        withdrawn=trial.withdrawn,
    )


def _steps(room: TrialRoom, trial: Trial) -> tuple[StepView, ...]:
    return tuple(
        StepView(
            option.id,
            option.label,
            option.choice(room.machine.current[option.id]).label,
            option.choice(trial.settings[option.id]).label,
        )
        for option in room.machine.options
        if trial.settings[option.id] != room.machine.current[option.id]
    )


def _score(score: Score) -> str:
    work = f" ({score.workload})" if score.workload else ""
    return f"{number(float(score.value), 4)} {score.unit}{work}"


def _taken(room: TrialRoom, trial: Trial, reading: Reading, *, fits: bool) -> TakenView:
    """A reading in its own unit, judged by the machine as it was set then."""
    measurement = room.machine.rulebook.measurements.get(reading.name)
    facts = FactTable(room.machine, trial.settings if fits else room.machine.current)
    return TakenView(
        reading.name,
        reading.name if measurement is None else measurement.title,
        _value(reading),
        "" if measurement is None else verdict(measurement, reading, facts).text,
    )


def _value(reading: Reading) -> str:
    if reading.unit == ANSWER:
        told = "yes" if reading.values[0] else "no"
    else:
        values = ", ".join(number(float(from_base(value, reading.unit)), 4) for value in reading.values)
        told = f"{values} {reading.unit}"
    return f"{told}, {reading.where}" if reading.where else told

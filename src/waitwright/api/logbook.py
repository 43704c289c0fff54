"""The logbook to read: what was tried, how it went, what was measured."""

from __future__ import annotations

from collections.abc import Iterator

from waitwright.api.check import plain
from waitwright.api.opening import Question
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.explain.figures import plain as number
from waitwright.ids import Settings
from waitwright.machine import FactTable
from waitwright.report.logbook_view import EntryView, LogbookView, StepView, TakenView
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.history import fitted
from waitwright.trials.logbook import ANSWER, Aside, Choices, Entry, Reading, Score, Trial, misfits
from waitwright.trials.measuring import verdict
from waitwright.trials.readings import OFF_SCALE, OPEN
from waitwright.units import Exact, from_base
from waitwright.workload.gain import Pricer, gain


def logbook(
    question: Question, *, hours: float = DEFAULT_SOAK_HOURS, workload: str | None = None
) -> LogbookView:
    """Every entry, the withdrawn ones too, trials with their speed for *workload*, and what is proven.

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
        entries=tuple(_entries(room, pricer)),
        proven=room.proven(),
        offer=None if pending is None else pending.number,
        mode=None if pending is None else pending.mode,
        next_number=room.logbook.next_number,
        warnings=room.warnings,
    )


def _entries(room: TrialRoom, pricer: Pricer) -> Iterator[EntryView]:
    """Every entry; readings between trials are judged by the settings of the trial before, unless told."""
    settings: Settings = dict(room.machine.current)
    for entry in room.logbook.entries:
        told = settings if entry.settings is None else dict(entry.settings)
        if isinstance(entry, Trial):
            yield _trial(room, pricer, entry)
        else:
            yield _aside(room, entry, told)
        if not entry.withdrawn:
            settings = told


def _trial(room: TrialRoom, pricer: Pricer, trial: Trial) -> EntryView:
    machine = room.machine
    fits = not misfits(trial.settings, machine.options)
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
        readings=tuple(_taken(room, reading, trial.settings) for reading in trial.readings),
        repaired=_mended(room, trial),
        note=trial.note,
        withdrawn=trial.withdrawn,
        parts=_other_parts(room, trial),
    )


def _aside(room: TrialRoom, aside: Aside, settings: Settings) -> EntryView:
    return EntryView(
        number=aside.number,
        time=aside.time.isoformat(),
        settings={} if aside.settings is None else plain(aside.settings),
        steps=(),
        gain=None,
        fits=True,
        outcome="noted",
        symptoms=(),
        hours=None,
        scores=(),
        readings=tuple(_taken(room, reading, settings) for reading in aside.readings),
        repaired=_mended(room, aside),
        note=aside.note,
        withdrawn=aside.withdrawn,
    )


def _mended(room: TrialRoom, entry: Entry) -> tuple[str, ...]:
    suspects = room.machine.rulebook.suspects
    return tuple(suspects[name].title if name in suspects else name for name in entry.repaired)


def _other_parts(room: TrialRoom, trial: Trial) -> dict[str, tuple[str, ...]]:
    """What sat in the slots that hold something else by now, by slot; nothing where a slot was empty."""
    if trial.parts is None:
        return {}
    now = fitted(room.machine)
    return {
        slot: tuple(str(one.part) for one in trial.parts.get(slot, ()))
        for slot in dict.fromkeys((*trial.parts, *now))
        if trial.parts.get(slot) != now.get(slot)
    }


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


def _taken(room: TrialRoom, reading: Reading, settings: Choices) -> TakenView:
    """A reading in its own unit, judged by the machine as it was set then."""
    measurement = room.machine.rulebook.measurements.get(reading.name)
    fits = not misfits(settings, room.machine.options)
    facts = FactTable(room.machine, settings if fits else room.machine.current)
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
        values = ", ".join(
            OFF_SCALE if value == OPEN else _figure(value, reading.unit) for value in reading.values
        )
        told = f"{values} {reading.unit}"
        if reading.printed is not None:
            told += f" of {_figure(reading.printed, reading.unit)} {reading.unit}"
    return f"{told}, {reading.where}" if reading.where else told


def _figure(value: Exact, unit: str) -> str:
    return number(float(from_base(value, unit)), 4)

"""From the logbook to what belief reads of a machine: trials, readings and repairs as plain facts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from waitwright.machine import FactTable, Machine
from waitwright.machine.build import unfit
from waitwright.rulebook.profiles import History, PastReading, PastTrial
from waitwright.trials.logbook import Entry, Logbook, Parts, Trial, by_reason, listed, misfits
from waitwright.trials.measuring import densities, tested_by


def with_history(machine: Machine, logbook: Logbook) -> Machine:
    """The machine with what *logbook* knows of it."""
    return replace(machine, profile=replace(machine.profile, history=history_of(machine, logbook)))


def history_of(machine: Machine, logbook: Logbook) -> History:
    """What *logbook* knows of *machine*.

    Trials whose settings no longer fit the machine's options, or whose parts its slots, are left out.  The
    last reading at each place counts, and those before a repair for the machine as it was then; a reading
    is about the last failure before it.
    """
    known = machine.rulebook.measurements
    trials: list[PastTrial] = []
    taken: dict[tuple[str, tuple[int, ...]], dict[str, _Taken]] = {}
    failure: PastTrial | None = None
    facts = FactTable(machine, machine.current)
    for entry in logbook.counting:
        repairs = logbook.repairs(entry.number)
        if isinstance(entry, Trial) and not troubles(entry, machine):
            trials.append(_past(entry, machine, repairs))
            failure = None if trials[-1].stable else trials[-1]
        facts = facts_then(entry, machine, facts)
        for reading in entry.readings:
            if reading.name in known:
                mended = tuple(repairs.get(suspect, 0) for suspect in tested_by(machine, reading.name))
                places = taken.setdefault((reading.name, mended), {})
                shown = densities(known[reading.name], reading, facts)
                places[reading.where] = _Taken(shown, repairs, failure)
    readings = tuple(
        PastReading(name, tuple(one.densities for one in places.values()), last.repairs, last.failure)
        for (name, _), places in taken.items()
        for last in [list(places.values())[-1]]
    )
    return History(tuple(trials), readings, logbook.repairs())


@dataclass(frozen=True, slots=True)
class _Taken:
    """A reading as it was taken: its log-densities, the repairs until then, the failure before it."""

    densities: tuple[float, float]
    repairs: Mapping[str, int]
    failure: PastTrial | None


def _past(trial: Trial, machine: Machine, repairs: Mapping[str, int]) -> PastTrial:
    fit = trial.parts if elsewhere(trial, machine) else None
    return PastTrial(trial.settings, trial.outcome == "stable", trial.symptoms, trial.hours, repairs, fit)


def facts_then(entry: Entry, machine: Machine, before: FactTable) -> FactTable:
    """The facts by which the readings of *entry* are judged, *before* being those of the entry before it."""
    if entry.settings is None:
        return before
    fits = not misfits(entry.settings, machine.options)
    return FactTable(machine, entry.settings if fits else machine.current)


# ------------------------------------------------------------------------------------- changed parts


def fitted(machine: Machine) -> Parts:
    """What the profile lists in each slot."""
    return {slot: fits for slot, fits in machine.profile.fit.items() if fits}


def elsewhere(trial: Trial, machine: Machine) -> bool:
    """Whether *trial* ran on other parts than the profile lists."""
    return trial.parts is not None and dict(trial.parts) != fitted(machine)


def troubles(trial: Trial, machine: Machine) -> tuple[str, ...]:
    """Why nothing can be learnt of *machine* from *trial*; empty where all is well."""
    odd = unfit(machine, trial.parts) if trial.parts is not None and elsewhere(trial, machine) else ()
    return (*misfits(trial.settings, machine.options), *odd)


def oddities(logbook: Logbook, machine: Machine) -> tuple[str, ...]:
    """What the owner should know of entries that tell of another machine, or of what is not known."""
    odd_parts = by_reason(
        (trial.number, unfit(machine, trial.parts))
        for trial in logbook.standing
        if trial.parts is not None and elsewhere(trial, machine)
    )
    strange = by_reason((entry.number, _unknown(entry, machine)) for entry in logbook.counting)
    told = [f"{listed(numbers)}: {odd}" for odd, numbers in odd_parts.items()]
    told += [f"{listed(numbers, 'entry')}: {name}" for name, numbers in strange.items()]
    lines = [f"{line}; kept as it is, but not counted" for line in told]
    if logbook.machine != machine.name:
        lines.append(f"the logbook says that it is of {logbook.machine!r}; it is read as this machine's")
    return tuple(lines)


def _unknown(entry: Entry, machine: Machine) -> Iterator[str]:
    """What an entry names that the rules do not know."""
    book = machine.rulebook
    for name in dict.fromkeys(reading.name for reading in entry.readings):
        if name not in book.measurements:
            yield f"no measurement is called {name!r}"
    for name in entry.repaired:
        if name not in book.suspects:
            yield f"no suspect is called {name!r}"

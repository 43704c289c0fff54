"""From the logbook to what belief reads of a machine: trials, readings and repairs as plain facts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.profiles import History, PastReading, PastTrial
from waitwright.trials.logbook import Logbook, misfits
from waitwright.trials.measuring import densities, tested_by


def with_history(machine: Machine, logbook: Logbook) -> Machine:
    """The machine with what *logbook* knows of it."""
    return replace(machine, profile=replace(machine.profile, history=history_of(machine, logbook)))


def history_of(machine: Machine, logbook: Logbook) -> History:
    """What *logbook* knows of *machine*.

    Trials whose settings no longer fit the machine's options are left out.  The last reading at each
    place counts, and those before a repair for the machine as it was then.
    """
    known = machine.rulebook.measurements
    trials: list[PastTrial] = []
    taken: dict[tuple[str, tuple[int, ...]], dict[str, _Taken]] = {}
    failure: Mapping[OptionId, ChoiceId] | None = None
    for trial in logbook.standing:
        fits = not misfits(trial.settings, machine.options)
        repairs = logbook.repairs(trial.number)
        stable = trial.outcome == "stable"
        if fits:
            trials.append(PastTrial(trial.settings, stable, trial.symptoms, trial.hours, repairs))
            failure = failure if stable else trial.settings
        facts = FactTable(machine, trial.settings if fits else machine.current)
        for reading in trial.readings:
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
    failure: Mapping[OptionId, ChoiceId] | None

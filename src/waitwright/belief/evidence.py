"""What profile and logbook tell bends the cloud: draws in which that is likely weigh more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import DEFAULT_DRAWS, Cloud, cloud_at, prior_cloud
from waitwright.belief.faults import faults_of, latents_with_faults
from waitwright.belief.findings import Finding, FindingLikelihood
from waitwright.belief.latents import Latents, latents_of
from waitwright.belief.likelihood import Fit, Outcome, TrialLikelihood
from waitwright.belief.mechanisms import TimingCause
from waitwright.belief.posterior import posterior
from waitwright.belief.strikes import Cause
from waitwright.belief.survival import RuleSurvival
from waitwright.ids import ChoiceId, OptionId, SlotId
from waitwright.machine import Machine
from waitwright.machine.build import as_found, refitted
from waitwright.rulebook.profiles import FitDef
from waitwright.timing.bind import BoundRules, bind

Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]
CauseFinder = Callable[[Machine, BoundRules, Latents, Choices], tuple[TimingCause, ...]]


@dataclass(frozen=True, slots=True)
class Ran:
    """The machine that a trial ran on: with the parts of then, and its rules bound."""

    machine: Machine
    rules: BoundRules


class Formers:
    """One machine with all the parts that it ever ran with; each is put together once."""

    def __init__(self, machine: Machine, rules: BoundRules) -> None:
        """The parts of its profile are in *machine*."""
        self._now = Ran(machine, rules)
        self._then: dict[frozenset[tuple[SlotId, tuple[FitDef, ...]]], Ran] = {}

    def __call__(self, fit: Fit | None) -> Ran:
        """The machine with *fit* in its slots; with the parts of its profile where that is None."""
        if fit is None:
            return self._now
        key = frozenset(fit.items())
        if key not in self._then:
            machine = refitted(self._now.machine, fit)
            self._then[key] = Ran(machine, bind(machine))
        return self._then[key]


def log_survival(machine: Machine, tables: Sequence[RuleSurvival], settings: Choices) -> list[Floats]:
    """Natural logarithm of each rule's survival under *settings*, by draw (tiny values instead of zero)."""
    numbers = _numbers(machine, settings)
    found = []
    for table in tables:
        row = int(table.rows[tuple(numbers[option] for option in table.scope)])
        if row:
            found.append(np.log(np.maximum(table.draws[row].astype(np.float64), 1e-12)))
        else:
            found.append(np.zeros(table.draws.shape[1]))
    return found


def joint_survivals(
    machine: Machine, tables: Sequence[RuleSurvival], wishes: Sequence[Choices], draws: int
) -> Floats:
    """Survival of all rules together, by combination of *wishes* and draw."""
    numbers = [_numbers(machine, wish) for wish in wishes]
    joint = np.ones((len(wishes), draws))
    for table in tables:
        index = tuple(np.array([one[option] for one in numbers], dtype=np.intp) for option in table.scope)
        rows = np.broadcast_to(table.rows[index], len(wishes))
        risky = np.flatnonzero(rows)
        joint[risky] *= table.draws[rows[risky]]
    return joint


def profile_outcome(machine: Machine) -> Outcome | None:
    """What the profile says of its own settings, as a trial: they ran so long, or crashed."""
    proven = machine.profile.proven
    if proven is None:
        return None
    hours = None if proven.hours is None else float(proven.hours)
    return Outcome(machine.profile.current, not proven.symptoms, proven.symptoms, hours, before=True)


def outcomes(machine: Machine) -> tuple[Outcome, ...]:
    """What is known of how combinations fared: the profile's word on its own settings, then the logbook's."""
    first = profile_outcome(machine)
    found = [] if first is None else [first]
    for trial in machine.profile.history.trials:
        hours = None if trial.hours is None else float(trial.hours)
        found.append(
            Outcome(trial.settings, trial.stable, trial.symptoms, hours, repairs=trial.repairs, fit=trial.fit)
        )
    return tuple(found)


def told_cloud(
    machine: Machine,
    rules: BoundRules,
    *,
    seed: int = 0,
    draws: int = DEFAULT_DRAWS,
    with_faults: bool = False,
    finder: CauseFinder = causes_of,
    learnt: Cloud | None = None,
    spread: float = 1.0,
    formers: Formers | None = None,
) -> Cloud:
    """The cloud after all that profile and logbook tell of the machine, with the parts that they speak of.

    A trial that ran on other parts than the profile lists is priced with those: it tells of the parts that
    have stayed, and of the others should they come back.

    A failure may be the fault of a suspect as well, so that its draws hold the suspects' unknowns too;
    hours without failure say nothing on timing that a suspect could change.

    Args:
        with_faults: Have the suspects' unknowns in any case.
        finder: Tells what could stop a combination; one that remembers saves time from trial to trial.
        learnt: What this answers, asked in the same way, for the machine with the parts of its profile;
            saves most of the time for a machine with other ones.
        spread: How far the parts of the profile vary, against the catalogue's word.
        formers: The machine with the parts of its profile and with earlier ones, kept from call to call.
    """
    found = as_found(machine)
    if found is machine or not (outcomes(machine) or machine.profile.history.readings):
        formers = formers or Formers(machine, rules)
        return _learnt(machine, formers, seed, draws, with_faults, finder, spread)
    if learnt is None:
        formers = formers or Formers(found, bind(found))
        learnt = _learnt(found, formers, seed, draws, with_faults, finder, spread)
    return _with_fresh_parts(learnt, machine, seed)


def _with_fresh_parts(learnt: Cloud, machine: Machine, seed: int) -> Cloud:
    """*learnt* with draws of the parts that a what-if puts in, unless they ran in the machine before.

    Nothing else that happened tells of these, so that before and after they are independent of all the rest.
    """
    items = {latent.name: latent for latent in (*learnt.latents.items, *latents_of(machine).items)}
    fresh = prior_cloud(machine, seed=seed, draws=learnt.draws, latents=Latents(tuple(items.values())))
    z = fresh.z.copy()
    z[:, : learnt.z.shape[1]] = learnt.z
    return cloud_at(fresh.latents, z, learnt.weights)


def _learnt(
    machine: Machine,
    formers: Formers,
    seed: int,
    draws: int,
    with_faults: bool,
    finder: CauseFinder,
    spread: float,
) -> Cloud:
    """The cloud of a machine of which nothing is told, or one with the parts of its profile."""
    history, known = machine.profile.history, outcomes(machine)
    with_faults |= bool(history.readings) or not all(outcome.stable for outcome in known)
    if with_faults:
        latents = latents_with_faults(machine, history.repairs, spread)
    else:
        latents = latents_of(machine).wider(spread)
    fits = [one.fit for one in known] + [one.failure.fit for one in history.readings if one.failure]
    latents = _with_former_parts(latents, (formers(fit).machine for fit in fits if fit is not None), spread)
    prior = prior_cloud(machine, seed=seed, draws=draws, latents=latents)
    if not known and not history.readings:
        return prior
    cases = []
    for outcome in known:
        then = formers(outcome.fit)
        causes: list[Cause] = [*finder(then.machine, then.rules, prior.latents, outcome.settings)]
        if with_faults:
            causes += faults_of(then.machine, prior.latents, outcome.settings, outcome.repairs)
        cases.append((outcome, causes))
    trials = TrialLikelihood(cases)
    readings = FindingLikelihood(_findings(machine, formers, prior.latents, finder), machine)
    return posterior(prior, lambda cloud: trials(cloud) + readings(cloud), seed=seed)


def _with_former_parts(latents: Latents, formers: Iterable[Machine], spread: float) -> Latents:
    """*latents*, and behind them those of parts that sat in the *formers* only."""
    items = {latent.name: latent for latent in latents.items}
    for machine in formers:
        for latent in latents_of(machine).wider(spread).items:
            items.setdefault(latent.name, latent)
    return Latents(tuple(items.values()))


def _findings(
    machine: Machine, formers: Formers, latents: Latents, finder: CauseFinder
) -> tuple[Finding, ...]:
    """What was measured, with the timing that may have caused the failure where it would have shown."""
    found = []
    for reading in machine.profile.history.readings:
        measurement = machine.rulebook.measurements[reading.measurement]
        timing: tuple[tuple[TimingCause, bool], ...] = ()
        if reading.failure is not None and measurement.rooms:
            then = formers(reading.failure.fit)
            room = {rule.id: rule.rule.room for rule in then.rules.deciding}
            causes = finder(then.machine, then.rules, latents, reading.failure.settings)
            timing = tuple((cause, room[cause.rule] in measurement.rooms) for cause in causes)
        found.append(Finding(measurement, reading.places, reading.repairs, timing))
    return tuple(found)


def _numbers(machine: Machine, settings: Choices) -> dict[OptionId, int]:
    """The number of each option's choice."""
    return {
        option.id: next(n for n, choice in enumerate(option.choices) if choice.id == settings[option.id])
        for option in machine.options
    }

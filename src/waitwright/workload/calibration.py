"""Calibration: the owner's own scores refine what a workload says about this machine.

A workload's rates are those of some typical program.  Each event gets a factor, 1 before any score,
and a scale turns model time into the program's unit; :mod:`waitwright.workload.regression` has the
equation.  Scores of different units or workloads are separate calibrations.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from waitwright.errors import NoAnswer
from waitwright.machine import Machine
from waitwright.rulebook.domain import Event, Workload
from waitwright.workload.gain import Choices
from waitwright.workload.model import EventTable, event_times
from waitwright.workload.regression import Evidence, Forecast, Posterior, half_width, regress
from waitwright.workload.scores import (
    CONFIDENCE,
    Combination,
    GainEstimate,
    Noise,
    Observation,
    by_settings,
    combination,
    gain_between,
    less_is_better,
    mean_log_time,
    pooled_noise,
)

CORE = "core"

SPREAD = 0.35
"""Standard deviation of the logarithm of an event's true cost over the workload's (assumption: a program
of the named kind does something half as often again, or two thirds as often, as the typical one)."""

CORE_SPREAD = 0.10
"""The same for the core's own work: clocks for an instruction differ less from program to program."""

MISFIT = 0.003
"""What the events leave out of one combination, as a share of its time (assumption)."""


@dataclass(frozen=True, slots=True)
class Prediction:
    """What one run should score, in the unit of the calibration, with its interval of ``CONFIDENCE``."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Rate:
    """An event's true cost over what the workload says of it, with its interval of ``CONFIDENCE``.

    Attributes:
        learned: Share of the doubt about it that the scores have taken away, 0 to 1.
    """

    event: Event
    median: float
    low: float
    high: float
    learned: float


@dataclass(frozen=True, slots=True)
class Fit:
    """One measured combination: the geometric mean of its scores, and what the events alone make of it."""

    settings: Choices
    runs: int
    measured: float
    modelled: float


@dataclass(frozen=True, slots=True)
class Description:
    """A calibration as data, for reports."""

    unit: str
    workload: Workload
    less_is_better: bool
    runs: int
    noise: Noise
    rates: tuple[Rate, ...]
    fits: tuple[Fit, ...]


@dataclass(frozen=True, slots=True)
class Calibration:
    """A workload as the owner's scores know it.  Made by :func:`calibrate`.

    Attributes:
        unit: The unit of all scores.
        noise: How far single runs stray.
        measured: The runs of each measured combination.
        posterior: Belief about scale, events and misfits, in the order of the rulebook's events and of
            *measured*.
    """

    machine: Machine
    workload: Workload
    unit: str
    noise: Noise
    measured: Mapping[Combination, tuple[Observation, ...]]
    posterior: Posterior

    def predict(self, settings: Choices) -> Prediction:
        """What one run under *settings* should score, noise included."""
        forecast = self._forecast(settings)
        variance = self.posterior.variance(forecast.slopes) + forecast.fresh + self.noise.relative**2
        reach = half_width(variance, CONFIDENCE)
        median, *ends = (self._score(forecast.mean + way * reach) for way in (0, -1, 1))
        return Prediction(median, min(ends), max(ends))

    def gain(self, before: Choices, after: Choices) -> GainEstimate:
        """Speed under *after* over speed under *before*, minus one.

        The interval is that of the true gain.  It is real where the whole interval is farther from
        "no difference" than single runs stray.
        """
        if combination(before) == combination(after):
            return gain_between(0.0, 0.0, 0.0)
        old, new = self._forecast(before), self._forecast(after)
        variance = self.posterior.variance(old.slopes - new.slopes) + old.fresh + new.fresh
        reach = half_width(variance, CONFIDENCE)
        middle = old.mean - new.mean
        return gain_between(middle - reach, middle, middle + reach, unseen=self.noise.relative)

    def rates(self) -> tuple[Rate, ...]:
        """Every event's refined factor, in the rulebook's order."""
        found = []
        for event, mean, variance in zip(
            self.machine.rulebook.events.values(),
            self.posterior.rates,
            self.posterior.rate_variances,
            strict=True,
        ):
            reach = half_width(variance, CONFIDENCE)
            learned = 1.0 - sqrt(variance) / _spread(event.id)
            found.append(
                Rate(event, exp(mean), exp(mean - reach), exp(mean + reach), min(max(learned, 0.0), 1.0))
            )
        return tuple(found)

    def describe(self) -> Description:
        """All that a report may want to tell."""
        fits = []
        for runs in self.measured.values():
            settings = runs[0].settings
            modelled = self.posterior.forecast(_times(self.machine, self.workload, settings)).mean
            fits.append(Fit(settings, len(runs), self._score(mean_log_time(runs)), self._score(modelled)))
        return Description(
            self.unit,
            self.workload,
            less_is_better(self.unit),
            sum(fit.runs for fit in fits),
            self.noise,
            self.rates(),
            tuple(fits),
        )

    def on(self, machine: Machine) -> Calibration:
        """What the scores teach about the same owner's machine with other parts: nothing is measured there.

        *machine* has the same rulebook.
        """
        return replace(self, machine=machine, measured={})

    def _forecast(self, settings: Choices) -> Forecast:
        places = {key: place for place, key in enumerate(self.measured)}
        times = _times(self.machine, self.workload, settings)
        return self.posterior.forecast(times, places.get(combination(settings)))

    def _score(self, log_time: float) -> float:
        return exp(log_time if less_is_better(self.unit) else -log_time)


def calibrate(machine: Machine, workload: Workload, observations: Sequence[Observation]) -> Calibration:
    """Refine *workload* by scores of *machine*, in whatever order they come.

    The noise is taken from repeated runs (:func:`waitwright.workload.scores.pooled_noise`) and then
    counts as known.

    Raises:
        ValueError: if there is no observation, or they differ in unit, or are of another workload.
        NoAnswer: if no event of the work has a known time under some measured settings.
    """
    kinds = {observation.kind for observation in observations}
    if len(kinds) != 1 or {work for _, work in kinds} != {workload.id}:
        raise ValueError(f"expected scores of {workload.id!r} in one unit, found {sorted(kinds)}")
    measured = by_settings(observations)
    noise = pooled_noise(measured.values())
    evidence = Evidence(
        times=np.array([_times(machine, workload, runs[0].settings) for runs in measured.values()]),
        log_times=np.array([mean_log_time(runs) for runs in measured.values()]),
        runs=np.array([len(runs) for runs in measured.values()]),
        spreads=np.array([_spread(name) for name in machine.rulebook.events]),
        noise=noise.relative,
        misfit=MISFIT,
    )
    return Calibration(machine, workload, observations[0].unit, noise, measured, regress(evidence))


def refined_tables(tables: Sequence[EventTable], calibration: Calibration) -> tuple[EventTable, ...]:
    """*tables* with each event's cost as the owner's scores have it, so that a search ranks by them."""
    factors = {rate.event.id: rate.median for rate in calibration.rates()}
    return tuple(
        replace(table, values=np.rint(table.values * factors[table.event.id]).astype(np.int64))
        for table in tables
    )


def _spread(event: str) -> float:
    return CORE_SPREAD if event == CORE else SPREAD


def _times(machine: Machine, workload: Workload, settings: Choices) -> NDArray[np.float64]:
    """Event times in picoseconds per 1000 instructions; what is unknown counts as none."""
    found = np.array([float(event.total or 0) for event in event_times(machine, workload, settings)])
    if not found.any():
        raise NoAnswer(f"no time is known of any event of {workload.title!r}, so scores cannot be explained")
    return found

"""Readings of measurements: what they say of faults, and which measurement would tell most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import exp

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.causes import TimingCause, causes_of
from waitwright.belief.findings import Finding
from waitwright.belief.latents import Latents
from waitwright.expr import evaluate
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Band, Measurement, Readings
from waitwright.timing.bind import BoundRules
from waitwright.trials.logbook import Logbook, Reading, Trial, misfits
from waitwright.trials.networks import judge_network
from waitwright.trials.readings import Measurable
from waitwright.units import from_base

Floats = NDArray[np.float64]

_GRID = 400
_FIXED_MINUTES = 5.0
"""What any measurement costs beside its own time: fetching the tool, opening the case."""


def vocabulary(machine: Machine) -> dict[str, Measurable]:
    """What can be recorded with ``--measure``, by name."""
    return {
        measurement.id: Measurable(
            name=measurement.id,
            title=measurement.title,
            unit=measurement.unit,
            least=0,
            most=10**6,
            several=measurement.kind == "list",
        )
        for measurement in machine.rulebook.measurements.values()
    }


def findings(machine: Machine, rules: BoundRules, latents: Latents, logbook: Logbook) -> tuple[Finding, ...]:
    """What the readings in *logbook* say: for each, how well it fits a healthy machine and a faulty one.

    The last reading at each place counts, and those before a repair for the machine as it was then.
    """
    known = machine.rulebook.measurements
    taken: dict[tuple[str, tuple[int, ...]], dict[str, _Taken]] = {}
    failure: Trial | None = None
    for trial in logbook.standing:
        fits = not misfits(trial.settings, machine.options)
        failure = trial if fits and trial.outcome == "failed" else failure
        repairs = logbook.repairs(trial.number)
        facts = FactTable(machine, trial.settings if fits else machine.current)
        for reading in trial.readings:
            if reading.name in known:
                mended = tuple(repairs.get(suspect, 0) for suspect in tested_by(machine, reading.name))
                places = taken.setdefault((reading.name, mended), {})
                places[reading.where] = _Taken(
                    _densities(known[reading.name], reading, facts), repairs, failure
                )
    return tuple(
        Finding(
            known[name],
            tuple(one.densities for one in places.values()),
            next(iter(places.values())).repairs,
            _timing(machine, rules, latents, known[name], [*places.values()][-1].failure),
        )
        for (name, _), places in taken.items()
    )


@dataclass(frozen=True, slots=True)
class _Taken:
    """A reading as it was taken: its log-densities, the repairs until then, the failure before it."""

    densities: tuple[float, float]
    repairs: Mapping[str, int]
    failure: Trial | None


def tested_by(machine: Machine, measurement: str) -> tuple[str, ...]:
    """The suspects that a measurement tests."""
    suspects = machine.rulebook.suspects.values()
    return tuple(one.id for one in suspects if measurement in one.measurements)


def _timing(
    machine: Machine, rules: BoundRules, latents: Latents, measurement: Measurement, failure: Trial | None
) -> tuple[tuple[TimingCause, bool], ...]:
    """The timing that may have caused *failure*, where the measurement would show some of it."""
    if failure is None or not measurement.rooms:
        return ()
    room = {rule.id: rule.rule.room for rule in rules.deciding}
    causes = causes_of(machine, rules, latents, failure.settings)
    return tuple((cause, room[cause.rule] in measurement.rooms) for cause in causes)


def relative(measurement: Measurement, reading: Reading, facts: FactTable) -> tuple[float, ...]:
    """The values that a measurement is judged by: in its unit, or over what is expected."""
    if measurement.kind == "answer":
        return tuple(float(value) for value in reading.values)
    if measurement.relative_to is not None:
        expected = evaluate(measurement.relative_to, facts)
        if isinstance(expected, int | Fraction) and expected:
            return tuple(float(Fraction(value) / Fraction(expected)) for value in reading.values)
    return tuple(float(from_base(value, measurement.unit)) for value in reading.values)


def _densities(measurement: Measurement, reading: Reading, facts: FactTable) -> tuple[float, float]:
    """Log-densities of *reading* on a healthy machine and on a faulty one."""
    values = relative(measurement, reading, facts)
    if measurement.kind == "list":
        judged = judge_network(measurement, values)
        return judged.healthy, judged.faulty
    value = values[0]
    return measurement.healthy.log_density(value), measurement.faulty.log_density(value)


def verdict(measurement: Measurement, reading: Reading, facts: FactTable) -> Band:
    """The worst band that any value of *reading* falls into."""
    values = relative(measurement, reading, facts)
    if measurement.kind == "list":
        values = tuple(element.ratio for element in judge_network(measurement, values).elements)
    return measurement.judge(max(values))


def information(measurement: Measurement, chance: float) -> float:
    """Bits that the measurement is expected to tell about a fault that is there with probability *chance*."""
    if not 0 < chance < 1:
        return 0.0
    healthy, faulty = _profile(measurement)
    mixed = chance * faulty + (1 - chance) * healthy
    with np.errstate(divide="ignore", invalid="ignore"):
        tells = chance * np.where(faulty > 0, faulty * np.log2(faulty / mixed), 0.0)
        tells += (1 - chance) * np.where(healthy > 0, healthy * np.log2(healthy / mixed), 0.0)
    return max(0.0, float(tells.sum()))


def worth(measurement: Measurement, chance: float) -> float:
    """Expected bits for each minute of work."""
    return information(measurement, chance) / (measurement.minutes + _FIXED_MINUTES)


def _profile(measurement: Measurement) -> tuple[Floats, Floats]:
    """Probability of each cell of a common grid of readings, healthy and faulty."""
    if measurement.kind == "answer":
        pair = (measurement.healthy.centre, measurement.faulty.centre)
        return np.array([1 - pair[0], pair[0]]), np.array([1 - pair[1], pair[1]])
    both = (measurement.healthy, measurement.faulty)
    logs = all(one.shape == "lognormal" for one in both)
    low = min(_edge(one, -5.0, logs=logs) for one in both)
    high = max(_edge(one, 5.0, logs=logs) for one in both)
    grid = np.linspace(low, high, _GRID)
    cells = [np.array([exp(_density(one, point, logs=logs)) for point in grid]) for one in both]
    return cells[0] / cells[0].sum(), cells[1] / cells[1].sum()


def _edge(readings: Readings, sigmas: float, *, logs: bool) -> float:
    if readings.shape == "lognormal":
        edge = float(np.log(readings.centre) + sigmas * readings.sigma)
        return edge if logs else exp(edge)
    return readings.centre + sigmas * readings.sigma


def _density(readings: Readings, point: float, *, logs: bool) -> float:
    if logs:
        return readings.log_density(exp(point)) + point
    if readings.shape == "lognormal" and point <= 0:
        return float("-inf")
    return readings.log_density(point)

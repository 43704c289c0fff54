"""Readings of measurements: what they say of faults, and which measurement would tell most."""

from __future__ import annotations

from fractions import Fraction
from math import exp

import numpy as np
from numpy.typing import NDArray

from waitwright.expr import evaluate
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Band, Measurement, Readings
from waitwright.trials.logbook import Reading
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


def tested_by(machine: Machine, measurement: str) -> tuple[str, ...]:
    """The suspects that a measurement tests."""
    suspects = machine.rulebook.suspects.values()
    return tuple(one.id for one in suspects if measurement in one.measurements)


def relative(measurement: Measurement, reading: Reading, facts: FactTable) -> tuple[float, ...]:
    """The values that a measurement is judged by: in its unit, or over what is expected."""
    if measurement.kind == "answer":
        return tuple(float(value) for value in reading.values)
    if measurement.relative_to is not None:
        expected = evaluate(measurement.relative_to, facts)
        if isinstance(expected, int | Fraction) and expected:
            return tuple(float(Fraction(value) / Fraction(expected)) for value in reading.values)
    return tuple(float(from_base(value, measurement.unit)) for value in reading.values)


def densities(measurement: Measurement, reading: Reading, facts: FactTable) -> tuple[float, float]:
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

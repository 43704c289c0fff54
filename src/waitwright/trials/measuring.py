"""Readings of measurements: what they say of faults, and which measurement would tell most."""

from __future__ import annotations

from fractions import Fraction
from math import exp, log, log1p

import numpy as np
from numpy.typing import NDArray

from waitwright.expr import evaluate
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Band, Measurement, Readings
from waitwright.trials.logbook import Reading
from waitwright.trials.networks import NetworkVerdict, judge_network, judgement
from waitwright.trials.readings import OPEN, Measurable
from waitwright.units import Exact, from_base

Floats = NDArray[np.float64]

_SLIP = 1e-3
"""Chance that a sound machine's reading is noted as anything at all: a slip of hand, eye or meter
(assumption)."""

_UNREADABLE = Band(
    None, "no meter shows that there: it tells of the meter, not of the machine; measure again", "unclear"
)
_UNEXPECTED = Band(None, "there is nothing to compare it with at these settings", "unclear")

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
            bounds=measurement.bounds,
            several=measurement.kind == "list",
        )
        for measurement in machine.rulebook.measurements.values()
    }


def tested_by(machine: Machine, measurement: str) -> tuple[str, ...]:
    """The suspects that a measurement tests."""
    suspects = machine.rulebook.suspects.values()
    return tuple(one.id for one in suspects if measurement in one.measurements)


def expected(measurement: Measurement, facts: FactTable) -> Exact | None:
    """The value that a reading is compared with, in base units; None where there is none."""
    if measurement.relative_to is None:
        return None
    value = evaluate(measurement.relative_to, facts)
    return value if isinstance(value, int | Fraction) and not isinstance(value, bool) and value else None


def densities(measurement: Measurement, reading: Reading, facts: FactTable) -> tuple[float, float]:
    """Log-densities of *reading* on a healthy machine and on a faulty one, each up to the same constant.

    What no meter can truly show, and what nothing is expected of, says nothing either way.
    """
    if measurement.kind == "list" and _believable(measurement, reading):
        judged = network(measurement, reading)
        return judged.healthy, judged.faulty
    value = _judged_value(measurement, reading, facts)
    if not isinstance(value, float):
        return 0.0, 0.0
    healthy, faulty = measurement.healthy.log_density(value), measurement.faulty.log_density(value)
    if measurement.kind == "answer":
        return healthy, faulty
    return (
        float(np.logaddexp(log1p(-_SLIP) + healthy, log(_SLIP) + faulty)),
        float(np.logaddexp(log(measurement.missed) + healthy, log1p(-measurement.missed) + faulty)),
    )


def verdict(measurement: Measurement, reading: Reading, facts: FactTable) -> Band:
    """The band that *reading* falls into; of a list the one that tells most of all elements together."""
    if measurement.kind == "list" and _believable(measurement, reading):
        return judgement(network(measurement, reading))
    value = _judged_value(measurement, reading, facts)
    return measurement.judge(value) if isinstance(value, float) else value


def _judged_value(measurement: Measurement, reading: Reading, facts: FactTable) -> float | Band:
    """The value that a reading is judged by, in its unit or over what is expected; else why there is none."""
    if measurement.kind == "answer":
        return float(reading.values[0])
    if not _believable(measurement, reading):
        return _UNREADABLE
    if measurement.relative_to is None:
        return float(from_base(reading.values[0], measurement.unit))
    wanted = expected(measurement, facts)
    return _UNEXPECTED if wanted is None else float(Fraction(reading.values[0]) / Fraction(wanted))


def network(measurement: Measurement, reading: Reading) -> NetworkVerdict:
    """What a list of resistances says, element by element."""
    values = [float(from_base(value, measurement.unit)) for value in reading.values]
    printed = None if reading.printed is None else float(from_base(reading.printed, measurement.unit))
    return judge_network(measurement, values, printed)


def _believable(measurement: Measurement, reading: Reading) -> bool:
    """Whether a meter can truly show all values of *reading*: files may be mended by hand."""
    bounds = measurement.bounds
    values = [from_base(value, measurement.unit) for value in reading.values if value != OPEN]
    if bounds is None:
        return measurement.kind != "list" or all(value >= 0 for value in values)
    return all(bounds.least <= value <= bounds.most for value in values)


def information(measurement: Measurement, chance: float) -> float:
    """Bits that the measurement is expected to tell about a fault that is there with probability *chance*."""
    if not 0 < chance < 1:
        return 0.0
    healthy, faulty = _profile(measurement)
    if measurement.kind == "number":
        missed = measurement.missed * healthy + (1 - measurement.missed) * faulty
        healthy, faulty = (1 - _SLIP) * healthy + _SLIP * faulty, missed
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
    if readings.shape == "twosided":
        reach = abs(readings.centre - 1) + abs(sigmas) * readings.sigma
        return 1 + reach if sigmas > 0 else 1 - reach
    return readings.centre + sigmas * readings.sigma


def _density(readings: Readings, point: float, *, logs: bool) -> float:
    return readings.log_density(exp(point)) + point if logs else readings.log_density(point)

"""What readings mean at the settings of a machine, in the unit of the meter."""

from __future__ import annotations

from waitwright.explain.figures import plain
from waitwright.machine import FactTable
from waitwright.report.bands import band_words
from waitwright.rulebook.domain import Band, Measurement
from waitwright.trials.measuring import expected
from waitwright.units import from_base


def expectation(measurement: Measurement, facts: FactTable) -> str:
    """What a reading is compared with, such as ``33.33 MHz expected``; empty where there is nothing."""
    wanted = _wanted(measurement, facts)
    return "" if wanted is None else f"{_figure(wanted)} {measurement.unit} expected"


def meter_words(measurement: Measurement, band: Band, facts: FactTable) -> str:
    """Where *band* ends in the unit of the meter, and what it means."""
    wanted = _wanted(measurement, facts)
    if wanted is None or band.at_most is None:
        return band_words(measurement, band)
    return f"up to {_figure(band.at_most * wanted)} {measurement.unit}: {band.text}"


def _wanted(measurement: Measurement, facts: FactTable) -> float | None:
    """The expected value in the unit of *measurement*."""
    wanted = expected(measurement, facts)
    return None if wanted is None else float(from_base(wanted, measurement.unit))


def _figure(value: float) -> str:
    """*value* to as many digits as a meter has."""
    return plain(value, 3 if abs(value) < 10 else 2)

"""What new readings mean by themselves, and what would help."""

from __future__ import annotations

from collections.abc import Iterable

from waitwright.api.trial_room import TrialRoom
from waitwright.explain.figures import plain
from waitwright.machine import FactTable
from waitwright.rulebook.domain import Measurement
from waitwright.trials.logbook import Reading
from waitwright.trials.measuring import relative, verdict
from waitwright.trials.networks import judge_network
from waitwright.trials.ripple import capacitor, ripple_ratio
from waitwright.units import from_base

RIPPLE = "cpu-ripple"
_WANTED_MV = 100.0
"""Ripple above which capacitors are worth their place (common practice, as the measurement judges it)."""

_ELECTROLYTIC, _CERAMIC, _FITTED = (
    "cap-electrolytic-1000uf",
    "cap-ceramic-chip-100nf",
    "cap-electrolytic-aged-47uf",
)
"""What is added near the CPU, and what an old board has there."""

_SUPPLY_HZ, _CLOCK_HZ = 40e3, 16e6
"""Where a switching supply's ripple lies, and where that of clocked logic does (common practice)."""


def reading_notes(room: TrialRoom, readings: Iterable[Reading]) -> tuple[str, ...]:
    """Sentences for each new reading."""
    facts = FactTable(room.machine, room.machine.current)
    known = room.machine.rulebook.measurements
    told: list[str] = []
    for reading in readings:
        measurement = known[reading.name]
        told.append(f"{measurement.title}: {verdict(measurement, reading, facts).text}.")
        if measurement.kind == "list":
            told += _elements(measurement, relative(measurement, reading, facts))
        if reading.name == RIPPLE:
            told += _capacitors(room, max(float(from_base(value, "mV")) for value in reading.values))
    return tuple(told)


def _elements(measurement: Measurement, values: tuple[float, ...]) -> list[str]:
    """Which elements of a network are at fault, counted as they were told."""
    found = judge_network(measurement, values).at_fault
    if not found:
        return []
    which = ", ".join(str(place + 1) for place in found)
    return [f"At fault in the order told: {which} of {len(values)}."]


def _capacitors(room: TrialRoom, millivolts: float) -> list[str]:
    """How much of too high a ripple a bulk electrolytic and a ceramic would take away."""
    parts = room.machine.rulebook.parts
    if millivolts <= _WANTED_MV or not {_ELECTROLYTIC, _CERAMIC, _FITTED} <= parts.keys():
        return []
    bulk, ceramic, fitted = (capacitor(parts[name]) for name in (_ELECTROLYTIC, _CERAMIC, _FITTED))
    first = ripple_ratio([fitted], [fitted, bulk], _SUPPLY_HZ)
    rest = ripple_ratio([fitted, bulk], [fitted, bulk, ceramic], _CLOCK_HZ)
    told = (
        f"Beside a tired 47 uF, {parts[_ELECTROLYTIC].title} near the CPU leaves about "
        f"{plain(100 * first, 0)} % of the supply's ripple, some {plain(millivolts * first, 0)} mV here; "
        f"{parts[_CERAMIC].title} beside it leaves about {plain(100 * rest, 0)} % of what the clocks make."
    )
    return [told]

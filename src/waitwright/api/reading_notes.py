"""What new readings mean by themselves, and what would help."""

from __future__ import annotations

from collections.abc import Iterable

from waitwright.api.meter import expectation
from waitwright.api.trial_room import TrialRoom
from waitwright.explain.figures import plain
from waitwright.rulebook.domain import Measurement
from waitwright.trials.logbook import Reading
from waitwright.trials.measuring import network
from waitwright.trials.ripple import capacitor, ripple_ratio
from waitwright.trials.suspicion import judged_readings
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
    """Sentences for each of *readings*, those of the entry that was recorded last.

    They are judged by the settings that they were taken with.
    """
    new = tuple(readings)
    told: list[str] = []
    for judged in judged_readings(room.machine, room.logbook)[-len(new) :] if new else ():
        measurement, reading = judged.measurement, judged.reading
        if not judged.latest:
            told.append(f"{measurement.title}: measured twice at one place; only the last reading counts.")
            continue
        wanted = expectation(measurement, judged.facts)
        where = f", {reading.where}" if reading.where else ""
        told.append(f"{measurement.title}{where}: {judged.band.text}{f' ({wanted})' if wanted else ''}.")
        if judged.band.says == "unclear":
            continue
        if measurement.kind == "list":
            told += _elements(measurement, reading)
        if reading.name == RIPPLE:
            told += _capacitors(room, max(float(from_base(value, "mV")) for value in reading.values))
    return tuple(told)


def _elements(measurement: Measurement, reading: Reading) -> list[str]:
    """Which elements of a network are at fault, counted as they were told."""
    judged = network(measurement, reading)
    if not judged.at_fault:
        return []
    which = ", ".join(str(place + 1) for place in judged.at_fault)
    return [f"At fault in the order told: {which} of {len(reading.values)}."]


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

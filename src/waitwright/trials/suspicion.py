"""What the readings say of the faults beside timing, and which measurement would tell most."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from waitwright.belief.faults import present
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Band, Measurement, Suspect
from waitwright.trials.history import facts_then
from waitwright.trials.logbook import Entry, Logbook, Reading
from waitwright.trials.measuring import tested_by, verdict, worth
from waitwright.trials.standing import Standing


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading, judged by the settings of its time.

    Attributes:
        repairs: How often each suspect had been mended by then.
        facts: The machine as it was set.
        latest: Whether nothing was measured again at the same place.
    """

    entry: Entry
    reading: Reading
    measurement: Measurement
    band: Band
    repairs: Mapping[str, int]
    facts: FactTable
    latest: bool


def judged_readings(machine: Machine, logbook: Logbook) -> tuple[Judged, ...]:
    """Every reading that counts, in the order in which they were recorded."""
    found: list[Judged] = []
    last: dict[tuple[str, str], int] = {}
    facts = FactTable(machine, machine.current)
    for entry in logbook.counting:
        facts, repairs = facts_then(entry, machine, facts), logbook.repairs(entry.number)
        for reading in entry.readings:
            measurement = machine.rulebook.measurements.get(reading.name)
            if measurement is None:
                continue
            before = last.get((reading.name, reading.where))
            if before is not None:
                found[before] = replace(found[before], latest=False)
            last[reading.name, reading.where] = len(found)
            band = verdict(measurement, reading, facts)
            found.append(Judged(entry, reading, measurement, band, repairs, facts, latest=True))
    return tuple(found)


def facts_now(machine: Machine, logbook: Logbook) -> FactTable:
    """The machine as it was set last: a reading without a trial is judged by that."""
    facts = FactTable(machine, machine.current)
    for entry in logbook.counting:
        facts = facts_then(entry, machine, facts)
    return facts


def found_faulty(suspect: Suspect, standing: Standing, readings: Iterable[Judged]) -> bool:
    """Whether the latest reading at some place shows a fault that *suspect* may be, not mended since."""
    return any(
        one.latest and one.band.says == "fault" and not outdated(one, standing)
        for one in readings
        if one.measurement.id in suspect.measurements
    )


def outdated(reading: Judged, standing: Standing) -> bool:
    """Whether anything that *reading* tells of was mended after it."""
    tested = tested_by(standing.machine, reading.reading.name)
    return any(reading.repairs.get(one, 0) < standing.repairs.get(one, 0) for one in tested)


def chance_at_work(standing: Standing, measurement: Measurement) -> float:
    """Probability that a fault which *measurement* shows is present."""
    cloud = standing.cloud
    found = np.zeros(cloud.draws, dtype=bool)
    for suspect in standing.machine.rulebook.suspects.values():
        if measurement.id in suspect.measurements:
            found |= present(suspect, cloud, standing.repairs)
    return float(cloud.weights @ found)


def taken(standing: Standing, logbook: Logbook) -> frozenset[str]:
    """Measurements that were taken since the last repair of anything they test."""
    readings = judged_readings(standing.machine, logbook)
    return frozenset(one.measurement.id for one in readings if not outdated(one, standing))


def best_measurement(
    standing: Standing, candidates: Iterable[str], done: Collection[str] = ()
) -> Measurement | None:
    """The measurement among *candidates*, not yet *done*, that tells most for its minutes."""
    known = standing.machine.rulebook.measurements
    left = [known[name] for name in candidates if name not in done]
    return max(left, key=lambda one: (worth(one, chance_at_work(standing, one)), one.id), default=None)

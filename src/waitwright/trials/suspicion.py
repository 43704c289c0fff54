"""Which measurement would tell most of the faults beside timing."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from waitwright.belief.faults import present
from waitwright.rulebook.domain import Measurement
from waitwright.trials.logbook import Logbook
from waitwright.trials.measuring import tested_by, worth
from waitwright.trials.standing import Standing


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
    found = set()
    for entry in logbook.counting:
        then = logbook.repairs(entry.number)
        for reading in entry.readings:
            tested = tested_by(standing.machine, reading.name)
            if all(then.get(one, 0) == standing.repairs.get(one, 0) for one in tested):
                found.add(reading.name)
    return frozenset(found)


def best_measurement(
    standing: Standing, candidates: Iterable[str], done: Collection[str] = ()
) -> Measurement | None:
    """The measurement among *candidates*, not yet *done*, that tells most for its minutes."""
    known = standing.machine.rulebook.measurements
    left = [known[name] for name in candidates if name not in done]
    return max(left, key=lambda one: (worth(one, chance_at_work(standing, one)), one.id), default=None)

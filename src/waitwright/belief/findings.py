"""What measurements say of faults: the likelihood of their readings in each draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import log

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.causes import TimingCause
from waitwright.belief.cloud import Cloud
from waitwright.belief.faults import present
from waitwright.belief.likelihood import FASTEST_PER_HOUR, UNEXPLAINED_PER_HOUR
from waitwright.machine import Machine
from waitwright.rulebook.domain import Measurement

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Finding:
    """What one measurement showed, at one place or several.

    Attributes:
        places: For each place the log-densities of its readings if all is well there, and if not.
        repairs: How often each suspect had been mended by then.
        timing: What could have caused the failure that the measurement was about, and whether the
            measurement would have shown it.
    """

    measurement: Measurement
    places: tuple[tuple[float, float], ...]
    repairs: Mapping[str, int] = field(default_factory=dict)
    timing: tuple[tuple[TimingCause, bool], ...] = ()


def finding_likelihood(findings: Sequence[Finding], machine: Machine, cloud: Cloud) -> Floats:
    """Natural logarithm of the likelihood of *findings* in each draw.

    Where several suspects name the same measurement, any one of them makes the reading look faulty.
    """
    logs = np.zeros(cloud.draws)
    for finding in findings:
        at_work = np.zeros(cloud.draws, dtype=bool)
        for suspect in machine.rulebook.suspects.values():
            if finding.measurement.id in suspect.measurements:
                at_work |= present(suspect, cloud, finding.repairs)
        sound = sum(healthy for healthy, _ in finding.places)
        broken = _one_broken(finding)
        shown = np.maximum(at_work, _timing_share(finding, cloud))
        with np.errstate(divide="ignore"):
            logs += np.logaddexp(np.log(1 - shown) + sound, np.log(shown) + broken)
    return logs


def _one_broken(finding: Finding) -> float:
    """Log-likelihood of all places if one is at fault: one of those measured, or one that was not."""
    sound = sum(healthy for healthy, _ in finding.places)
    count = max(finding.measurement.places, len(finding.places))
    logs = [sound - healthy + faulty - log(count) for healthy, faulty in finding.places]
    if count > len(finding.places):
        logs.append(sound + log((count - len(finding.places)) / count))
    return float(np.logaddexp.reduce(logs))


def _timing_share(finding: Finding, cloud: Cloud) -> Floats:
    """Chance, by draw, that the failure came from timing which the measurement shows."""
    mine, whole = np.zeros(cloud.draws), np.full(cloud.draws, UNEXPLAINED_PER_HOUR)
    for cause, shown in finding.timing:
        rate = np.minimum(np.exp(cause.log_rate(cloud)), FASTEST_PER_HOUR)
        whole += rate
        if shown:
            mine += rate
    share: Floats = mine / whole
    return share

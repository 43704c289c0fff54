"""What measurements say of faults: the likelihood of their readings in each draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import log

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.faults import present
from waitwright.belief.likelihood import FASTEST_PER_HOUR, UNEXPLAINED_PER_HOUR
from waitwright.belief.mechanisms import TimingCause
from waitwright.belief.strikes import Strikes, product
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


class FindingLikelihood:
    """Natural logarithm of the likelihood of some findings, for any cloud of the same unknowns.

    Where several suspects name the same measurement, any one of them makes the reading look faulty.
    """

    def __init__(self, findings: Sequence[Finding], machine: Machine) -> None:
        """Lay out what does not depend on the draws."""
        self._findings = tuple(findings)
        self._suspects = [
            [one for one in machine.rulebook.suspects.values() if finding.measurement.id in one.measurements]
            for finding in findings
        ]
        self._sound = np.array([sum(healthy for healthy, _ in one.places) for one in findings])[:, None]
        self._broken = np.array([_one_broken(one) for one in findings])[:, None]
        causes = list(dict.fromkeys(cause for one in findings for cause, _ in one.timing))
        place = {cause: number for number, cause in enumerate(causes)}
        self._strikes = Strikes(causes)
        self._used = np.zeros((len(findings), len(causes)))
        self._shown = np.zeros((len(findings), len(causes)))
        for row, finding in enumerate(findings):
            for cause, shown in finding.timing:
                self._used[row, place[cause]] = 1.0
                self._shown[row, place[cause]] = float(shown)

    def __call__(self, cloud: Cloud) -> Floats:
        """The logarithm in each draw, up to a constant."""
        if not self._findings:
            return np.zeros(cloud.draws)
        shown = np.maximum(self._at_work(cloud), self._timing_shares(cloud))
        with np.errstate(divide="ignore"):
            logs = np.logaddexp(np.log1p(-shown) + self._sound, np.log(shown) + self._broken)
        whole: Floats = logs.sum(axis=0)
        return whole

    def _at_work(self, cloud: Cloud) -> NDArray[np.bool_]:
        """Whether any fault that the measurement shows is present, by finding and draw."""
        found = np.zeros((len(self._findings), cloud.draws), dtype=bool)
        for row, (finding, suspects) in enumerate(zip(self._findings, self._suspects, strict=True)):
            for suspect in suspects:
                found[row] |= present(suspect, cloud, finding.repairs)
        return found

    def _timing_shares(self, cloud: Cloud) -> Floats:
        """Chance that the failure came from timing which the measurement shows, by finding and draw."""
        rates = np.exp(self._strikes.log_rates(cloud)).clip(max=FASTEST_PER_HOUR)
        return product(self._shown, rates) / (product(self._used, rates) + UNEXPLAINED_PER_HOUR)


def _one_broken(finding: Finding) -> float:
    """Log-likelihood of all places if one is at fault: one of those measured, or one that was not."""
    sound = sum(healthy for healthy, _ in finding.places)
    count = max(finding.measurement.places, len(finding.places))
    logs = [sound - healthy + faulty - log(count) for healthy, faulty in finding.places]
    if count > len(finding.places):
        logs.append(sound + log((count - len(finding.places)) / count))
    return float(np.logaddexp.reduce(logs))

"""Faults that no timing cures, as unknowns of a machine: is each suspect present, and how often it strikes.

Each suspect adds two standard normal unknowns.  It is present where the first lies below the quantile
of its prior; the second scales its failure rate.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import log

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.latents import Latent, Latents, latents_of
from waitwright.belief.normal import normal_quantile
from waitwright.expr import Value
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Measurement, Suspect, Symptom

Floats = NDArray[np.float64]

ODD_BLAME = 0.01
"""Chance that a suspect's failure shows as something that it does not list."""

_ABSENT = -60.0


def presence_name(suspect: str) -> str:
    """Name of the unknown that tells whether *suspect* is present."""
    return f"suspect/{suspect}/presence"


def strength_name(suspect: str) -> str:
    """Name of the unknown that scales the failure rate of *suspect*."""
    return f"suspect/{suspect}/strength"


def latents_with_faults(machine: Machine) -> Latents:
    """The unknowns of *machine* and two for each suspect."""
    extra = []
    for suspect in machine.rulebook.suspects.values():
        extra.append(Latent(presence_name(suspect.id), 0.0, 1.0))
        extra.append(Latent(strength_name(suspect.id), 0.0, suspect.spread))
    return Latents((*latents_of(machine).items, *extra))


def present(suspect: Suspect, cloud: Cloud) -> NDArray[np.bool_]:
    """In which draws *suspect* is present."""
    threshold = float(normal_quantile(np.array([suspect.prior]))[0])
    return np.asarray(cloud.z[:, cloud.latents.index(presence_name(suspect.id))] < threshold)


@dataclass(frozen=True, slots=True)
class FaultCause:
    """A suspect under one combination: it strikes ``rate`` times an hour where it is present."""

    suspect: str
    rate: float
    threshold: float
    presence: int
    strength: int
    symptoms: Mapping[Symptom, float] = field(hash=False)

    def log_rate(self, cloud: Cloud) -> Floats:
        """Natural logarithm of the failure rate per hour in each draw."""
        struck = log(self.rate) + np.log(cloud.factors[:, self.strength])
        return np.where(cloud.z[:, self.presence] < self.threshold, struck, _ABSENT)

    def blame(self, symptom: Symptom) -> float:
        """Chance that a failure of this kind shows as *symptom*."""
        return max(self.symptoms.get(symptom, 0.0), ODD_BLAME)


def faults_of(
    machine: Machine, latents: Latents, settings: Mapping[OptionId, ChoiceId]
) -> tuple[FaultCause, ...]:
    """The suspects that can do harm under *settings*."""
    facts = FactTable(machine, settings)
    places = {latent.name: place for place, latent in enumerate(latents.items)}
    found = []
    for suspect in machine.rulebook.suspects.values():
        if suspect.only_with and not machine.members.get(suspect.only_with):
            continue
        if suspect.when is not None and facts.value(suspect.when) is not True:
            continue
        rate = _number(facts.value(suspect.rate))
        if rate is not None and rate > 0:
            found.append(
                FaultCause(
                    suspect.id,
                    rate,
                    float(normal_quantile(np.array([suspect.prior]))[0]),
                    places[presence_name(suspect.id)],
                    places[strength_name(suspect.id)],
                    suspect.symptoms,
                )
            )
    return tuple(found)


def log_survival_of_faults(causes: Iterable[FaultCause], cloud: Cloud, hours: float) -> Floats:
    """Natural logarithm of surviving *hours* with all that may be wrong beside timing, by draw."""
    total = np.zeros(cloud.draws)
    for cause in causes:
        total -= hours * np.exp(cause.log_rate(cloud))
    return total


@dataclass(frozen=True, slots=True)
class Finding:
    """What a measurement showed: log-densities of its readings without its suspects, and with one of them."""

    measurement: Measurement
    healthy: float
    faulty: float


def finding_likelihood(findings: Sequence[Finding], machine: Machine, cloud: Cloud) -> Floats:
    """Natural logarithm of the likelihood of *findings* in each draw.

    Where several suspects name the same measurement, any one of them makes the reading look faulty.
    """
    logs = np.zeros(cloud.draws)
    for finding in findings:
        at_work = np.zeros(cloud.draws, dtype=bool)
        for suspect in machine.rulebook.suspects.values():
            if finding.measurement.id in suspect.measurements:
                at_work |= present(suspect, cloud)
        logs += np.where(at_work, finding.faulty, finding.healthy)
    return logs


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, int | Fraction) and not isinstance(value, bool) else None

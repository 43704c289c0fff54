"""Faults that no timing cures, as unknowns of a machine: is each suspect present, and how often it strikes.

Each suspect adds two standard normal unknowns.  It is present where the first lies below the quantile
of its prior; the second scales its failure rate.  A repair adds one more: from then on the suspect is
present where that one lies below the quantile, so that a mended fault is as likely as on any machine,
and what happened before stays explained.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.latents import Latent, Latents, latents_of
from waitwright.belief.normal import normal_quantile
from waitwright.expr import Value
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine
from waitwright.rulebook.domain import Suspect, Symptom

ODD_BLAME = 0.01
"""Chance that a suspect's failure shows as something that it does not list."""


def presence_name(suspect: str, repairs: int = 0) -> str:
    """Name of the unknown that tells whether *suspect* is present after so many *repairs*."""
    return f"suspect/{suspect}/presence" + (f"/{repairs}" if repairs else "")


def strength_name(suspect: str) -> str:
    """Name of the unknown that scales the failure rate of *suspect*."""
    return f"suspect/{suspect}/strength"


def latents_with_faults(
    machine: Machine, repairs: Mapping[str, int] | None = None, spread: float = 1.0
) -> Latents:
    """The unknowns of *machine*, two for each suspect, and one for each of its *repairs*.

    Args:
        spread: How far parts and surroundings vary, against the catalogue's word.
    """
    extra, mended = [], []
    for suspect in machine.rulebook.suspects.values():
        extra.append(Latent(presence_name(suspect.id), 0.0, 1.0))
        extra.append(Latent(strength_name(suspect.id), 0.0, suspect.spread))
        counts = range(1, (repairs or {}).get(suspect.id, 0) + 1)
        mended += [Latent(presence_name(suspect.id, count), 0.0, 1.0) for count in counts]
    extra += mended
    return Latents((*latents_of(machine).wider(spread).items, *extra))


def present(suspect: Suspect, cloud: Cloud, repairs: Mapping[str, int] | None = None) -> NDArray[np.bool_]:
    """In which draws *suspect* is present after so many *repairs* of each."""
    name = presence_name(suspect.id, (repairs or {}).get(suspect.id, 0))
    return np.asarray(cloud.z[:, cloud.latents.index(name)] < _quantile(suspect.prior))


@cache
def _quantile(share: float) -> float:
    """The standard normal value below which *share* of all draws lie."""
    return float(normal_quantile(np.array([share]))[0])


@dataclass(frozen=True, slots=True)
class FaultCause:
    """A suspect under one combination: it strikes ``rate`` times an hour where it is present."""

    suspect: str
    rate: float
    threshold: float
    presence: int
    strength: int
    symptoms: Mapping[Symptom, float] = field(hash=False)

    def blame(self, symptom: Symptom) -> float:
        """Chance that a failure of this kind shows as *symptom*."""
        return max(self.symptoms.get(symptom, 0.0), ODD_BLAME)


def faults_of(
    machine: Machine,
    latents: Latents,
    settings: Mapping[OptionId, ChoiceId],
    repairs: Mapping[str, int] | None = None,
) -> tuple[FaultCause, ...]:
    """The suspects that can do harm under *settings*, after so many *repairs* of each."""
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
                    _quantile(suspect.prior),
                    places[presence_name(suspect.id, (repairs or {}).get(suspect.id, 0))],
                    places[strength_name(suspect.id)],
                    suspect.symptoms,
                )
            )
    return tuple(found)


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, int | Fraction) and not isinstance(value, bool) else None

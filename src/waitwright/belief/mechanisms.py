"""Causes of failure through timing: a budget that could fall short, a limit that could be overstepped.

How often each strikes is reckoned in :mod:`waitwright.belief.strikes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from waitwright.rulebook.domain import SYMPTOMS, Symptom

ODD_SYMPTOM = 0.05
"""Share of failures that show as something their rule does not list."""


@dataclass(frozen=True, slots=True)
class Scaled:
    """A delay in a budget: for each part that it may depend on, the unknown's place and picoseconds."""

    parts: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class DelayCause:
    """A budget that could fall short: ``fixed`` picoseconds less the scaled delays."""

    rule: str
    symptoms: tuple[Symptom, ...]
    fixed: float
    delays: tuple[Scaled, ...]

    def blame(self, symptom: Symptom) -> float:
        """Chance that a failure of this kind shows as *symptom*."""
        return _even_blame(self.symptoms, symptom)


@dataclass(frozen=True, slots=True)
class Rated:
    """A rating that a part bears: the unknown's place, and what is asked of it against the rating."""

    place: int
    value: float
    rating: float


@dataclass(frozen=True, slots=True)
class AbilityCause:
    """A limit that could be overstepped.

    Attributes:
        held: Whether the rating is kept as it stands; decides where no part bears it.
        upper: True where the value must not exceed the rating, False where it must reach it.
        parts: The parts that bear the rating, each with its own.
    """

    rule: str
    symptoms: tuple[Symptom, ...]
    held: bool
    upper: bool
    parts: tuple[Rated, ...]

    def blame(self, symptom: Symptom) -> float:
        """As :meth:`DelayCause.blame`."""
        return _even_blame(self.symptoms, symptom)


TimingCause = DelayCause | AbilityCause


def _even_blame(symptoms: Sequence[Symptom], symptom: Symptom) -> float:
    """Symptoms of a rule are taken as equally likely; any other is possible but rare."""
    if symptom in symptoms:
        return (1 - ODD_SYMPTOM) / len(symptoms)
    return ODD_SYMPTOM / len(SYMPTOMS)

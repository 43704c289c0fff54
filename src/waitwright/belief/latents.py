"""The unknown numbers of a machine: one factor for each physical part, one for its surroundings.

A delay really needs ``maximum x ratio x exp(sigma z) x surroundings``; an ability really reaches
``rating x ratio x exp(sigma z)``.  Ratio and sigma are the catalogue's; z is standard normal, and one
and the same wherever the part is met, which is what ties budgets together.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from waitwright.machine import Machine
from waitwright.rulebook.domain import Spread

SUPPLY_PER_VOLT = 0.14
"""Delay falls 14 % for each volt more: CMOS derating, 'Timing Derating Factors', NASA Office of Logic
Design, quoting gate-array data books of 1990 and 1992."""

DELAY_PER_KELVIN = 0.0026
"""Delay grows 0.26 % for each degree above 25 C: same source."""

_CASE_C, _CASE_SPREAD_C = 45.0, 10.0
"""Inside a closed case where the owner measured nothing (common practice, no source)."""

_SUPPLY_SPREAD_V = 0.10
"""How far a 5 V rail lies from nominal where nobody measured (a tolerance of 5 % read as 2.5 sigma)."""

_MEASURED_SPREAD = 0.005
"""What is left of the surroundings' spread once both readings are stated."""

UNKNOWN_DELAY = (0.75, 0.14)
UNKNOWN_ABILITY = (1.15, 0.10)
"""Ratio and sigma for parts whose family states none: wide on purpose (assumption)."""


@dataclass(frozen=True, slots=True)
class Latent:
    """One unknown: ``exp(mean + sigma z)``.  Its name is ``slot/part/delay``, ``.../ability`` or ``surroundings``."""

    name: str
    mean: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Latents:
    """All unknowns of a machine, in a fixed order (slot order; surroundings first)."""

    items: tuple[Latent, ...]

    def index(self, name: str) -> int:
        """Place of the unknown called *name*."""
        return next(place for place, latent in enumerate(self.items) if latent.name == name)


SURROUNDINGS = "surroundings"


def delay_name(slot: str, part: str) -> str:
    """Name of the unknown that scales the delays of *part* in *slot*."""
    return f"{slot}/{part}/delay"


def ability_name(slot: str, part: str) -> str:
    """Name of the unknown that scales the abilities (clock rating, retention) of *part* in *slot*."""
    return f"{slot}/{part}/ability"


def latents_of(machine: Machine) -> Latents:
    """The unknowns of *machine*: surroundings, then delay and ability of everything that is fitted."""
    items = [_surroundings(machine)]
    for fitted in machine.fitted:
        part = fitted.part
        items.append(_latent(delay_name(fitted.slot, part.id), part.delay, UNKNOWN_DELAY))
        items.append(_latent(ability_name(fitted.slot, part.id), part.ability, UNKNOWN_ABILITY))
    return Latents(tuple(items))


def _latent(name: str, spread: Spread | None, unknown: tuple[float, float]) -> Latent:
    ratio, sigma = (spread.ratio, spread.sigma) if spread is not None else unknown
    return Latent(name, log(ratio), sigma)


def _surroundings(machine: Machine) -> Latent:
    environment = machine.profile.environment
    supply = 5.0 if environment.supply_v is None else float(environment.supply_v)
    case = _CASE_C if environment.case_c is None else float(environment.case_c)
    mean = log(1 - SUPPLY_PER_VOLT * (supply - 5.0)) + log(1 + DELAY_PER_KELVIN * (case - 25.0))
    variance = _MEASURED_SPREAD**2
    if environment.supply_v is None:
        variance += (SUPPLY_PER_VOLT * _SUPPLY_SPREAD_V) ** 2
    if environment.case_c is None:
        variance += (DELAY_PER_KELVIN * _CASE_SPREAD_C) ** 2
    return Latent(SURROUNDINGS, mean, variance**0.5)

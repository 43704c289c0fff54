"""The unknown numbers of a machine: one factor for each physical part, one for its surroundings.

A delay really needs ``maximum x ratio x exp(sigma z) x surroundings``; an ability really reaches
``rating x ratio x exp(sigma z)``.  Ratio and sigma are the catalogue's; z is standard normal, and one
and the same wherever the part is met, which is what ties budgets together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import log

from waitwright.machine import Fitted, Machine
from waitwright.machine.fitting import fit
from waitwright.rulebook.domain import Spread
from waitwright.rulebook.profiles import Environment
from waitwright.units import from_base

SUPPLY_PER_VOLT = 0.14
"""Delay falls 14 % for each volt more on a 5 V part: CMOS derating, 'Timing Derating Factors', NASA Office
of Logic Design, quoting gate-array data books of 1990 and 1992.  Other parts: by the same share of their
nominal supply."""

_NOMINAL_V = 5.0
_FARTHEST_SUPPLY = 0.5
"""Share of the nominal supply beyond which the straight line says nothing; readings are cut there."""

DELAY_PER_KELVIN = 0.0026
"""Delay grows 0.26 % for each degree above 25 C: same source."""

_CASE_C, _CASE_SPREAD_C = 45.0, 10.0
"""Inside a closed case where the owner measured nothing (common practice, no source)."""

_SUPPLY_SPREAD_V = 0.10
"""How far a 5 V rail lies from nominal where nobody measured (a tolerance of 5 % read as 2.5 sigma)."""

_MEASURED_SPREAD = 0.005
"""What is left of the surroundings' spread once both readings are stated."""

UNKNOWN_DELAY = (0.68, 0.14)
UNKNOWN_ABILITY = (1.28, 0.10)
"""Ratio and sigma for parts whose family states none: wide on purpose, and yet 99 of 100 parts keep what
their data sheet promises in the usual surroundings (assumption)."""


@dataclass(frozen=True, slots=True)
class Latent:
    """One unknown, ``exp(mean + sigma z)``: ``slot/part/delay``, ``.../ability`` or ``surroundings``."""

    name: str
    mean: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Latents:
    """All unknowns of a machine, in a fixed order (slot order; surroundings first)."""

    items: tuple[Latent, ...]
    _places: dict[str, int] = field(default_factory=dict, init=False, compare=False, repr=False)

    def index(self, name: str) -> int:
        """Place of the unknown called *name*.

        Raises:
            KeyError: if there is none.
        """
        if not self._places:
            self._places.update({latent.name: place for place, latent in enumerate(self.items)})
        return self._places[name]

    def wider(self, share: float) -> Latents:
        """The same unknowns, each spread *share* times as far around its middle."""
        return Latents(tuple(replace(latent, sigma=share * latent.sigma) for latent in self.items))


SURROUNDINGS = "surroundings"


def delay_name(slot: str, part: str) -> str:
    """Name of the unknown that scales the delays of *part* in *slot*."""
    return f"{slot}/{part}/delay"


def ability_name(slot: str, part: str) -> str:
    """Name of the unknown that scales the abilities (clock rating, retention) of *part* in *slot*."""
    return f"{slot}/{part}/ability"


def latents_of(machine: Machine) -> Latents:
    """The unknowns of *machine*: surroundings, then delay and ability of everything that is fitted.

    Parts that a what-if takes out come last: what is known of the machine was learnt with them in it.
    """
    found = fit(machine.board, machine.profile, machine.rulebook, {})
    items = {SURROUNDINGS: _surroundings(machine.profile.environment, found)}
    for fitted in (*machine.fitted, *found):
        for latent in _part_latents(fitted):
            # Equal parts in one bank count as one part: their differences are within its spread.
            items.setdefault(latent.name, latent)
    return Latents(tuple(items.values()))


def _part_latents(fitted: Fitted) -> tuple[Latent, Latent]:
    """Delay and ability of one part; how long memory keeps its charge is told by its refresh class."""
    part = fitted.part
    ability = part.ability if fitted.refresh is None else fitted.refresh.ability or part.ability
    return (
        _latent(delay_name(fitted.slot, part.id), part.delay, UNKNOWN_DELAY),
        _latent(ability_name(fitted.slot, part.id), ability, UNKNOWN_ABILITY),
    )


def _latent(name: str, spread: Spread | None, unknown: tuple[float, float]) -> Latent:
    ratio, sigma = (spread.ratio, spread.sigma) if spread is not None else unknown
    return Latent(name, log(ratio), sigma)


def _surroundings(environment: Environment, found: Sequence[Fitted]) -> Latent:
    off = 0.0 if environment.supply_v is None else float(environment.supply_v) / _nominal_supply(found) - 1
    off = min(max(off, -_FARTHEST_SUPPLY), _FARTHEST_SUPPLY)
    case = _CASE_C if environment.case_c is None else float(environment.case_c)
    mean = log(1 - SUPPLY_PER_VOLT * _NOMINAL_V * off) + log(1 + DELAY_PER_KELVIN * (case - 25.0))
    variance = _MEASURED_SPREAD**2
    if environment.supply_v is None:
        variance += (SUPPLY_PER_VOLT * _SUPPLY_SPREAD_V) ** 2
    if environment.case_c is None:
        variance += (DELAY_PER_KELVIN * _CASE_SPREAD_C) ** 2
    return Latent(SURROUNDINGS, mean, variance**0.5)


def _nominal_supply(found: Sequence[Fitted]) -> float:
    """The middle of what the CPU is rated for, in volts: supply is read at its pins."""
    rated = next((item.part.values for item in found if item.role == "cpu"), {})
    ends = [rated[name].value for name in ("supply_min", "supply_max") if name in rated]
    numbers = [Fraction(end) for end in ends if isinstance(end, int | Fraction)]
    middle = float(from_base(sum(numbers, Fraction(0)) / 2, "V"))
    return middle if len(numbers) == 2 and middle > 0 else _NOMINAL_V

"""Ripple at the CPU against the capacitors beside it.

The supply's path (cable, plug, tracks) and each capacitor are branches from the CPU's supply pins to
ground.  Noise comes in through the path or is drawn by the CPU; either way the voltage at the pins is
proportional to the impedance of all branches in parallel, so capacitors change ripple by a ratio of
impedances.  SI units throughout, in floats: ohm, henry, farad, hertz.

A branch that is inductive beside one that is capacitive resonates: near that frequency a capacitor
more can make ripple worse.  :func:`ripple_ratio` shows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import inf, pi

from waitwright.rulebook.domain import Part

_FARAD, _HERTZ = 1e-12, 1e12
"""One base unit of capacitance (pF) and of frequency (1/ps)."""


@dataclass(frozen=True, slots=True)
class Branch:
    """Resistance, inductance and capacitance in series; without a capacitor ``farads`` is infinite.

    Raises:
        ValueError: if it has no resistance, or a negative inductance or capacitance.
    """

    ohms: float
    henries: float
    farads: float = inf

    def __post_init__(self) -> None:
        if not (self.ohms > 0 and self.henries >= 0 and self.farads > 0):
            raise ValueError("a branch needs resistance and capacitance above 0, inductance of at least 0")

    def impedance(self, frequency: float) -> complex:
        """Complex impedance in ohm at *frequency* in hertz, which is above 0."""
        turns = 2 * pi * frequency
        return complex(self.ohms, turns * self.henries - 1 / (turns * self.farads))


SUPPLY_PATH = Branch(ohms=0.05, henries=0.25e-6)
"""Some 30 cm of cable in parallel wires, plug and tracks between supply and CPU (assumption)."""


def capacitor(part: Part) -> Branch:
    """The branch of a capacitor of the catalogue; its self-resonance tells its inductance.

    Raises:
        ValueError: if *part* lacks capacitance, series resistance or resonance.
    """
    capacitance, ohms, resonance = (_number(part, row) for row in ("capacitance", "esr", "resonance"))
    farads, hertz = capacitance * _FARAD, resonance * _HERTZ
    return Branch(ohms, 1 / ((2 * pi * hertz) ** 2 * farads), farads)


def impedance(branches: Sequence[Branch], frequency: float) -> float:
    """Magnitude of the impedance of *branches* in parallel at *frequency* (Hz), in ohm.

    Raises:
        ValueError: if there is no branch.
    """
    if not branches:
        raise ValueError("expected one branch or more")
    return 1 / abs(sum(1 / branch.impedance(frequency) for branch in branches))


def ripple_ratio(
    before: Sequence[Branch], after: Sequence[Branch], frequency: float, path: Branch = SUPPLY_PATH
) -> float:
    """Ripple with the capacitors *after* over ripple with those *before*, at *frequency* (Hz).

    Args:
        path: From the supply to the CPU; it stays as it is.
    """
    return impedance([path, *after], frequency) / impedance([path, *before], frequency)


def _number(part: Part, row: str) -> float:
    found = part.values.get(row)
    if found is None or isinstance(found.value, bool) or not isinstance(found.value, int | Fraction):
        raise ValueError(f"{part.title} has no {row}")
    return float(found.value)

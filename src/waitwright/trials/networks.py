"""Judging a pull-up network by the resistances of its elements, measured in circuit.

Whatever lies beside an element can only lower its reading, and the elements of one network are alike:
a sound one reads as its neighbours do or lower, an open one reads only what lies beside it, which is
far more.  The level that sound elements share is unknown (the board loads all of them alike), so it is
averaged over; one or more elements at fault stand against none.  Floats: this is belief.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, expm1, inf, isinf, isnan, log, log1p
from statistics import median_low

import numpy as np
from numpy.typing import NDArray

from waitwright.rulebook.domain import Band, Measurement

Floats = NDArray[np.float64]

_AT_FAULT = 0.2
"""Chance that an element of a faulty network is one of the faulty (common practice: a few of eight)."""

_LOADED, _LOAD_SCALE = 0.3, log(2)
"""Chance that something beside one element alone lowers it, and by how much in logarithm (assumption)."""

_SLIP = 1e-6
"""Chance that a sound element is written down as open: a probe slipped twice, for it is to be read again
(assumption)."""

_LOWEST_LEVEL, _HIGHEST_LEVEL = 0.1, 2.0
"""The shared level over the printed value; above it only where the value is guessed from the readings."""

_LEVELS = 151
"""Levels that are averaged over, evenly in logarithm: steps of 2 %, below the spread of sound elements."""

_UNLOADED = 0.5
"""Chance that nothing lowers the elements together, so that they read their printed value (assumption)."""

_OFF_SCALE = 1e4
"""Readings are taken as at most this many times the value: beyond it a meter shows no figure."""

_ANY = 1e-9
"""Smallest value that a network is taken to be made with, in any unit, where nobody has told."""

_CLEAR = log(3)
"""Logarithm of the likelihood ratio from which readings that differ convict a network."""

_NEVER_MADE = 50
"""Readings of so many times the highest usual value are no value that is printed on a network."""

_BEYOND = Band(
    None,
    "not clear: more than such networks are made with, so that the common pin may be open, or another pin "
    "was taken for it; the printed value would tell, such as 'of 10 kohm' behind the readings",
    "unclear",
)

_UNCLEAR = Band(
    None,
    "not clear: the elements differ, but what lies beside the lower ones may do that; tell the printed "
    "value, or lift the common pin and read again",
    "unclear",
)


@dataclass(frozen=True, slots=True)
class Element:
    """One element of a network.

    Attributes:
        ratio: Its reading over the level that sound elements share.
        fault: Probability that it is open or drifted, if the network was as likely sound as not.
    """

    reading: float
    ratio: float
    band: Band
    fault: float


@dataclass(frozen=True, slots=True)
class NetworkVerdict:
    """What the readings of one network say.

    Attributes:
        level: What sound elements most likely read here, in the unit of the readings.
        beyond: Whether they read alike, but more than such networks are made with, and the printed value was
            not told: then only that can tell whether all are open.
        healthy: Natural logarithm of the likelihood of the readings if no element is at fault.
        faulty: The same if one or more are.
    """

    level: float
    beyond: bool
    elements: tuple[Element, ...]
    healthy: float
    faulty: float

    @property
    def evidence(self) -> float:
        """Natural logarithm of the likelihood ratio: above 0 it speaks for a fault."""
        return self.faulty - self.healthy

    @property
    def at_fault(self) -> tuple[int, ...]:
        """Places of the elements that are more likely at fault than not, from 0."""
        return tuple(place for place, element in enumerate(self.elements) if element.fault > 0.5)


def judge_network(
    measurement: Measurement, readings: Sequence[float], nominal: float | None = None
) -> NetworkVerdict:
    """What *readings* say of the network.

    Args:
        measurement: A measurement of lists; its distributions and bands are of an element's reading
            over the shared level.
        readings: Resistances in one unit, in any order; infinity where the meter shows no figure.
        nominal: The printed value in the same unit; None to guess it from the median, within the values
            that such networks are made with.

    Raises:
        ValueError: if there is no reading, or one is negative or no number, or the printed value is not
            above 0.
    """
    if not readings or any(isnan(reading) or reading < 0 for reading in readings):
        raise ValueError("expected one or more resistances, none of them negative")
    if nominal is not None and not 0 < nominal < inf:
        raise ValueError("expected a printed value above 0")
    least, most = measurement.printed or (_ANY, 1 / _ANY)
    middle = median_low(readings)
    open_all = nominal is None and middle > _NEVER_MADE * most
    value = nominal or (most if open_all else max(middle, least))
    levels, prior = _levels(known=open_all or nominal is not None)
    logs = np.log(np.clip(np.array(readings) / value, 0.1 * _LOWEST_LEVEL, _OFF_SCALE))
    sound, broken = _densities(measurement, logs[None, :] - levels[:, None])
    mixed = np.logaddexp(log(1 - _AT_FAULT) + sound, log(_AT_FAULT) + broken)
    blame = np.exp(log(_AT_FAULT) + broken - mixed)
    # Weight of each level with one fault or more: all mixtures less the one without any fault.
    some = prior + mixed.sum(axis=1) + np.log(-np.expm1(np.log1p(-np.minimum(blame, 1 - 1e-12)).sum(axis=1)))
    some -= log(-expm1(len(readings) * log1p(-_AT_FAULT)))
    none = prior + sound.sum(axis=1)
    level = exp(float(levels[np.argmax(np.logaddexp(some, none))]))
    healthy, faulty = float(np.logaddexp.reduce(none)), float(np.logaddexp.reduce(some))
    beyond = nominal is None and not open_all and middle > most and faulty - healthy < _CLEAR
    if beyond:
        faulty = healthy
    faults = _shares(some) @ _given_some(blame) / (1 + exp(min(healthy - faulty, 700.0)))
    return NetworkVerdict(
        level=level * value,
        beyond=beyond,
        elements=tuple(
            _element(measurement, reading, min(exp(place) / level, _OFF_SCALE), float(fault))
            for reading, place, fault in zip(readings, logs, faults, strict=True)
        ),
        healthy=healthy,
        faulty=faulty,
    )


def judgement(found: NetworkVerdict) -> Band:
    """The band that tells most of the network as a whole, in agreement with what belief makes of it."""
    if found.beyond:
        return _BEYOND
    worst = max(found.elements, key=lambda one: (one.band.says == "fault", one.fault, one.ratio))
    if found.evidence > _CLEAR and worst.band.says == "fault":
        return worst.band
    sound = [one for one in found.elements if one.band.says == "sound"]
    if found.evidence <= 0 and len(sound) == len(found.elements):
        return max(sound, key=lambda one: one.ratio).band
    return _UNCLEAR


def _levels(*, known: bool) -> tuple[Floats, Floats]:
    """Logarithms of the levels over the value, and of their probabilities."""
    highest = 1.0 if known else _HIGHEST_LEVEL
    levels = np.linspace(log(_LOWEST_LEVEL), log(highest), _LEVELS)
    shares = np.full(_LEVELS, 1 / _LEVELS)
    if known:
        shares *= 1 - _UNLOADED
        shares[-1] += _UNLOADED
    return levels, np.log(shares)


def _densities(measurement: Measurement, over: Floats) -> tuple[Floats, Floats]:
    """Log-densities of logarithms of readings *over* the level, for sound and for faulty elements."""
    plain = _log_normal(over, measurement.healthy.centre, measurement.healthy.sigma)
    broken = _log_normal(over, measurement.faulty.centre, measurement.faulty.sigma)
    loaded = np.where(over < 0, over / _LOAD_SCALE - log(_LOAD_SCALE), -inf)
    sound = np.logaddexp(log(1 - _LOADED - _SLIP) + plain, log(_LOADED) + loaded)
    return np.logaddexp(sound, log(_SLIP) + broken), broken


def _log_normal(logs: Floats, median: float, sigma: float) -> Floats:
    return np.asarray(-0.5 * ((logs - log(median)) / sigma) ** 2 - log(sigma) - 0.5 * log(2 * np.pi))


def _given_some(blame: Floats) -> Floats:
    """Chance that each element is at fault at each level, given that one or more are."""
    some = -np.expm1(np.log1p(-np.minimum(blame, 1 - 1e-12)).sum(axis=1, keepdims=True))
    return np.asarray(np.minimum(blame / some, 1.0))


def _shares(logs: Floats) -> Floats:
    return np.asarray(np.exp(logs - np.logaddexp.reduce(logs)))


def _element(measurement: Measurement, reading: float, ratio: float, fault: float) -> Element:
    shown = inf if isinf(reading) else ratio
    return Element(reading, shown, measurement.judge(shown), fault)

"""What a measurement is expected to tell, against numerical integration."""

from __future__ import annotations

from math import exp, log2

import pytest
from scipy import integrate

from waitwright.rulebook.domain import Measurement
from waitwright.rulebook.load import load_rulebook
from waitwright.trials.measuring import information, worth

MEASUREMENTS = load_rulebook().measurements
NUMBERS = [one for one in MEASUREMENTS.values() if one.kind == "number"]
ANSWERS = [one for one in MEASUREMENTS.values() if one.kind == "answer"]


def integrated(measurement: Measurement, chance: float) -> float:
    """Mutual information in bits, by quadrature over the reading."""

    def density(reading: float) -> tuple[float, float]:
        return exp(measurement.healthy.log_density(reading)), exp(measurement.faulty.log_density(reading))

    def bits(reading: float) -> float:
        healthy, faulty = density(reading)
        mixed = chance * faulty + (1 - chance) * healthy
        parts = ((1 - chance, healthy), (chance, faulty))
        return sum(weight * one * log2(one / mixed) for weight, one in parts if one > 0)

    middle = (measurement.healthy.centre, measurement.faulty.centre)
    low = 1e-6 if measurement.healthy.shape == "lognormal" else min(middle) - 2 * max(middle)
    points = sorted({*middle, *(0.9 * m for m in middle), *(1.1 * m for m in middle)})
    return float(integrate.quad(bits, low, 10 * max(middle), points=points, limit=500)[0])


@pytest.mark.parametrize("measurement", NUMBERS, ids=lambda one: one.id)
@pytest.mark.parametrize("chance", [0.02, 0.3, 0.8])
def test_information_of_a_reading_is_that_of_quadrature(measurement: Measurement, chance: float) -> None:
    """Bits of a reading agree with numerical integration.

    Second opinion: scipy's quadrature.
    """
    assert information(measurement, chance) == pytest.approx(
        integrated(measurement, chance), rel=0.03, abs=0.004
    )


@pytest.mark.parametrize("measurement", ANSWERS, ids=lambda one: one.id)
def test_information_of_an_answer_is_the_sum_over_yes_and_no(measurement: Measurement) -> None:
    """Bits of an answer are those of two cells.

    Second opinion: scipy's quadrature.
    """
    sound, faulty, chance = measurement.healthy.centre, measurement.faulty.centre, 0.3
    total = 0.0
    for good, bad in ((sound, faulty), (1 - sound, 1 - faulty)):
        mixed = chance * bad + (1 - chance) * good
        total += chance * bad * log2(bad / mixed) + (1 - chance) * good * log2(good / mixed)
    assert information(measurement, chance) == pytest.approx(total)


@pytest.mark.parametrize("measurement", MEASUREMENTS.values(), ids=lambda one: one.id)
def test_nothing_is_learnt_of_what_is_certain(measurement: Measurement) -> None:
    """A fault that is surely there, or surely not, makes every measurement worthless."""
    assert information(measurement, 0.0) == information(measurement, 1.0) == 0.0
    assert 0 < worth(measurement, 0.4) < 1

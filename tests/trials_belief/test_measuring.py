"""What a measurement is expected to tell, against numerical integration; words on readings."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import exp, isfinite, log2

import pytest
from scipy import integrate

from tests.workshop import MACHINES, packed
from waitwright.errors import UsageError
from waitwright.machine import FactTable
from waitwright.rulebook.domain import Measurement
from waitwright.rulebook.load import load_rulebook
from waitwright.trials.logbook import ANSWER, Reading
from waitwright.trials.measuring import (
    _SLIP,
    densities,
    expected,
    information,
    verdict,
    vocabulary,
    worth,
)
from waitwright.trials.readings import OPEN, parse_readings
from waitwright.units import Exact, to_base

MEASUREMENTS = load_rulebook().measurements
STEPS = 3000
SAME = 0.05
"""Log likelihood ratio up to which sound and faulty are as likely."""
NUMBERS = [one for one in MEASUREMENTS.values() if one.kind == "number"]
ANSWERS = [one for one in MEASUREMENTS.values() if one.kind == "answer"]


def integrated(measurement: Measurement, chance: float) -> float:
    """Mutual information in bits, by quadrature over the reading."""

    def density(reading: float) -> tuple[float, float]:
        sound, bad = (exp(one.log_density(reading)) for one in (measurement.healthy, measurement.faulty))
        missed = measurement.missed
        return (1 - _SLIP) * sound + _SLIP * bad, missed * sound + (1 - missed) * bad

    def bits(reading: float) -> float:
        healthy, faulty = density(reading)
        mixed = chance * faulty + (1 - chance) * healthy
        parts = ((1 - chance, healthy), (chance, faulty))
        return sum(weight * one * log2(one / mixed) for weight, one in parts if one * mixed > 0)

    middle = [measurement.healthy.centre, measurement.faulty.centre]
    if measurement.faulty.shape == "twosided":
        middle.append(2 - measurement.faulty.centre)
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


# ---------------------------------------------------------------------------- words and belief


def facts(name: str) -> FactTable:
    """Facts of a packed machine as it is set."""
    machine, _ = packed(name)
    return FactTable(machine, machine.current)


def leaning(measurement: Measurement, *values: Exact, table: FactTable) -> float:
    """Log likelihood ratio of a reading: above 0 it speaks for a fault."""
    healthy, faulty = densities(measurement, Reading(measurement.id, values, measurement.unit), table)
    return faulty - healthy


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("measurement", NUMBERS, ids=lambda one: one.id)
def test_words_and_belief_agree_on_every_reading(measurement: Measurement, name: str) -> None:
    """On a grid over all that can be read, what is said of a reading is what belief makes of it."""
    table, bounds = facts(name), measurement.bounds
    assert bounds is not None
    seen = set()
    for step in range(STEPS + 1):
        shown = bounds.least + Fraction(step, STEPS) * (Fraction(bounds.most) - bounds.least)
        value = to_base(shown, measurement.unit)
        leans = leaning(measurement, value, table=table)
        says = verdict(measurement, Reading(measurement.id, (value,), measurement.unit), table).says
        seen.add(says)
        assert isfinite(leans)
        assert (leans <= SAME) if says == "sound" else (leans >= -SAME), float(shown)
    assert seen == {"sound", "fault"}


@pytest.mark.parametrize("measurement", NUMBERS, ids=lambda one: one.id)
def test_belief_turns_where_the_good_band_ends(measurement: Measurement) -> None:
    """At the edges of the good bands both are as likely; a little beyond a fault is clearly likelier."""
    table = facts(MACHINES[0])
    scale = to_base(1, measurement.unit) if measurement.relative_to is None else expected(measurement, table)
    assert scale is not None
    bands = measurement.bands
    edges = [
        (band.at_most, band.says == "sound")
        for band, after in pairwise(bands)
        if band.at_most is not None and band.says != after.says
    ]
    assert edges
    for edge, upper in edges:
        at = Fraction(str(edge))
        further = abs(at - 1) / 2 if measurement.relative_to is not None else at / 2
        assert abs(leaning(measurement, at * scale, table=table)) < SAME
        assert leaning(measurement, (at + further if upper else at - further) * scale, table=table) > 3


@pytest.mark.parametrize("measurement", ANSWERS, ids=lambda one: one.id)
def test_words_and_belief_agree_on_every_answer(measurement: Measurement) -> None:
    """A yes speaks for a fault and a no against it, in words and in belief."""
    table = facts(MACHINES[0])
    for answer, says in ((1, "fault"), (0, "sound")):
        assert verdict(measurement, Reading(measurement.id, (answer,), ANSWER), table).says == says
        assert (leaning(measurement, answer, table=table) > 0) == (says == "fault")


@pytest.mark.parametrize(
    "text",
    ["cpu-ripple=0 mV", "cpu-ripple=3 V", "pull-up-networks=0 kohm", "pull-up-networks=0,10,10 kohm",
     "host-clock=0 MHz", "supply-voltage=12 V", "supply-voltage=-5 V", "case-temperature=185 C"],
)  # fmt: skip
def test_what_only_the_meter_explains_is_refused_and_says_nothing(text: str) -> None:
    """It is refused when typed, with the likely reason; in a logbook mended by hand it counts for nothing."""
    machine, _ = packed(MACHINES[0])
    name, _, rest = text.partition("=")
    numbers, unit = rest.split()
    values = tuple(to_base(number, unit) for number in numbers.split(","))
    measurement = MEASUREMENTS[name]

    with pytest.raises(UsageError, match=r"expected [\d.]+ to \d+ \w+, found \S+ \w+: \w+"):
        parse_readings([text], vocabulary(machine))
    assert leaning(measurement, *values, table=facts(MACHINES[0])) == 0
    assert verdict(measurement, Reading(name, values, unit), facts(MACHINES[0])).says == "unclear"


def test_off_scale_is_open() -> None:
    """Common practice: an element beyond the meter's range is open.

    Source: common practice, no source.
    """
    networks, table = MEASUREMENTS["pull-up-networks"], facts(MACHINES[0])
    values = (9900, 10_000, OPEN, 10_100)

    assert leaning(networks, *values, table=table) > 4
    assert "open" in verdict(networks, Reading(networks.id, values, "kohm"), table).text


def test_an_element_of_twelve_times_its_neighbours_is_beyond_doubt() -> None:
    """One of 120 kohm beside others of 10 kohm is ten thousand times likelier with a fault than without."""
    networks = MEASUREMENTS["pull-up-networks"]
    values = (9800, 9900, 9800, 120_000, 9900, 9800, 9900, 9800)

    assert leaning(networks, *values, table=facts(MACHINES[0])) > 9


def test_the_printed_value_is_told_behind_the_readings() -> None:
    """Three elements of 100 kohm are sound if that is printed on them, open if it is less, else unclear."""
    networks, table = MEASUREMENTS["pull-up-networks"], facts(MACHINES[0])
    said = {}
    for told in ("", " of 100 kohm by the slots", " of 10 kohm by the slots"):
        machine, _ = packed(MACHINES[0])
        [reading] = parse_readings([f"pull-up-networks=100,101,99 kohm{told}"], vocabulary(machine))
        said[told[4:7].strip()] = verdict(networks, reading, table).says

    assert said == {"": "unclear", "100": "sound", "10": "fault"}

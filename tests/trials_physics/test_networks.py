"""Pull-up networks judged by the resistances of their elements."""

from __future__ import annotations

import random
from itertools import product
from math import exp, inf, log, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.rulebook.load import load_rulebook
from waitwright.trials import networks
from waitwright.trials.networks import NetworkVerdict, judge_network, judgement

MEASUREMENT = load_rulebook().measurements["pull-up-networks"]
SOUND = [9.9, 10.1, 10.0, 9.8, 10.0, 10.2, 9.9, 10.0]


def judged(readings: list[float], nominal: float | None = None) -> NetworkVerdict:
    """The verdict on *readings* by the packed figures."""
    return judge_network(MEASUREMENT, readings, nominal)


def evidence(verdict: NetworkVerdict) -> float:
    """Log-odds that the readings add to a fault of the network."""
    return verdict.faulty - verdict.healthy


@pytest.mark.parametrize("nominal", [None, 10.0])
def test_equal_elements_are_sound(nominal: float | None) -> None:
    """Common practice: elements that all read about the same speak for a sound network.

    Source: common practice, no source.
    """
    verdict = judged(SOUND, nominal)

    assert evidence(verdict) < -4
    assert verdict.at_fault == ()
    assert verdict.level == pytest.approx(10, rel=0.03)
    assert {element.band.text for element in verdict.elements} == {"as it should be"}


@pytest.mark.parametrize("nominal", [None, 10.0])
@pytest.mark.parametrize("reading", [100.0, 1000.0, 3000.0, inf])
def test_an_open_element(nominal: float | None, reading: float) -> None:
    """Common practice: of 10 kohm elements one that reads 100 kohm, megohms or nothing is open.

    Source: common practice, no source.
    """
    verdict = judged([*SOUND[:3], reading, *SOUND[4:]], nominal)

    assert evidence(verdict) > 4
    assert verdict.at_fault == (3,)
    assert verdict.elements[3].fault > 0.98
    assert "open" in verdict.elements[3].band.text
    assert verdict.elements[3].reading == reading


def test_two_open_elements_say_more_than_one() -> None:
    """Each further open element adds to the evidence, and all are named."""
    one, two = judged([*SOUND[:7], 150.0], 10.0), judged([*SOUND[:6], 2000.0, 150.0], 10.0)

    assert evidence(two) > evidence(one) + 3
    assert two.at_fault == (6, 7)


def test_a_loaded_network_is_sound() -> None:
    """Parallel paths that lower all readings alike are no fault, and an open element stands out from them."""
    assert evidence(judged([0.6 * reading for reading in SOUND], 10.0)) < -3
    assert judged([*(0.6 * reading for reading in SOUND[:7]), 90.0], 10.0).at_fault == (7,)


def test_one_lower_reading_is_no_fault() -> None:
    """A single element that reads lower has a path beside it."""
    verdict = judged([*SOUND[:7], 4.0], 10.0)

    assert evidence(verdict) < -3 and verdict.at_fault == ()
    assert "lower" in verdict.elements[7].band.text


def test_the_printed_value_settles_two_groups() -> None:
    """Three elements at the printed value and five at half of it: the five are loaded, if it is known."""
    groups = [10.0, 10.0, 10.0, 5.0, 5.0, 5.0, 5.0, 5.0]

    assert evidence(judged(groups, 10.0)) < -2
    assert judged(groups, 10.0).at_fault == ()
    assert evidence(judged(groups, 5.0)) > 4
    assert judged(groups, 5.0).at_fault == (0, 1, 2)


@pytest.mark.parametrize("reading", [100.0, 1000.0, 3000.0, inf])
def test_all_open_by_the_printed_value(reading: float) -> None:
    """All elements far above the printed value: the common pin is off, though they read alike."""
    verdict = judged([reading] * 4, 10.0)

    assert verdict.at_fault == (0, 1, 2, 3) and "open" in judgement(verdict).text


@pytest.mark.parametrize(
    ("reading", "says"), [(20.0, "sound"), (100.0, "unclear"), (3000.0, "fault"), (inf, "fault")]
)
def test_elements_alike_above_what_boards_carry(reading: float, says: str) -> None:
    """Without the printed value, elements alike at 100 kohm are not clear; at megohms all are open.

    Source: CS8221 data book, rev 0, pp. 7-8: networks on boards have 330 ohm to 10 kohm.
    """
    verdict = judged([reading] * 4)

    assert judgement(verdict).says == says
    assert verdict.beyond == (says == "unclear") == (evidence(verdict) == 0)


def test_an_open_element_stands_out_whatever_the_value() -> None:
    """Among elements of 100 kohm one of megohms is open, also where the printed value is not told."""
    assert judged([100.0, 101.0, 99.0, 5000.0, 100.0]).at_fault == (3,)
    assert "open" in judgement(judged([100.0, 101.0, 99.0, 5000.0, 100.0])).text


def test_drift_is_weaker_evidence_than_a_break() -> None:
    """An element that drifted by a third is suspected, one within a tenth is not, a broken one convicts."""
    found = [evidence(judged([*SOUND[:7], reading], 10.0)) for reading in (11.0, 13.5, 100.0)]

    assert found[0] < -3 < 0 < found[1] < found[2]
    assert judged([*SOUND[:7], 13.5], 10.0).at_fault == (7,)
    assert "drifted" in judged([*SOUND[:7], 13.5], 10.0).elements[7].band.text


def test_one_reading_alone_says_little() -> None:
    """Nothing to compare with and no printed value: next to no evidence."""
    assert abs(evidence(judged([10.0]))) < 2
    assert judged([10.0]).at_fault == ()
    assert judged([100.0], 10.0).at_fault == (0,)


def test_a_short_is_told_as_low_and_not_as_open() -> None:
    """Zero ohms is a reading, and the worst that it says of the network is a path beside it."""
    verdict = judged([0.0, *SOUND[1:]], 10.0)

    assert verdict.at_fault == () and "lower" in verdict.elements[0].band.text


@pytest.mark.parametrize(
    ("readings", "nominal"),
    [([], 10.0), ([-1.0], 10.0), ([nan], 10.0), ([1.0], 0.0), ([1.0], inf)],
)
def test_what_cannot_be_judged(readings: list[float], nominal: float | None) -> None:
    """No reading, a negative one, or no true printed value: a clear error."""
    with pytest.raises(ValueError, match="expected"):
        judged(readings, nominal)


def test_the_likelihood_is_the_sum_over_all_sets_of_faulty_elements() -> None:
    """The closed form equals the plain sum over every set of one or more faulty elements and every level.

    Second opinion: every set of faulty elements, summed one by one.
    """
    readings = [10.0, 13.0, 7.0, 60.0]
    levels, prior = networks._levels(known=True)
    healthy = faulty = 0.0
    for level, log_weight in zip(levels, prior, strict=True):
        pairs = []
        for reading in readings:
            sound, broken = networks._densities(MEASUREMENT, np.array([[log(reading / 10.0) - level]]))
            pairs.append((exp(float(sound[0, 0])), exp(float(broken[0, 0]))))
        for states in product((0, 1), repeat=len(readings)):
            density = exp(log_weight)
            for state, pair in zip(states, pairs, strict=True):
                density *= pair[state] * (0.2 if state and any(states) else 0.8 if any(states) else 1.0)
            if any(states):
                faulty += density / (1 - 0.8 ** len(readings))
            else:
                healthy += density

    verdict = judged(readings, 10.0)

    assert exp(verdict.healthy) == pytest.approx(healthy, rel=1e-9)
    assert exp(verdict.faulty) == pytest.approx(faulty, rel=1e-9)


def test_few_elements_that_differ_are_not_clear() -> None:
    """A few elements of which one reads higher may as well be lowered ones; the printed value settles it."""
    few = [10.0, 10.0, 14.0]

    assert judgement(judged(few)).says == "unclear"
    assert "printed value" in judgement(judged(few)).text
    assert judgement(judged(few, 10.0)).says == "fault"
    assert judgement(judged(few, max(few))).says == "sound"


@given(
    st.lists(
        st.sampled_from([0.0, 0.5, 4.0, 7.0, 9.7, 10.0, 10.3, 11.8, 12.4, 14.0, 29.0, 120.0, inf]),
        min_size=1,
        max_size=9,
    ),
    st.sampled_from([None, 10.0, 14.0]),
)
def test_what_is_said_of_a_network_is_what_is_believed(readings: list[float], nominal: float | None) -> None:
    """Words that clear or convict a network never stand beside evidence that points the other way."""
    verdict = judged(readings, nominal)
    says = judgement(verdict).says

    assert says != "sound" or (verdict.evidence <= 0 and not verdict.at_fault)
    assert says != "fault" or verdict.evidence > 1


@given(
    st.lists(st.one_of(st.floats(0.0, 1e7), st.just(inf)), min_size=1, max_size=12),
    st.floats(0.1, 1000.0),
    st.randoms(use_true_random=False),
)
def test_any_readings(readings: list[float], nominal: float, shuffle: random.Random) -> None:
    """Whatever is read, the verdict is finite, and the order of the elements does not matter."""
    order = list(range(len(readings)))
    shuffle.shuffle(order)
    verdict = judged(readings, nominal)
    other = judged([readings[place] for place in order], nominal)

    assert abs(verdict.healthy) < 1e6 and abs(verdict.faulty) < 1e6
    assert all(0 <= element.fault <= 1 for element in verdict.elements)
    assert other.faulty == pytest.approx(verdict.faulty, abs=1e-6)
    faults = [verdict.elements[place].fault for place in order]
    assert [element.fault for element in other.elements] == pytest.approx(faults, abs=1e-6)


@given(st.floats(0.05, 1000.0))
def test_the_unit_does_not_matter(scale: float) -> None:
    """Ohms, kilohms or networks of another value: only ratios count."""
    readings = [*SOUND[:6], 14.0, 200.0]
    one, other = judged(readings, 10.0), judged([scale * reading for reading in readings], 10.0 * scale)

    assert evidence(one) == pytest.approx(evidence(other), abs=1e-6)
    assert one.at_fault == other.at_fault


@pytest.mark.parametrize("nominal", [None, 10.0])
def test_simulated_networks_are_told_apart(nominal: float | None) -> None:
    """Of simulated networks, loaded and read as the model says, nearly all are judged rightly.

    Second opinion: simulated networks.
    """
    source = random.Random(5)
    right = 0
    for number in range(200):
        load = source.choice([1.0, source.uniform(0.4, 1.0)])
        readings = [10 * load * exp(source.gauss(0, 0.05)) for _ in range(8)]
        broken = number % 2 == 1
        if broken:
            readings[source.randrange(8)] = source.uniform(80, 5000)
        right += (evidence(judged(readings, nominal)) > 0) == broken

    assert right >= 194

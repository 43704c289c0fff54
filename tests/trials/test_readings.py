"""Readings and scores as people type them."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.errors import UsageError
from waitwright.rulebook.domain import Bounds
from waitwright.trials.logbook import ANSWER, Reading, Score
from waitwright.trials.readings import OPEN, Measurable, parse_readings, parse_score
from waitwright.units import UNITS, to_base

VOCABULARY = {
    thing.name: thing
    for thing in (
        Measurable("ripple", "ripple at the CPU", "mV", Bounds(2, 5000, "no contact", "no ground")),
        Measurable(
            "network", "a resistance", "kohm", Bounds(Fraction(1, 100), 10**5, "a short", "write OL"), True
        ),
        Measurable("clock", "the measured clock", "MHz"),
        Measurable("supply", "the supply voltage", "V"),
        Measurable("warm", "whether it starts warm", ANSWER),
        Measurable("case", "the temperature of the case", "C"),
    )
}


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("ripple=120 mV", Reading("ripple", (Fraction(120, 1000),), "mV")),
        ("ripple=0.12V at the  socket ", Reading("ripple", (Fraction(12, 100),), "V", "at the  socket")),
        ("network=9.8,10.1,104 kohm", Reading("network", (9800, 10_100, 104_000), "kohm")),
        (" network = 980.5 , 10 ohm", Reading("network", (Fraction("980.5"), 10), "ohm")),
        ("network=10,10 kohm,2 Mohm", Reading("network", (10_000, 10_000, 2_000_000), "kohm")),
        ("network=10 kohm, 900 ohm", Reading("network", (10_000, 900), "kohm")),
        ("network=10 kohm, 9, OL", Reading("network", (10_000, 9000, OPEN), "kohm")),
        (
            "network=10,2 Mohm by the slots, left",
            Reading("network", (10**7, 2 * 10**6), "Mohm", "by the slots, left"),
        ),
        ("network=10,OL,9.9 kohm, left", Reading("network", (10_000, OPEN, 9900), "kohm", "left")),
        ("network=ol,9.9 kohm,OL by the CPU", Reading("network", (OPEN, 9900, OPEN), "kohm", "by the CPU")),
        ("network=OL", Reading("network", (OPEN,), "kohm")),
        ("network=9.8,10 kohm of 10 kohm", Reading("network", (9800, 10_000), "kohm", "", 10_000)),
        ("network=900,OL ohm of 1 kohm left", Reading("network", (900, OPEN), "ohm", "left", 1000)),
        ("network=900,OL ohm of the left", Reading("network", (900, OPEN), "ohm", "of the left")),
        (
            "ripple=0.12 V at the socket, left",
            Reading("ripple", (Fraction(12, 100),), "V", "at the socket, left"),
        ),
        ("clock=33.1 MHz", Reading("clock", (Fraction(331, 10**7),), "MHz")),
        ("clock=100/3 MHz", Reading("clock", (Fraction(1, 30_000),), "MHz")),
        ("supply=4.92 V", Reading("supply", (Fraction("4.92"),), "V")),
        ("case=-5 C", Reading("case", (-5,), "C")),
        ("warm=yes", Reading("warm", (1,), ANSWER)),
        ("warm = no  after an hour", Reading("warm", (0,), ANSWER, "after an hour")),
    ],
)
def test_a_reading(text: str, reading: Reading) -> None:
    """A reading is exact and in base units, keeps the unit that was typed, and may say where."""
    assert parse_readings([text], VOCABULARY) == (reading,)


def test_readings_keep_their_order() -> None:
    """Several readings, even of the same name, are all kept as typed."""
    names = [
        reading.name for reading in parse_readings(["case=51 C", "ripple=3 mV", "case=52 C"], VOCABULARY)
    ]

    assert names == ["case", "ripple", "case"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("120 mV", "expected NAME=VALUE UNIT, NAME one of ripple, network, clock, supply, warm, case"),
        ("riple=120 mV", "nothing called \"riple\" is measured (did you mean 'ripple'?)"),
        ("=120 mV", 'nothing called "" is measured (known here: case, clock, network, ripple, supply, warm)'),
        ("ripple=120", "expected a unit after the value, V or mV; found none"),
        ("ripple=120 kohm", 'expected a unit after the value, V or mV; found "kohm"'),
        ("network=9.8 k", 'expected a unit after the value, ohm, kohm or Mohm; found "k"'),
        ("network=9.8 kohm,9.8 k", 'expected a unit after the value, ohm, kohm or Mohm; found "k"'),
        ("network=9.8,OL by the CPU", "expected a unit after the value, ohm, kohm or Mohm; found none"),
        ("network=9.8 kohm of 10", "expected a unit after the value, ohm, kohm or Mohm; found none"),
        ("network=9.8 kohm of 0 kohm", "expected 0.01 to 100000 kohm, found 0 kohm: a short"),
        ("network=9.8 kohm of 10,20 kohm", "expected one printed value after of, such as of 10 kohm"),
        ("ripple=OL mV", 'expected a unit after the value, V or mV; found "OL"'),
        ("ripple=mV", 'expected a number such as 12, 12.5 or "100/3", found ""'),
        ("ripple=1 2 mV", 'expected a number such as 12, 12.5 or "100/3", found "1 2"'),
        ("ripple=1/0 mV", '"1/0" divides by zero'),
        ("ripple=9,8 mV", "ripple at the CPU is one value; write 9.8, not 9,8"),
        ("network=9.8,,10 kohm", 'expected a number such as 12, 12.5 or "100/3", found ""'),
        ("network=1" + ",1" * 64 + " ohm", "expected at most 64 values"),
        ("ripple=5.1 V", "expected 2 to 5000 mV, found 5.1 V: no ground"),
        ("ripple=0 mV", "expected 2 to 5000 mV, found 0 mV: no contact"),
        ("ripple=-1 mV", "expected 2 to 5000 mV, found -1 mV: no contact"),
        ("network=9.9,0 kohm", "expected 0.01 to 100000 kohm, found 0 kohm: a short"),
        ("network=9.9 kohm,200 Mohm", "expected 0.01 to 100000 kohm, found 200 Mohm: write OL"),
        ("warm=true", 'expected yes or no, found "true"'),
        ("warm=yes " + "x" * 101, "expected at most 100 plain letters to say where"),
        ("ripple=3 mV " + "x" * 101, "expected at most 100 plain letters to say where"),
        ("ripple=3 mV a\x1bb", "expected at most 100 plain letters to say where"),
    ],
)
def test_a_bad_reading(text: str, message: str) -> None:
    """A reading that cannot be taken is told in one line: which text, and what was expected."""
    with pytest.raises(UsageError) as caught:
        parse_readings(["case=51 C", text], VOCABULARY)

    line = str(caught.value)
    assert line.startswith('--measure "')
    assert line.endswith(f'": {message}')
    assert line.isprintable()


@given(
    st.sampled_from(sorted(set(VOCABULARY) - {"warm"})), st.integers(1, 199), st.sampled_from(sorted(UNITS))
)
def test_only_units_of_the_right_kind_are_taken(name: str, number: int, unit: str) -> None:
    """Any unit of the same dimension is taken, and no other."""
    thing = VOCABULARY[name]
    try:
        (reading,) = parse_readings([f"{name}={number} {unit}"], VOCABULARY)
    except UsageError as error:
        wrong_unit = "expected a unit" in str(error)
        assert wrong_unit == (UNITS[unit].dimension != UNITS[thing.unit].dimension)
    else:
        assert reading.values == (to_base(number, unit),)
        if thing.bounds is not None:
            least, most = (to_base(bound, thing.unit) for bound in (thing.bounds.least, thing.bounds.most))
            assert least <= reading.values[0] <= most


@given(st.text(max_size=300))
def test_any_text_is_taken_or_told(text: str) -> None:
    """No text whatever ends in anything but a reading, a score, or one line."""
    for begun in (text, "case=" + text, "case=7 C" + text):
        with suppress(UsageError):
            assert parse_readings([begun], VOCABULARY)
    for begun in (text, "7 " + text):
        with suppress(UsageError):
            assert parse_score(begun).unit.isprintable()


@pytest.mark.parametrize(
    ("text", "score"),
    [
        ("36.1 points", Score(Fraction("36.1"), "points")),
        ("6.3 frames/s", Score(Fraction("6.3"), "frames/s")),
        ("  12   frames   per  second ", Score(12, "frames per second")),
        ("1/3 %", Score(Fraction(1, 3), "%")),
    ],
)
def test_a_score(text: str, score: Score) -> None:
    """A score is an exact number and a unit of any name, trimmed."""
    assert parse_score(text) == score


def test_a_score_of_a_workload() -> None:
    """A score keeps the kind of work that it measures."""
    assert parse_score("6.3 frames/s", "game").workload == "game"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "expected VALUE UNIT, such as '36.1 points'"),
        ("36.1", "expected VALUE UNIT, such as '36.1 points'"),
        ("36,1 points", 'expected a number such as 12, 12.5 or "100/3", found "36,1"'),
        ("fast enough", 'expected a number such as 12, 12.5 or "100/3", found "fast"'),
        ("0 points", "expected a value of more than 0, at most 1000000000"),
        ("1000000001 points", "expected a value of more than 0, at most 1000000000"),
        ("1 " + "x" * 41, "expected a unit of at most 40 plain letters"),
        ("1 a\x00b", "expected a unit of at most 40 plain letters"),
    ],
)
def test_a_bad_score(text: str, message: str) -> None:
    """A score that cannot be taken is told in one line."""
    with pytest.raises(UsageError) as caught:
        parse_score(text)

    assert str(caught.value).startswith('--score "')
    assert str(caught.value).endswith(f'": {message}')

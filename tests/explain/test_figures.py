"""Figures as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.explain.figures import asked, chance, measured, percent, plain, several, signed_percent


@pytest.mark.parametrize(
    ("share", "shown"),
    [
        (0.123, "12 %"),
        (0.0949, "9.5 %"),
        (0.0996, "10 %"),
        (0.004, "0.4 %"),
        (-0.0001, "0.0 %"),
        (-0.31, "-31 %"),
    ],
)
def test_gains(share: float, shown: str) -> None:
    """A gain has one decimal below ten percent and none above, and nothing is never negative."""
    assert percent(share) == shown


@pytest.mark.parametrize(
    ("share", "shown"), [(0.123, "+12.3 %"), (0.0, "+0.0 %"), (-0.00001, "+0.0 %"), (-0.05, "-5.0 %")]
)
def test_gains_with_sign(share: float, shown: str) -> None:
    """In lists a gain has its sign and a tenth."""
    assert signed_percent(share) == shown


@pytest.mark.parametrize(
    ("odds", "shown"),
    [
        (None, "-"),
        (1.0, "> 99.9 %"),
        (0.9991, "> 99.9 %"),
        (0.999, "99.9 %"),
        (0.95, "95.0 %"),
        (0.9, "90 %"),
        (0.494, "49 %"),
        (0.049, "4.9 %"),
        (0.001, "0.1 %"),
        (0.0, "< 0.1 %"),
    ],
)
def test_odds(odds: float | None, shown: str) -> None:
    """Odds never read as certain, and are told more finely where they come close to it."""
    assert chance(odds) == shown


@pytest.mark.parametrize(
    ("odds", "shown"),
    [
        (1.0, "100 %"),
        (0.0, "0 %"),
        (0.9, "90 %"),
        (0.57, "57 %"),
        (0.9999, "99.99 %"),
        (0.9999999, "99.99999 %"),
    ],
)
def test_odds_that_were_asked_for(odds: float, shown: str) -> None:
    """A wish is told as it was given, certainty included: rounding it would tell of another wish."""
    assert asked(odds) == shown


@given(st.floats(0, 1))
def test_odds_are_told_truly(odds: float) -> None:
    """What is shown of odds is never further off than half of its last place."""
    shown = chance(odds).removesuffix(" %")
    if shown.startswith(">"):
        assert odds > 0.999
    elif shown.startswith("<"):
        assert odds < 0.001
    else:
        assert abs(float(shown) - 100 * odds) <= (0.051 if "." in shown else 0.501)


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (None, "unknown"),
        (60.0, "60"),
        (4.5, "4.5"),
        (14.375, "14.38"),
        (-0.001, "0"),
        (100.0, "100"),
        (0.0, "0"),
    ],
)
def test_plain_numbers(value: float | None, shown: str) -> None:
    """Numbers have no idle zeros behind the point, and zero has no sign."""
    assert plain(value) == shown


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (4.5, "ns", "4.5 ns"),
        (2.0, "loads", "2 loads"),
        (1.0, "loads", "1 load"),
        (1.5, "clocks", "1.5 clocks"),
        (3.0, "count", "3"),
        (0.5, "ratio", "0.5"),
        (5.0, "percent", "5 %"),
        (1.0, "us", "1 us"),
        (None, "ns", "unknown"),
    ],
)
def test_numbers_with_units(value: float | None, unit: str, shown: str) -> None:
    """Units follow their number; words of units are singular for one, and counts need none."""
    assert measured(value, unit) == shown


def test_counted_things() -> None:
    """One thing is singular; none and several are plural."""
    assert [several(count, "change") for count in (0, 1, 2)] == ["0 changes", "1 change", "2 changes"]
    assert [several(count, "holds", "hold") for count in (1, 3)] == ["1 holds", "3 hold"]

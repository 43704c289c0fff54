"""Numbers, units and texts of files."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.schema.scalars import in_base_units, plain, read_cell, read_cells, read_number, shown


@pytest.mark.parametrize(
    ("raw", "number"),
    [
        (12, 12),
        (-3, -3),
        (Decimal("12.5"), Fraction(25, 2)),
        (Decimal("4.0"), 4),
        ("100/3", Fraction(100, 3)),
        ("14.31818", Fraction("14.31818")),
        ("6/2", 3),
    ],
)
def test_numbers_are_exact(raw: object, number: int | Fraction) -> None:
    """Whole numbers, decimals and ratios are read exactly, and whole results are whole numbers."""
    read = read_number(raw)

    assert read == number
    assert isinstance(read, int) == (Fraction(number).denominator == 1)


@pytest.mark.parametrize(
    "raw",
    [
        True,
        None,
        "",
        "12 ns",
        "1e9",
        "1/0",
        "0.5/0.25",
        "1/2/3",
        "--1",
        "0x10",
        "٣",
        "9" * 41,
        Decimal("NaN"),
        Decimal("Infinity"),
        Decimal("1e99999"),
        Decimal("1e-99999"),
        [1],
        {"a": 1},
    ],
)
def test_what_is_no_number(raw: object) -> None:
    """Flags, words, exponents in text, divisions by zero and absurd decimals are refused in one line."""
    with pytest.raises(ValueError, match=r"^[^\n]+$"):
        read_number(raw)


def test_division_by_zero_is_told() -> None:
    """A ratio over zero is told as such."""
    with pytest.raises(ValueError, match=r'"100/0" divides by zero'):
        read_number("100/0")


@given(st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**9))
def test_plain_numbers_read_back(number: Fraction) -> None:
    """What is written for a number is read back as the same number."""
    text = plain(number)

    assert read_number(text) == number
    assert read_number(Decimal(text) if "/" not in text else text) == number


def test_base_units() -> None:
    """A value becomes exact base units by its unit; flags and texts stay what they are."""
    assert in_base_units("100/3", "MHz") == Fraction(1, 30000)
    assert in_base_units(Fraction(9, 2), "ns") == 4500
    assert in_base_units(True, "flag") is True
    assert in_base_units("clk2", "text") == "clk2"


@pytest.mark.parametrize(
    ("cell", "unit", "words"),
    [
        (1, "flag", "expected true or false, found 1"),
        ("yes", "flag", 'expected true or false, found "yes"'),
        (3, "text", "expected a text, found 3"),
        (True, "ns", 'expected a number such as 12, 12.5 or "100/3", found true'),
        ("fast", "ns", 'expected a number such as 12, 12.5 or "100/3", found "fast"'),
        (-1, "ns", "-1 ns is negative"),
        (2_000_000_000, "ns", "2000000000 ns is above 1000000000 ns"),
    ],
)
def test_values_that_do_not_fit_their_unit(cell: int | str | bool, unit: str, words: str) -> None:
    """A value of another sort than its unit, or out of all bounds, is told with what was expected."""
    with pytest.raises(ValueError, match=r"expected|is") as caught:
        in_base_units(cell, unit, least=0)

    assert str(caught.value) == words


def test_bounds_are_told_in_the_files_unit() -> None:
    """A value below or above its own bounds is told with the bound."""
    with pytest.raises(ValueError, match="1 clocks is below 2 clocks"):
        in_base_units(1, "clocks", least=2, most=6)
    with pytest.raises(ValueError, match=r"7 clocks is above 6\.5 clocks"):
        in_base_units(7, "clocks", least=2, most=Fraction(13, 2))


def test_cells() -> None:
    """A cell is a number, a text or a flag; a list of them stands for the grades."""
    assert read_cells([16, Decimal("2.5"), "-", True]) == (16, Fraction(5, 2), "-", True)
    assert read_cell("x" * 200) == "x" * 200
    for raw in ([], [[1]], {"a": 1}, [None], list(range(41))):
        with pytest.raises(ValueError, match="expected"):
            read_cells(raw)
    with pytest.raises(ValueError, match="at most 200 characters"):
        read_cell("x" * 201)


@given(st.integers() | st.text() | st.booleans() | st.lists(st.integers()) | st.decimals(allow_nan=True))
def test_what_messages_show_of_a_value_is_short(raw: object) -> None:
    """However large a value is, a message shows one line of at most forty signs of it."""
    assert len(shown(raw)) <= 42 + 9 * 37  # unprintable signs are written as escapes
    assert len(shown(raw).splitlines()) == 1

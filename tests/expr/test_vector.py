"""Many draws at once: every row as the exact evaluation of that row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from waitwright.errors import ExpressionError
from waitwright.expr import Value, evaluate, parse
from waitwright.expr.vector import Many, evaluate_many

from .oracle import Tracked, Unclear, python_value
from .strategies import FLAGS, TEXTS, any_rules, tables, whole_rules


def _columns(rows: Sequence[dict[str, Value]]) -> dict[str, Any]:
    """Facts of several rows as arrays, or as scalars where all rows agree."""
    columns: dict[str, Any] = {}
    for name in rows[0]:
        values = [row[name] for row in rows]
        if all(value == values[0] for value in values):
            columns[name] = values[0]
        elif name in TEXTS:
            columns[name] = np.array(values, dtype=object)
        elif name in FLAGS and None not in values:
            columns[name] = np.array(values, dtype=bool)
        else:
            columns[name] = np.array([math.nan if value is None else float(value) for value in values])
    return columns


def _rows_of(values: Many, count: int) -> list[Any]:
    return list(np.broadcast_to(np.asarray(values, dtype=object), (count,)))


def _agrees(row: Any, exact: Value) -> bool:
    if exact is None:
        return row is None or (isinstance(row, float) and math.isnan(row))
    if isinstance(exact, str):
        return bool(row == exact)
    return isinstance(row, float) and math.isclose(row, exact, rel_tol=1e-9)


@given(whole_rules, st.lists(tables(whole=True, unknown=True), min_size=1, max_size=4))
def test_rows_with_unknowns_agree(text: str, rows: list[dict[str, Value]]) -> None:
    """Each row equals the exact evaluation of that row, unknowns included."""
    expression = parse(text)
    many = _rows_of(evaluate_many(expression, _columns(rows).__getitem__), len(rows))
    for row, facts in zip(many, rows, strict=True):
        assert _agrees(row, evaluate(expression, facts.__getitem__))


@given(any_rules, st.lists(tables(), min_size=1, max_size=4))
def test_rows_agree_wherever_floats_can_tell(text: str, rows: list[dict[str, Value]]) -> None:
    """Each row is within 1e-9 of the exact value, unless floats cannot settle it or a divisor is zero."""
    expression = parse(text)
    many = _rows_of(evaluate_many(expression, _columns(rows).__getitem__), len(rows))
    settled = 0
    for row, facts in zip(many, rows, strict=True):
        tracked = {
            name: Tracked(Fraction(value)) if name not in (*FLAGS, *TEXTS) else value  # type: ignore[arg-type]
            for name, value in facts.items()
        }
        try:
            python_value(text, tracked, Tracked)
        except (Unclear, ZeroDivisionError):
            continue
        assert _agrees(row, evaluate(expression, facts.__getitem__))
        settled += 1
    assume(settled)


@pytest.mark.parametrize("tenths", range(1, 1000, 37))
def test_zero_margin_is_zero_in_floats_too(tenths: int) -> None:
    """Where the exact margin is zero, the float margin is zero and the comparison holds."""
    parts = np.array([tenths * 100.0, tenths * 100.0]) / 3.0
    facts: dict[str, Any] = {"room": tenths * 100.0, "a": parts, "b": parts * 2.0}
    assert np.all(evaluate_many(parse("room - (a + b)"), facts.__getitem__) == 0.0)
    assert np.all(evaluate_many(parse("room >= a + b"), facts.__getitem__) == 1.0)
    assert np.all(evaluate_many(parse("room < a + b"), facts.__getitem__) == 0.0)
    assert np.all(evaluate_many(parse("ceil((a + b) / (room / 3))"), facts.__getitem__) == 3.0)


def test_flags_come_back_as_floats() -> None:
    """Flags are 1.0, 0.0 and nan, and can be fed in again."""
    delay = np.array([1.0, 3.0, math.nan])
    late = evaluate_many(parse("delay > 2"), {"delay": delay}.__getitem__)
    np.testing.assert_array_equal(late, [0.0, 1.0, math.nan])
    again = evaluate_many(parse("(late or true) and not late"), {"late": late}.__getitem__)
    np.testing.assert_array_equal(again, [1.0, 0.0, math.nan])


def test_scalars_stay_scalars() -> None:
    """Only scalars in, one scalar out; a fact that is whole, exact or a numpy scalar counts as its float."""
    facts: dict[str, Any] = {"a": 3, "b": Fraction(1, 2), "c": np.float64(2.0), "d": np.array(4.0), "e": True}
    for text, value in [
        ("a * b + c / d", 2.0),
        ("e and a > b", 1.0),
        ("max(a, b, c)", 3.0),
        ("ceil(b)", 1.0),
    ]:
        result = evaluate_many(parse(text), facts.__getitem__)
        assert isinstance(result, float)
        assert result == value
    assert evaluate_many(parse("'x' if e else 'y'"), facts.__getitem__) == "x"


def test_untaken_branches_of_one_condition_are_not_asked() -> None:
    """A condition that is the same for all draws asks only for the facts of its branch, each once."""
    asked: list[str] = []

    def lookup(name: str) -> Any:
        asked.append(name)
        return {"yes": True, "draws": np.array([1.0, 2.0])}[name]

    result = evaluate_many(parse("draws + draws if yes or other else other"), lookup)
    np.testing.assert_array_equal(result, [2.0, 4.0])
    assert asked == ["yes", "draws"]


def test_division_by_zero_is_unknown() -> None:
    """A zero divisor gives nan in its rows only, without a warning, and none where it is not needed."""
    facts = {"a": np.array([0.0, 2.0, 0.0]), "b": np.array([1.0, 1.0, 0.0])}
    np.testing.assert_array_equal(evaluate_many(parse("b / a"), facts.__getitem__), [math.nan, 0.5, math.nan])
    safe = evaluate_many(parse("b / a if a != 0 else 7"), facts.__getitem__)
    np.testing.assert_array_equal(safe, [7.0, 0.5, 7.0])


def test_texts_are_compared_row_by_row() -> None:
    """Texts may be arrays of either text type, with None or nan for unknown."""
    family = np.array(["386", None, "486", math.nan], dtype=object)
    facts: dict[str, Any] = {"t": family, "u": np.array(["386", "386", "386", "486"]), "none": None}
    equal = evaluate_many(parse("t == u"), facts.__getitem__)
    np.testing.assert_array_equal(equal, [1.0, math.nan, 0.0, math.nan])
    listed = evaluate_many(parse("t not in ('386', '387')"), facts.__getitem__)
    np.testing.assert_array_equal(listed, [0.0, math.nan, 1.0, math.nan])
    assert math.isnan(evaluate_many(parse("none == 'a'"), facts.__getitem__))  # type: ignore[arg-type]
    chosen = evaluate_many(parse("t if u == '386' else none"), facts.__getitem__)
    assert isinstance(chosen, np.ndarray)
    assert list(chosen) == ["386", None, "486", None]


def test_rows_broadcast() -> None:
    """A column and a row of facts give a table."""
    facts = {"a": np.array([[1.0], [2.0]]), "b": np.array([10.0, 20.0, 30.0])}
    result = evaluate_many(parse("a * b >= 20"), facts.__getitem__)
    np.testing.assert_array_equal(result, [[0.0, 1.0, 1.0], [1.0, 1.0, 1.0]])


def test_numbers_beyond_floats_are_infinite() -> None:
    """A fact too large for a float is infinite on its side."""
    assert evaluate_many(parse("a"), {"a": 10**400}.__getitem__) == math.inf
    assert evaluate_many(parse("a"), {"a": -Fraction(10**400, 3)}.__getitem__) == -math.inf


@pytest.mark.parametrize(
    ("text", "where"), [("1 + t", 4), ("t < t", 4), ("t == 1", 5), ("not t", 4), ("t in (1,)", 6)]
)
def test_texts_out_of_place_are_refused(text: str, where: int) -> None:
    """A text where a number or flag belongs is an error with its position."""
    for value in ("a", np.array(["a", "b"])):
        with pytest.raises(ExpressionError) as caught:
            evaluate_many(parse(text), {"t": value}.__getitem__)
        assert caught.value.position == where


@pytest.mark.parametrize("value", [[1.0], 1j, np.array([1j]), np.array(["2020"], dtype="datetime64[D]")])
def test_other_things_are_no_facts(value: Any) -> None:
    """A look-up that gives neither number, flag nor text is a mistake of the program."""
    with pytest.raises(TypeError, match="'a' is neither"):
        evaluate_many(parse("a"), {"a": value}.__getitem__)


@pytest.mark.parametrize("sign", ["<", "<=", ">", ">=", "==", "!="])
def test_fractions_of_a_unit_are_told_apart(sign: str) -> None:
    """Numbers that differ by less than one are compared as they are."""
    facts: dict[str, Any] = {"left": np.array([0.25, 0.5, 0.75]), "right": 0.5}
    found = evaluate_many(parse(f"left {sign} right"), facts.__getitem__)

    assert list(np.asarray(found, dtype=bool)) == [
        evaluate(parse(f"left {sign} right"), {"left": Fraction(one), "right": Fraction(1, 2)}.__getitem__)
        for one in (Fraction(1, 4), Fraction(1, 2), Fraction(3, 4))
    ]


def test_what_is_only_rounding_is_nothing() -> None:
    """Among draws that differ, one whose sum cancels but for rounding is exactly zero, and others stay."""
    draws = np.array([0.1, 1.0, 7.3])
    facts: dict[str, Any] = {"draws": draws, "b": 0.2, "c": 0.1 + 0.2, "more": draws + 0.2, "less": 0.3}
    found = evaluate_many(parse("draws + b - c"), facts.__getitem__)
    alone = evaluate_many(parse("more - less"), facts.__getitem__)

    assert list(np.asarray(found) == 0.0) == [True, False, False]
    assert list(np.asarray(alone) == 0.0) == [True, False, False]
    assert np.asarray(alone)[1:] == pytest.approx([0.9, 7.2])

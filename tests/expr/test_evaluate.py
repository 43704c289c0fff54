"""Exact values: against Python's own arithmetic, with unknowns, and at the edges."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from waitwright.errors import ExpressionError
from waitwright.expr import Step, Value, check, evaluate, explain_value, parse

from .oracle import python_value
from .strategies import KINDS, any_rules, tables


def value_of(text: str, **facts: Value) -> Value:
    """The value of rule *text*; a double underscore in a keyword stands for a dot."""
    return evaluate(
        parse(text), {name.replace("__", "."): value for name, value in facts.items()}.__getitem__
    )


@given(any_rules, tables())
def test_values_equal_pythons(text: str, facts: Mapping[str, Value]) -> None:
    """A sound rule has the value that Python finds with fractions, and fails only on division by zero."""
    expression = parse(text)
    check(expression, KINDS)
    exact = {name: Fraction(value) if type(value) is int else value for name, value in facts.items()}
    try:
        expected = python_value(text, exact)
    except ZeroDivisionError:
        with pytest.raises(ExpressionError, match="division by zero"):
            evaluate(expression, facts.__getitem__)
        return
    value = evaluate(expression, facts.__getitem__)
    assert value == expected
    assert isinstance(value, bool) == isinstance(expected, bool)
    assert type(value) is not Fraction or value.denominator > 1


@given(any_rules, tables(), st.data())
def test_what_is_settled_without_a_fact_stays_settled(
    text: str, facts: dict[str, Value], data: st.DataObject
) -> None:
    """A value found while facts are unknown is the value that any filling-in gives."""
    hidden = data.draw(st.sets(st.sampled_from(sorted(facts))))
    partial = {name: None if name in hidden else value for name, value in facts.items()}
    expression = parse(text)
    try:
        guess = evaluate(expression, partial.__getitem__)
        full = evaluate(expression, facts.__getitem__)
    except ExpressionError:
        reject()
    assert guess is None or guess == full


@pytest.mark.parametrize("tenths", range(0, 1000, 37))
def test_zero_margin_is_zero(tenths: int) -> None:
    """Tenths of nanoseconds that add up leave a margin of exactly zero, not a rounding error below it."""
    room, spent = f"{tenths // 10}.{tenths % 10}", [tenths // 3, tenths // 5]
    spent.append(tenths - sum(spent))
    terms = " + ".join(f"ns({part // 10}.{part % 10})" for part in spent)
    assert value_of(f"ns({room}) - ({terms})") == 0
    assert value_of(f"ns({room}) >= {terms}") is True


def test_periods_of_uneven_clocks_are_exact() -> None:
    """33 1/3 MHz has a period of exactly 30 ns, and three of its clocks cover exactly 90 ns."""
    clock = Fraction(100, 3) / 10**6
    assert value_of("1 / f", f=clock) == 30_000
    assert value_of("ceil(ns(90) * f)", f=clock) == 3
    assert value_of("ceil(ns(90.1) * f)", f=clock) == 4


@pytest.mark.parametrize(
    "text", ["a + b", "a * b - a", "a / c", "max(a, b)", "-a", "abs(a)", "ceil(a)", "h * 2"]
)
def test_whole_numbers_stay_int(text: str) -> None:
    """Whole results are ints, also when a fraction was passed on the way."""
    assert type(value_of(text, a=6, b=4, c=3, h=Fraction(1, 2))) is int


def test_a_whole_fraction_from_outside_is_tidied() -> None:
    """A fact given as Fraction(3, 1) comes back as the int 3, in results and in explanations."""
    assert type(value_of("a", a=Fraction(3, 1))) is int
    facts: dict[str, Value] = {"a": Fraction(3, 1), "f": True}
    steps = explain_value(parse("a if f else b"), facts.__getitem__)
    assert [type(step.value) for step in steps] == [bool, int, int]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("ns(4.5)", 4500),
        ("us(1)", 10**6),
        ("ms(2)", 2 * 10**9),
        ("MHz(33)", Fraction(33, 10**6)),
        ("kHz(1)", Fraction(1, 10**9)),
        ("V(3.3)", Fraction(33, 10)),
        ("mV(50)", Fraction(1, 20)),
        ("KB(64)", 65536),
        ("MB(1)", 1048576),
        ("C(70)", 70),
        ("percent(5)", Fraction(1, 20)),
    ],
)
def test_units_scale_to_base_units(text: str, value: Value) -> None:
    """A unit call gives its number in base units."""
    assert value_of(text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("ceil({})", -2),
        ("floor({})", -3),
        ("abs({})", Fraction(5, 2)),
        ("-{}", Fraction(5, 2)),
        ("max({}, -3)", Fraction(-5, 2)),
    ],
)
def test_functions_of_a_negative_fraction(text: str, value: Value) -> None:
    """Rounding goes up and down along the number line, also below zero."""
    assert value_of(text.format("(-2.5)")) == value


AND = {(True, True): True, (True, None): None, (None, None): None}
OR = {(False, False): False, (False, None): None, (None, None): None}


@pytest.mark.parametrize(("left", "right"), list(product([True, False, None], repeat=2)))
def test_three_valued_logic(left: bool | None, right: bool | None) -> None:
    """'and' is decided by one false, 'or' by one true; otherwise one unknown leaves them unknown."""
    pair = (left, right)
    swapped = (right, left)
    assert value_of("a and b", a=left, b=right) is AND.get(pair, AND.get(swapped, False))
    assert value_of("a or b", a=left, b=right) is OR.get(pair, OR.get(swapped, True))
    assert value_of("not a", a=left) is {True: False, False: True, None: None}[left]


@pytest.mark.parametrize(
    "text",
    [
        *(
            "u + 1",
            "1 - u",
            "u * 0",
            "1 / u",
            "-u",
            "min(1, u)",
            "max(u, 1)",
            "ceil(u)",
            "abs(u)",
            "1 if u else 1",
        ),
        *("u", "u < 1", "1 == u", "1 < u < 3", "u in (1,)", "not u", "u and true", "false or u", "u == 'a'"),
        "u == true",
    ],
)
def test_unknown_spreads(text: str) -> None:
    """Whatever needs an unknown fact is unknown."""
    assert value_of(text, u=None) is None


def test_unknown_is_passed_over_where_it_does_not_matter() -> None:
    """A branch not taken, a decided 'and', and a chain already broken do not need their other facts."""
    assert value_of("1 if a else u", a=True, u=None) == 1
    assert value_of("u if a else 1", a=False, u=None) == 1
    assert value_of("u and false", u=None) is False
    assert value_of("u or true", u=None) is True
    assert value_of("u < 1 < 0", u=None) is False
    assert value_of("2 < 1 < u", u=None) is False


def test_untaken_branches_are_not_looked_up() -> None:
    """A fact of the branch not taken, or behind a decision, is never asked for."""
    asked: list[str] = []

    def lookup(name: str) -> Value:
        asked.append(name)
        return name == "yes"

    assert evaluate(parse("yes if yes or other else other and more"), lookup) is True
    assert asked == ["yes", "yes"]


def test_chains_compare_neighbours() -> None:
    """A chain holds when each neighbouring pair does."""
    assert value_of("1 <= a < 3 != 4", a=2) is True
    assert value_of("1 <= a < 3", a=3) is False
    assert value_of("a == a == b", a="x", b="y") is False


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("1 / (a - a)", 5, "a - a is 0"),
        ("2 + b / c.d", 8, "c.d is 0"),
        ("1 / 0", 4, "0 is 0"),
        ("1.5 / 0.0", 6, "0 is 0"),
    ],
)
def test_division_by_zero_names_the_divisor(text: str, where: int, what: str) -> None:
    """A division by zero is an error that points to the divisor and tells what it was."""
    with pytest.raises(ExpressionError) as caught:
        value_of(text, a=Fraction(1, 3), b=1, c__d=0)
    assert caught.value.reason == f"division by zero: {what}"
    assert caught.value.position == where
    assert caught.value.text == text


@pytest.mark.parametrize("sign", ["*", "/"])
@pytest.mark.parametrize("start", [10**100, Fraction(1, 10**100), Fraction(10**100, 3), -(10**100)])
def test_numbers_are_bounded(sign: str, start: Value) -> None:
    """A number that outgrows 4000 bits, above or below the line, is an error and not a burden."""
    text = " * ".join(["a"] * 13) if sign == "*" else " / ".join(["a"] * 15)
    with pytest.raises(ExpressionError, match="more than 4000 bits"):
        value_of(text, a=start)
    assert value_of("a * a", a=start) == start * start  # type: ignore[operator]


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("1 + t", 4, "t is a text where a number is needed"),
        ("t * 3", 0, "t is a text where a number is needed"),
        ("1 * f", 4, "f is a flag where a number is needed"),
        ("f + f", 0, "f is a flag where a number is needed"),
        ("1 / f", 4, "f is a flag where a number is needed"),
        ("-t", 1, "t is a text where a number is needed"),
        ("ceil(t)", 5, "t is a text where a number is needed"),
        ("max(1, f)", 7, "f is a flag where a number is needed"),
        ("x + 1", 0, "x is no exact value (float) where a number is needed"),
        ("not n", 4, "n is a number where a flag is needed"),
        ("n or f", 0, "n is a number where a flag is needed"),
        ("1 if t else 2", 5, "t is a text where a flag is needed"),
        ("n == t", 5, "compares a number with a text"),
        ("f == 1", 5, "compares a flag with a number"),
        ("t < t", 4, "'<' needs numbers, and t is a text"),
        ("f >= f", 5, "'>=' needs numbers, and f is a flag"),
        ("t in (1, 2)", 0, "compares a text with a number"),
        ("n in ('a',)", 0, "compares a number with a text"),
        ("f in (1, 2)", 0, "compares a flag with a number"),
    ],
)
def test_values_of_the_wrong_kind_are_refused(text: str, where: int, what: str) -> None:
    """Even unchecked, an expression never calculates with a text, a flag or a float."""
    with pytest.raises(ExpressionError) as caught:
        value_of(text, t="a", f=True, n=1, x=0.5)  # type: ignore[arg-type]
    assert (caught.value.position, caught.value.reason) == (where, what)


def test_explanations_list_the_facts_used_in_order() -> None:
    """An explanation names each fact that was needed once, in order of use, and ends with the result."""
    facts: dict[str, Value] = {"b": 2, "c": True, "a.x": Fraction(1, 2), "unused": 9}
    steps = explain_value(parse("(a.x*b if c else unused)+a.x"), facts.__getitem__)
    assert steps == (
        Step("c", True),
        Step("a.x", Fraction(1, 2)),
        Step("b", 2),
        Step("(a.x * b if c else unused) + a.x", Fraction(3, 2)),
    )


@given(any_rules, tables(unknown=True))
def test_explanations_tell_the_value(text: str, facts: Mapping[str, Value]) -> None:
    """The facts listed stand in the rule and suffice for its value, which is the last step."""
    expression = parse(text)
    try:
        value = evaluate(expression, facts.__getitem__)
    except ExpressionError:
        with pytest.raises(ExpressionError):
            explain_value(expression, facts.__getitem__)
        return
    *used, result = explain_value(expression, facts.__getitem__)
    assert result.value == value
    told = {step.text: step.value for step in used}
    assert len(told) == len(used)
    assert set(told) <= expression.names
    assert evaluate(expression, told.__getitem__) == value

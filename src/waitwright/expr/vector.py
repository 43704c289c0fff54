"""Values of an expression for many draws at once, in floating point: for the cloud, never for verdicts.

Kinds are stored as follows; scalars and arrays mix and broadcast as in numpy:

- a number is a float64, ``nan`` where unknown;
- a flag is a float64 too: 1.0 true, 0.0 false, ``nan`` unknown (bool is taken as input);
- a text is a ``str`` or an array of them (dtype object or str), with None or ``nan`` where unknown.

Floats cannot tell a difference of exactly zero from a last-digit error.  So two numbers within one part
in 10^12 count as equal here: in comparisons, in ``ceil`` and ``floor`` next to a whole number, and in
differences, which then are exactly zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from waitwright.errors import ExpressionError
from waitwright.expr.nodes import (
    UNIT_CALLS,
    Arithmetic,
    Call,
    Compare,
    CompareSign,
    Conditional,
    Flag,
    Junction,
    Membership,
    Name,
    Negate,
    Node,
    Not,
    Number,
    Text,
    quantity,
)
from waitwright.expr.parse import Expression

Many = float | str | NDArray[Any]
"""A value for all draws, or one for each."""

ManyLookup = Callable[[str], "Many | Fraction | bool | None"]

TIE = 1e-12
"""Relative difference below which two floats are the same number."""

_ORDER: dict[CompareSign, Callable[[Any, Any], Any]] = {
    # of the difference left - right, and of whether the two are the same number
    "==": lambda _, same: same,
    "!=": lambda _, same: ~same,
    "<": lambda difference, same: (difference < 0) & ~same,
    "<=": lambda difference, same: (difference < 0) | same,
    ">": lambda difference, same: (difference > 0) & ~same,
    ">=": lambda difference, same: (difference > 0) | same,
}


def evaluate_many(expression: Expression, lookup: ManyLookup) -> Many:
    """The values of *expression*, which :func:`~waitwright.expr.check` must accept, under *lookup*.

    Each row agrees with :func:`~waitwright.expr.evaluate` of that row, unless evaluate refuses it: a
    division by zero gives ``nan`` here, since the branch that it stands in may not be the one taken.

    Args:
        lookup: Gives the values of a fact in base units, as a scalar or an array; asked once for each
            fact that is needed.

    Raises:
        ExpressionError: where texts meet numbers.
        TypeError: if *lookup* gives something that is neither number, flag nor text.
    """
    with np.errstate(all="ignore"):
        values: Many = _Rows(expression.text, lookup).of(expression.tree)
    return values


class _Rows:
    """Values of the nodes of one expression: Many, but typed Any since numpy's operators are."""

    def __init__(self, text: str, lookup: ManyLookup) -> None:
        self._text = text
        self._lookup = lookup
        self._facts: dict[str, Any] = {}

    def of(self, node: Node) -> Any:
        match node:
            case Number() | Flag():
                return float(node.value)
            case Text():
                return node.value
            case Name():
                return self._fact(node.name)
            case Negate():
                return -self._numbers(node.operand)
            case Not():
                return 1.0 - self._numbers(node.operand)
            case Arithmetic():
                return _calculate(node, self._numbers(node.left), self._numbers(node.right))
            case Compare():
                return self._compare(node)
            case Membership():
                return self._membership(node)
            case Junction():
                return self._junction(node)
            case Conditional():
                return self._conditional(node)
            case Call():
                return self._call(node)

    def _fact(self, name: str) -> Any:
        if name not in self._facts:
            self._facts[name] = _clean(self._lookup(name), name)
        return self._facts[name]

    def _numbers(self, node: Node) -> Any:
        """The values of *node*, which must be numbers or flags."""
        value = self.of(node)
        if _is_text(value):
            raise ExpressionError(self._text, node.position, "calculates with a text")
        return value

    def _compare(self, node: Compare) -> Any:
        values = [self.of(operand) for operand in node.operands]
        result: Any = None
        for sign, left, right, operand in zip(
            node.signs, values, values[1:], node.operands[1:], strict=False
        ):
            link = self._link(left, sign, right, operand)
            result = link if result is None else _decide(0.0, result, link)
        return result

    def _link(self, left: Any, sign: CompareSign, right: Any, second: Node) -> Any:
        if not _is_text(left) and not _is_text(right):
            return _compare_numbers(left, sign, right)
        if _all_unknown(left) or _all_unknown(right):
            return _blank(left, right)
        if _is_text(left) and _is_text(right) and sign in {"==", "!="}:
            same: Any = _same_texts(left, right)
            return same if sign == "==" else 1.0 - same
        raise ExpressionError(self._text, second.position, f"'{sign}' cannot compare a text here")

    def _membership(self, node: Membership) -> Any:
        value = self.of(node.operand)
        first, *rest = (self._link(value, "==", self.of(item), item) for item in node.items)
        for equal in rest:
            first = _decide(1.0, first, equal)
        return first

    def _junction(self, node: Junction) -> Any:
        decisive = 1.0 if node.word == "or" else 0.0
        result: Any = 1.0 - decisive
        for operand in node.operands:
            result = _decide(decisive, result, self._numbers(operand))
            if isinstance(result, float) and result == decisive:
                break
        return result

    def _conditional(self, node: Conditional) -> Any:
        test = self._numbers(node.test)
        if isinstance(test, float):
            if math.isnan(test):
                return test
            return self.of(node.body if test else node.otherwise)
        body, otherwise = self.of(node.body), self.of(node.otherwise)
        if _is_text(body) or _is_text(otherwise):
            body, otherwise, blank = _as_objects(body), _as_objects(otherwise), _as_objects(math.nan)
        else:
            blank = np.asarray(math.nan)
        return np.where(test == 1.0, body, np.where(test == 0.0, otherwise, blank))

    def _call(self, node: Call) -> Any:
        if node.function in UNIT_CALLS:
            return float(quantity(node))
        first, *rest = (self._numbers(argument) for argument in node.arguments)
        match node.function:
            case "abs":
                return _plain(np.abs(first))
            case "ceil":
                return _rounded(first, np.ceil)
            case "floor":
                return _rounded(first, np.floor)
        choose = np.minimum if node.function == "min" else np.maximum
        for other in rest:
            first = choose(first, other)
        return _plain(first)


# ------------------------------------------------------------------------------- cleaning input


def _clean(value: Any, name: str) -> Any:
    """What a look-up gave, as one of the kinds that this module calculates with."""
    if isinstance(value, np.ndarray) and value.ndim:
        if value.dtype.kind in "OU":
            return value
        if value.dtype.kind in "biuf":
            return value.astype(np.float64, copy=False)
    else:
        scalar = value.item() if isinstance(value, np.ndarray | np.generic) else value
        if scalar is None:
            return math.nan
        if isinstance(scalar, str):
            return scalar
        if isinstance(scalar, int | float | Fraction):
            return _float(scalar)
    raise TypeError(f"the fact {name!r} is neither number, flag nor text: {value!r:.80}")


def _float(number: float | Fraction) -> float:
    try:
        return float(number)
    except OverflowError:
        return math.inf if number > 0 else -math.inf


def _plain(value: Any) -> Any:
    """Zero-dimensional results of numpy as scalars."""
    return value[()] if isinstance(value, np.ndarray) else value


def _is_text(value: Any) -> bool:
    return isinstance(value, str) or (isinstance(value, np.ndarray) and value.dtype.kind in "OU")


def _as_objects(value: Any) -> Any:
    """*value* as an array of texts, None where unknown."""
    values = np.asarray(value, dtype=object)
    return np.where(_known_texts(values), values, np.asarray(None))


# --------------------------------------------------------------------------------- calculating


def _calculate(node: Arithmetic, left: Any, right: Any) -> Any:
    match node.sign:
        case "*":
            return left * right
        case "/":
            return _plain(np.where(np.equal(right, 0.0), math.nan, np.divide(left, right)))
        case "+":
            return _settled(left + right, left)
        case "-":
            return _settled(left - right, left)


def _settled(result: Any, part: Any) -> Any:
    """A sum or difference, exactly zero where only rounding is left of *part*."""
    rounding = abs(result) <= TIE * abs(part)
    if np.any(rounding):
        return _plain(np.where(rounding, 0.0, result))
    return result


def _rounded(value: Any, towards: Callable[[Any], Any]) -> Any:
    nearest = np.rint(value)
    return _plain(np.where(abs(value - nearest) <= TIE * abs(value), nearest, towards(value)))


# --------------------------------------------------------------------------------------- logic


def _decide(decisive: float, left: Any, right: Any) -> Any:
    """Three-valued ``or`` (*decisive* 1.0) or ``and`` (*decisive* 0.0)."""
    if isinstance(left, float) and isinstance(right, float):
        if decisive in (left, right):
            return decisive
        return left + right if math.isnan(left + right) else 1.0 - decisive
    decided = np.equal(left, decisive) | np.equal(right, decisive)
    # Undecided rows hold 1.0 - decisive or nan on both sides, and the maximum keeps a nan.
    return np.where(decided, decisive, np.maximum(left, right))


def _compare_numbers(left: Any, sign: CompareSign, right: Any) -> Any:
    difference = np.subtract(left, right)
    same = np.abs(difference) <= TIE * np.abs(left)
    return _plain(np.where(np.isnan(difference), math.nan, _ORDER[sign](difference, same)))


def _known_texts(values: Any) -> Any:
    known = np.fromiter((isinstance(value, str) for value in values.flat), dtype=bool, count=values.size)
    return known.reshape(values.shape)


def _same_texts(left: Any, right: Any) -> Any:
    a, b = np.asarray(left, dtype=object), np.asarray(right, dtype=object)
    known = _known_texts(a) & _known_texts(b)
    return _plain(np.where(known, np.equal(a, b).astype(np.float64), math.nan))


def _all_unknown(value: Any) -> bool:
    return not _is_text(value) and bool(np.all(np.isnan(value)))


def _blank(left: Any, right: Any) -> Any:
    """Unknown, in the shape that *left* and *right* have together."""
    return _plain(np.full(np.broadcast_shapes(np.shape(left), np.shape(right)), math.nan))

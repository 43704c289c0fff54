"""The exact value of an expression, and how it came about."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from waitwright.expr.parse import Expression
from waitwright.expr.program import Lookup, Value
from waitwright.expr.render import to_text
from waitwright.units import tidy


def evaluate(expression: Expression, lookup: Lookup) -> Value:
    """The value of *expression* with facts from *lookup*, exact and in base units.

    A result is an ``int`` where whole, else a ``Fraction``.  None is unknown: arithmetic, comparisons
    and functions with an unknown operand are unknown, a conditional is when its test is; ``and`` and
    ``or`` are unknown only while the known operands leave the answer open.  Branches not taken, and
    operands after the deciding one, are not looked up.

    Raises:
        ExpressionError: on a division by zero, on a number of more than 4000 bits, and where a value is
            not of the kind needed (:func:`~waitwright.expr.check` finds that beforehand).
    """
    return _tidied(expression.program(lookup))


def _tidied(value: Value) -> Value:
    return tidy(value) if type(value) is Fraction else value


@dataclass(frozen=True, slots=True)
class Step:
    """One line of an explanation: a fact, or at the end the whole rule text, and its value."""

    text: str
    value: Value


def explain_value(expression: Expression, lookup: Lookup) -> tuple[Step, ...]:
    """The facts that really went into the value of *expression*, in order of first use, then the result.

    Raises:
        ExpressionError: as :func:`evaluate`.
    """
    used: dict[str, Value] = {}

    def noting(name: str) -> Value:
        value = used[name] = _tidied(lookup(name))
        return value

    result = evaluate(expression, noting)
    return (*(Step(name, value) for name, value in used.items()), Step(to_text(expression), result))

"""From tree to nested functions: the exact arithmetic behind :func:`~waitwright.expr.evaluate`.

The tree is turned into closures once; running them costs a call for each node.  Whole numbers stay
``int`` all the way, and a ``Fraction`` appears only where a division does not come out even.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from fractions import Fraction

from waitwright.errors import ExpressionError
from waitwright.expr.nodes import (
    UNIT_CALLS,
    Arithmetic,
    ArithmeticSign,
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
from waitwright.expr.render import rule_text
from waitwright.units import Exact, tidy

Value = int | Fraction | bool | str | None
"""An exact number in base units, a flag, a text, or None for unknown."""

Lookup = Callable[[str], Value]
"""Gives the value of the fact of that name."""

Program = Callable[[Lookup], Value]
"""A tree made ready to run."""

Fail = Callable[[Node, str], ExpressionError]

LARGEST = 1 << 4000
"""Numerators and denominators stay below this, so that no rule can eat time and memory."""

_ORDER: dict[CompareSign, Callable[[Exact, Exact], bool]] = {
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}

_COMBINE: dict[ArithmeticSign, Callable[[Exact, Exact], Exact]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
}


def _size(number: Exact) -> Exact:
    return -number if number < 0 else number


_OF_ONE: dict[str, Callable[[Exact], Exact]] = {"abs": _size, "ceil": math.ceil, "floor": math.floor}


def program_of(tree: Node, text: str) -> Program:
    """*tree* as one function from a look-up to a value; *text* is what errors show."""

    def fail(node: Node, reason: str) -> ExpressionError:
        return ExpressionError(text, node.position, reason)

    return _build(tree, fail)


def _build(node: Node, fail: Fail) -> Program:
    match node:
        case Number() | Text() | Flag():
            return _constant(node.value)
        case Name():
            return _fact(node.name)
        case Negate():
            return _negation(node, fail)
        case Not():
            return _denial(node, fail)
        case Arithmetic():
            return _division(node, fail) if node.sign == "/" else _arithmetic(node, fail)
        case Compare():
            return _comparison(node, fail) if len(node.signs) == 1 else _chain(node, fail)
        case Membership():
            return _membership(node, fail)
        case Junction():
            return _junction(node, fail)
        case Conditional():
            return _conditional(node, fail)
        case Call():
            return _call(node, fail)


def _constant(value: Value) -> Program:
    return lambda _: value


def _fact(name: str) -> Program:
    return lambda lookup: lookup(name)


def _described(value: Value) -> str:
    match value:
        case bool():
            return "a flag"
        case str():
            return "a text"
        case int() | Fraction():
            return "a number"
        case _:
            return f"no exact value ({type(value).__name__})"


def _number(value: Value, node: Node, fail: Fail) -> Exact:
    """*value* once it is sure to be a number."""
    if type(value) is int or type(value) is Fraction:
        return value
    raise fail(node, f"{rule_text(node)} is {_described(value)} where a number is needed")


def _bounded(number: Exact, node: Node, fail: Fail) -> Exact:
    """*number* in its tidiest form, unless it has outgrown all bounds."""
    tidied = tidy(number)
    if -LARGEST < tidied.numerator < LARGEST and tidied.denominator < LARGEST:
        return tidied
    raise fail(node, f"{rule_text(node)} has more than {LARGEST.bit_length() - 1} bits")


# ---------------------------------------------------------------------------------- arithmetic


def _negation(node: Negate, fail: Fail) -> Program:
    operand = _build(node.operand, fail)

    def negated(lookup: Lookup) -> Value:
        value = operand(lookup)
        return None if value is None else -_number(value, node.operand, fail)

    return negated


def _arithmetic(node: Arithmetic, fail: Fail) -> Program:
    left, right = _build(node.left, fail), _build(node.right, fail)
    combine = _COMBINE[node.sign]

    def combined(lookup: Lookup) -> Value:
        a, b = left(lookup), right(lookup)
        if type(a) is int and type(b) is int:
            whole = combine(a, b)
            if -LARGEST < whole < LARGEST:
                return whole
        if a is None or b is None:
            return None
        exact = combine(_number(a, node.left, fail), _number(b, node.right, fail))
        return _bounded(exact, node, fail)

    return combined


def _division(node: Arithmetic, fail: Fail) -> Program:
    left, right = _build(node.left, fail), _build(node.right, fail)

    def divided(lookup: Lookup) -> Value:
        a, b = left(lookup), right(lookup)
        if a is None or b is None:
            return None
        dividend, divisor = _number(a, node.left, fail), _number(b, node.right, fail)
        if not divisor:
            raise fail(node.right, f"division by zero: {rule_text(node.right)} is 0")
        return _bounded(Fraction(dividend, divisor), node, fail)

    return divided


def _call(node: Call, fail: Fail) -> Program:
    if node.function in UNIT_CALLS:
        return _constant(quantity(node))
    arguments = tuple(_build(argument, fail) for argument in node.arguments)
    if node.function in {"min", "max"}:
        return _extreme(node, arguments, fail)
    (operand,) = arguments
    one = _OF_ONE[node.function]

    def applied(lookup: Lookup) -> Value:
        value = operand(lookup)
        return None if value is None else one(_number(value, node.arguments[0], fail))

    return applied


def _extreme(node: Call, arguments: tuple[Program, ...], fail: Fail) -> Program:
    choose: Callable[[list[Exact]], Exact] = min if node.function == "min" else max

    def chosen(lookup: Lookup) -> Value:
        values = [argument(lookup) for argument in arguments]
        numbers = [
            _number(value, argument, fail)
            for value, argument in zip(values, node.arguments, strict=True)
            if value is not None
        ]
        return choose(numbers) if len(numbers) == len(values) else None

    return chosen


# --------------------------------------------------------------------------------------- logic


def _flag(value: Value, node: Node, fail: Fail) -> bool | None:
    """*value* once it is sure to be a flag or unknown."""
    if value is True or value is False or value is None:
        return value
    raise fail(node, f"{rule_text(node)} is {_described(value)} where a flag is needed")


def _denial(node: Not, fail: Fail) -> Program:
    operand = _build(node.operand, fail)

    def denied(lookup: Lookup) -> Value:
        value = _flag(operand(lookup), node.operand, fail)
        return None if value is None else not value

    return denied


def _junction(node: Junction, fail: Fail) -> Program:
    operands = tuple((_build(operand, fail), operand) for operand in node.operands)
    decisive = node.word == "or"  # one true decides an "or", one false an "and"

    def joined(lookup: Lookup) -> Value:
        unknown = False
        for program, operand in operands:
            value = _flag(program(lookup), operand, fail)
            if value is decisive:
                return decisive
            unknown = unknown or value is None
        return None if unknown else not decisive

    return joined


def _conditional(node: Conditional, fail: Fail) -> Program:
    test, body, otherwise = (_build(part, fail) for part in (node.test, node.body, node.otherwise))

    def chosen(lookup: Lookup) -> Value:
        value = _flag(test(lookup), node.test, fail)
        if value is None:
            return None
        return body(lookup) if value else otherwise(lookup)

    return chosen


def _comparison(node: Compare, fail: Fail) -> Program:
    left, right = (_build(operand, fail) for operand in node.operands)
    (sign,) = node.signs
    ordered, second = _ORDER[sign], node.operands[1]

    def compared(lookup: Lookup) -> Value:
        a, b = left(lookup), right(lookup)
        if type(a) is int and type(b) is int:
            return ordered(a, b)
        return _compare(a, sign, b, second, fail)

    return compared


def _chain(node: Compare, fail: Fail) -> Program:
    first, *rest = (_build(operand, fail) for operand in node.operands)
    links = tuple(zip(node.signs, rest, node.operands[1:], strict=True))

    def compared(lookup: Lookup) -> Value:
        unknown = False
        left = first(lookup)
        for sign, program, operand in links:
            right = program(lookup)
            value = _compare(left, sign, right, operand, fail)
            if value is False:
                return False
            unknown = unknown or value is None
            left = right
        return None if unknown else True

    return compared


def _compare(a: Value, sign: CompareSign, b: Value, second: Node, fail: Fail) -> bool | None:
    """Whether ``a sign b`` holds; *second* is where *b* was written."""
    if a is None or b is None:
        return None
    if (type(a) is int or type(a) is Fraction) and (type(b) is int or type(b) is Fraction):
        return _ORDER[sign](a, b)
    if type(a) is type(b) and isinstance(a, bool | str):
        if sign in {"==", "!="}:
            return (a == b) is (sign == "==")
        raise fail(second, f"'{sign}' needs numbers, and {rule_text(second)} is {_described(b)}")
    raise fail(second, f"compares {_described(a)} with {_described(b)}")


def _membership(node: Membership, fail: Fail) -> Program:
    operand = _build(node.operand, fail)
    texts = frozenset(item.value for item in node.items if isinstance(item, Text))
    numbers = frozenset(item.value for item in node.items if isinstance(item, Number))

    def contained(lookup: Lookup) -> Value:
        value = operand(lookup)
        if value is None:
            return None
        if isinstance(value, str) and texts:
            return value in texts
        if isinstance(value, int | Fraction) and not isinstance(value, bool) and numbers:
            return value in numbers
        raise fail(node, f"compares {_described(value)} with {_described(node.items[0].value)}")

    return contained

"""The tree of a rule expression: what :func:`~waitwright.expr.parse` builds and everything else walks.

Every node carries its *position*: the column, counted from 0, where its text starts.  Positions take
no part in equality, so two texts with the same meaning give equal trees.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from waitwright.units import UNITS, Exact, tidy

ArithmeticSign = Literal["+", "-", "*", "/"]
CompareSign = Literal["==", "!=", "<", "<=", ">", ">="]
JunctionWord = Literal["and", "or"]

FUNCTIONS = ("abs", "ceil", "floor", "max", "min")
"""Functions of numbers; ``min`` and ``max`` take two or more, the others one."""

UNIT_CALLS = ("C", "KB", "MB", "MHz", "V", "kHz", "mV", "ms", "ns", "percent", "us")
"""Functions that give one literal number its unit, named as in :data:`waitwright.units.UNITS`."""


@dataclass(frozen=True, slots=True)
class Number:
    """A literal number, exactly as written: ``0.1`` is one tenth."""

    value: Exact
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Text:
    """A literal text: ``'486'``."""

    value: str
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Flag:
    """``true`` or ``false``."""

    value: bool
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Name:
    """A fact: ``cpu.address_valid_max``."""

    name: str
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Negate:
    """``-operand``."""

    operand: Node
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Not:
    """``not operand``; ``x not in (...)`` is a Not around a :class:`Membership`."""

    operand: Node
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """``left sign right``."""

    sign: ArithmeticSign
    left: Node
    right: Node
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Compare:
    """``operands[0] signs[0] operands[1] signs[1] ...``: one comparison or a chain."""

    operands: tuple[Node, ...]
    signs: tuple[CompareSign, ...]
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Membership:
    """``operand in (item, ...)``."""

    operand: Node
    items: tuple[Number | Text, ...]
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Junction:
    """Two or more operands joined by ``and`` or by ``or``."""

    word: JunctionWord
    operands: tuple[Node, ...]
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Conditional:
    """``body if test else otherwise``."""

    test: Node
    body: Node
    otherwise: Node
    position: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Call:
    """A call of one of :data:`FUNCTIONS` or :data:`UNIT_CALLS`."""

    function: str
    arguments: tuple[Node, ...]
    position: int = field(compare=False)


Node = (
    Number
    | Text
    | Flag
    | Name
    | Negate
    | Not
    | Arithmetic
    | Compare
    | Membership
    | Junction
    | Conditional
    | Call
)


def children(node: Node) -> tuple[Node, ...]:
    """The nodes directly below *node*, from left to right as written."""
    match node:
        case Negate() | Not():
            return (node.operand,)
        case Arithmetic():
            return (node.left, node.right)
        case Compare() | Junction():
            return node.operands
        case Membership():
            return (node.operand, *node.items)
        case Conditional():
            return (node.body, node.test, node.otherwise)
        case Call():
            return node.arguments
        case Number() | Text() | Flag() | Name():
            return ()


def walk(node: Node) -> Iterator[Node]:
    """*node* and all nodes below it, from left to right."""
    yield node
    for child in children(node):
        yield from walk(child)


def quantity(call: Call) -> Exact:
    """The value of a unit call such as ``ns(4.5)``, in base units."""
    (argument,) = call.arguments
    if not isinstance(argument, Number):
        raise TypeError(f"{call.function}() without a literal number")  # parse() never builds one
    return tidy(argument.value * UNITS[call.function].scale)

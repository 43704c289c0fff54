"""Whether an expression makes sense at all: no time added to a frequency, no text compared with a number."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

from waitwright.errors import ExpressionError
from waitwright.expr.nodes import (
    UNIT_CALLS,
    Arithmetic,
    Call,
    Compare,
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
)
from waitwright.expr.parse import Expression
from waitwright.nearest import hint_behind
from waitwright.units import NUMBER, UNITS, Dimension


class Marker(Enum):
    """Kinds of value that are no quantity."""

    TEXT = "a text"
    FLAG = "a flag"

    def __str__(self) -> str:
        return self.value


TEXT = Marker.TEXT
FLAG = Marker.FLAG

Kind = Dimension | Marker
"""What a fact or a result is: a quantity of some dimension, a text, or a flag."""


def check(expression: Expression, kinds: Mapping[str, Kind], wanted: Kind | None = None) -> Kind:
    """The kind of *expression*, where *kinds* has every fact that it may mention.

    A literal 0 fits any dimension where it is added, subtracted, compared, chosen (``min``, ``max``,
    ``if``) or wanted.

    Args:
        wanted: The kind that the result must have; None for any.

    Raises:
        ExpressionError: at the first place that does not fit, or names an unknown fact.
    """
    checker = _Checker(expression.text, kinds)
    kind = checker.kind(expression.tree)
    if wanted is None:
        return kind or NUMBER
    if not _fits(kind, wanted):
        reason = f"this is {kind or NUMBER} where {wanted} is needed"
        raise ExpressionError(expression.text, expression.tree.position, reason)
    return wanted


def _fits(kind: Kind | None, wanted: Kind | None) -> bool:
    """Whether *kind* is as *wanted*; None is the kind of a literal zero."""
    return kind == wanted or (kind is None and isinstance(wanted, Dimension))


class _Checker:
    """Finds the kinds of the nodes of one expression; a literal zero has the kind None."""

    def __init__(self, text: str, kinds: Mapping[str, Kind]) -> None:
        self._text = text
        self._kinds = kinds

    def kind(self, node: Node) -> Kind | None:
        match node:
            case Number():
                return NUMBER if node.value else None
            case Text():
                return TEXT
            case Flag():
                return FLAG
            case Name():
                return self._fact(node)
            case Negate():
                return self._quantity(node.operand)
            case Not():
                return self._flags(node.operand)
            case Junction():
                return self._flags(*node.operands)
            case Arithmetic():
                return self._arithmetic(node)
            case Compare():
                return self._compare(node)
            case Membership():
                self._alike((node.operand, *node.items), "compares {agreed} with {kind}")
                return FLAG
            case Conditional():
                self._flags(node.test)
                return self._alike(
                    (node.body, node.otherwise),
                    "is {agreed} or {kind}, as the case may be; both must be alike",
                )
            case Call():
                return self._call(node)

    def _error(self, node: Node, reason: str) -> ExpressionError:
        return ExpressionError(self._text, node.position, reason)

    def _fact(self, node: Name) -> Kind:
        try:
            return self._kinds[node.name]
        except KeyError:
            hint = hint_behind(node.name, self._kinds)
            raise self._error(node, f"there is no fact {node.name!r}{hint}") from None

    def _alike(self, nodes: tuple[Node, ...], complaint: str) -> Kind | None:
        """The one kind that all *nodes* have; literal zeros take the kind of the others."""
        kinds = [self.kind(node) for node in nodes]
        agreed = next((kind for kind in kinds if kind is not None), None)
        for node, kind in zip(nodes, kinds, strict=True):
            if not _fits(kind, agreed):
                raise self._error(node, complaint.format(agreed=agreed, kind=kind or NUMBER))
        return agreed

    def _quantity(self, node: Node) -> Dimension | None:
        """The dimension of *node*, which must be a number of some sort."""
        kind = self.kind(node)
        if isinstance(kind, Marker):
            raise self._error(node, f"calculates with {kind}")
        return kind

    def _flags(self, *nodes: Node) -> Kind:
        for node in nodes:
            kind = self.kind(node)
            if kind is not FLAG:
                raise self._error(node, f"this is {kind or NUMBER} where a flag is needed")
        return FLAG

    def _arithmetic(self, node: Arithmetic) -> Dimension | None:
        left, right = self._quantity(node.left), self._quantity(node.right)
        match node.sign:
            case "*":
                return (left or NUMBER) * (right or NUMBER)
            case "/":
                return (left or NUMBER) / (right or NUMBER)
        if left is not None and right is not None and left != right:
            raise self._error(node.right, f"'{node.sign}' joins {left} and {right}")
        return right if left is None else left

    def _compare(self, node: Compare) -> Kind:
        agreed = self._alike(node.operands, "compares {agreed} with {kind}")
        if isinstance(agreed, Marker):
            for sign, operand in zip(node.signs, node.operands[1:], strict=True):
                if sign not in {"==", "!="}:
                    raise self._error(operand, f"'{sign}' needs numbers, and this is {agreed}")
        return FLAG

    def _call(self, node: Call) -> Dimension | None:
        if node.function in UNIT_CALLS:
            return UNITS[node.function].dimension
        dimensions = [self._quantity(argument) for argument in node.arguments]
        if node.function in {"ceil", "floor"}:
            if not _fits(dimensions[0], NUMBER):
                reason = f"{node.function}() rounds plain numbers, and this is {dimensions[0]}"
                raise self._error(node.arguments[0], f"{reason}; divide by a unit first")
            return NUMBER
        self._alike(node.arguments, f"{node.function}() is given {{agreed}} and {{kind}}")
        return next((dimension for dimension in dimensions if dimension is not None), None)

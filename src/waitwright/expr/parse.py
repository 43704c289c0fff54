"""Reading rule text: Python's own grammar, cut down to a whitelist.

``ast`` only tells the structure.  Every node is then rebuilt as one of :mod:`waitwright.expr.nodes`, or
refused with its position; nothing of Python's tree survives, and nothing is ever run.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from waitwright.errors import ExpressionError
from waitwright.expr.nodes import (
    FUNCTIONS,
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
    walk,
)
from waitwright.expr.program import Program, program_of
from waitwright.expr.tokens import DEEPEST, tokenize
from waitwright.nearest import hint_behind
from waitwright.units import tidy

MOST_NODES = 200
MOST_SEGMENTS = 4
"""Longest fact name, in pieces between dots."""

_SEGMENT = re.compile(r"[a-z][a-z0-9_]*")
_RESERVED = frozenset({"true", "false", *FUNCTIONS, *UNIT_CALLS})

_ARITHMETIC: dict[type[ast.operator], ArithmeticSign] = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
}
_COMPARE: dict[type[ast.cmpop], CompareSign] = {
    ast.Eq: "==",
    ast.NotEq: "!=",
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
}
_REFUSED: dict[type[ast.expr], str] = {
    ast.GeneratorExp: "'for' is not part of the rule language",
    ast.Starred: "'*' stands between two numbers only",
    ast.UnaryOp: "'+' stands between two numbers only",
    ast.Tuple: "a list of values belongs after 'in' only",
    ast.Yield: "'yield' is not part of the rule language",
    ast.YieldFrom: "'yield' is not part of the rule language",
    ast.Await: "'await' is not part of the rule language",
}


@dataclass(frozen=True, slots=True)
class Expression:
    """Rule text that was understood.  Equal trees make equal expressions, however they are spaced.

    Attributes:
        text: What was written.
        tree: Its meaning.
        names: All facts it mentions.
        program: The tree made ready to run, once; :func:`~waitwright.expr.evaluate` runs it.
    """

    text: str = field(compare=False)
    tree: Node
    names: frozenset[str] = field(compare=False)
    program: Program = field(compare=False, repr=False)

    def __reduce__(self) -> tuple[Callable[[str], Expression], tuple[str]]:
        """Copies and pickles travel as text, since a program cannot."""
        return (parse, (self.text,))


def parse(text: str) -> Expression:
    """Read rule *text*.

    Raises:
        ExpressionError: with the position of whatever is not part of the language or out of bounds
            (600 characters, 24 levels, 200 nodes, 12 digits a number, 4 pieces a name).
    """
    tokens = tokenize(text)
    # Line breaks are only layout here, but Python would end the expression at them.
    source = "".join(" " * len(token.text) if token.kind == "space" else token.text for token in tokens)
    offset = len(source) - len(source.lstrip())
    source = source.strip()
    if not source:
        raise ExpressionError(text, 0, "the text is empty where an expression is needed")
    try:
        body = ast.parse(source, mode="eval").body
    except SyntaxError as error:
        # Python gives no column where the text ends too early.
        position = min(error.offset - 1, len(source)) if error.offset else len(source)
        raise ExpressionError(text, position + offset, "this is no complete expression") from error
    except (RecursionError, MemoryError) as error:
        raise ExpressionError(text, offset, "the expression is too involved to be read") from error
    tree = _Reader(text, source, offset).read(body, 1)
    names = frozenset(node.name for node in walk(tree) if isinstance(node, Name))
    return Expression(text, tree, names, program_of(tree, text))


def check_name(name: str) -> str:
    """What is wrong with *name* as the name of a fact; empty when nothing is."""
    segments = name.split(".")
    if len(segments) > MOST_SEGMENTS:
        return f"{name!r} has more than {MOST_SEGMENTS} pieces between dots"
    if not all(_SEGMENT.fullmatch(segment) for segment in segments):
        return f"{name!r} is no name of a fact: lowercase letters, digits, '_' and dots"
    if segments[0] in _RESERVED:
        return f"{segments[0]!r} is no name of a fact, it has its own meaning"
    return ""


class _Reader:
    """Rebuilds one Python tree as ours; *source* starts *offset* columns into *text*."""

    def __init__(self, text: str, source: str, offset: int) -> None:
        self._text = text
        self._source = source
        self._offset = offset
        self._nodes = 0

    def read(self, node: ast.expr, depth: int) -> Node:
        """*node* as ours; *depth* counts from 1 at the root."""
        self._nodes += 1
        if self._nodes > MOST_NODES:
            raise self._error(node, f"the expression has more than {MOST_NODES} parts")
        if depth > DEEPEST:
            raise self._error(node, f"the expression nests more than {DEEPEST} deep")
        below = depth + 1
        position = self._position(node)
        match node:
            case ast.Constant():
                return self._literal(node)
            case ast.Name() | ast.Attribute():
                return self._name(node)
            case ast.UnaryOp(op=ast.USub()):
                return Negate(self.read(node.operand, below), position)
            case ast.UnaryOp(op=ast.Not()):
                return Not(self.read(node.operand, below), position)
            case ast.BinOp() if type(node.op) in _ARITHMETIC:
                left, right = self.read(node.left, below), self.read(node.right, below)
                return Arithmetic(_ARITHMETIC[type(node.op)], left, right, position)
            case ast.BoolOp():
                operands = tuple(self.read(value, below) for value in node.values)
                return Junction("and" if isinstance(node.op, ast.And) else "or", operands, position)
            case ast.Compare():
                return self._compare(node, depth)
            case ast.IfExp():
                body, test, otherwise = (
                    self.read(part, below) for part in (node.body, node.test, node.orelse)
                )
                return Conditional(test, body, otherwise, position)
            case ast.Call():
                return self._call(node, depth)
        raise self._error(node, _REFUSED.get(type(node), "this is not part of the rule language"))

    def _position(self, node: ast.expr) -> int:
        return node.col_offset + self._offset

    def _segment(self, node: ast.expr) -> str:
        return self._source[node.col_offset : node.end_col_offset]

    def _error(self, node: ast.expr, reason: str) -> ExpressionError:
        return ExpressionError(self._text, self._position(node), reason)

    def _literal(self, node: ast.Constant) -> Number | Text:
        written, position = self._segment(node), self._position(node)
        if isinstance(node.value, str):
            if written[1:-1] != node.value:  # two texts side by side, or tripled quotes
                raise self._error(node, "a text is written in one pair of quotes")
            return Text(node.value, position)
        if isinstance(node.value, bool):
            raise self._error(node, f"write {written.lower()!r}, in lowercase")
        if not isinstance(node.value, int | float):
            raise self._error(node, f"{written!r} is not part of the rule language")
        # From the text, not from node.value: that is a float already, and no longer what was written.
        return Number(tidy(Fraction(written)), position)

    def _name(self, node: ast.Name | ast.Attribute) -> Name | Flag:
        segments: list[str] = []
        inner: ast.expr = node
        while isinstance(inner, ast.Attribute):
            segments.append(inner.attr)
            inner = inner.value
        if not isinstance(inner, ast.Name):
            raise self._error(inner, "only names of facts may contain a dot")
        name = ".".join([inner.id, *reversed(segments)])
        if name != self._segment(node):
            raise self._error(node, f"write {name!r} without spaces or brackets")
        if name in {"true", "false"}:
            return Flag(name == "true", self._position(node))
        wrong = check_name(name)
        if wrong:
            raise self._error(node, wrong)
        return Name(name, self._position(node))

    def _compare(self, node: ast.Compare, depth: int) -> Node:
        if any(isinstance(sign, ast.In | ast.NotIn) for sign in node.ops):
            return self._membership(node, depth)
        signs: list[CompareSign] = []
        for sign, operand in zip(node.ops, node.comparators, strict=True):
            if type(sign) not in _COMPARE:
                raise self._error(operand, "write '==' or '!=' instead of 'is'")
            signs.append(_COMPARE[type(sign)])
        operands = tuple(self.read(operand, depth + 1) for operand in (node.left, *node.comparators))
        return Compare(operands, tuple(signs), self._position(node))

    def _membership(self, node: ast.Compare, depth: int) -> Node:
        if len(node.ops) > 1:
            raise self._error(node, "'in' cannot be part of a chain; use brackets and 'and'")
        (listed,) = node.comparators
        if isinstance(listed, ast.Constant):
            raise self._error(listed, f"a list of one value ends in a comma: ({self._segment(listed)},)")
        if not isinstance(listed, ast.Tuple) or not listed.elts:
            raise self._error(listed, "'in' needs texts or numbers in round brackets")
        denied = isinstance(node.ops[0], ast.NotIn)
        below = depth + 2 if denied else depth + 1
        if denied:
            self._nodes += 1
        operand = self.read(node.left, below)
        items: list[Number | Text] = []
        for element in listed.elts:
            item = self.read(element, below)
            if not isinstance(item, Number | Text):
                raise self._error(element, "only literal texts and numbers may be listed after 'in'")
            items.append(item)
        membership = Membership(operand, tuple(items), self._position(node))
        return Not(membership, membership.position) if denied else membership

    def _call(self, node: ast.Call, depth: int) -> Call:
        function = node.func.id if isinstance(node.func, ast.Name) else ""
        if function not in FUNCTIONS and function not in UNIT_CALLS:
            hint = hint_behind(self._segment(node.func), (*FUNCTIONS, *UNIT_CALLS))
            raise self._error(node, f"there is no function {self._segment(node.func)!r}{hint}")
        arguments = tuple(self.read(argument, depth + 1) for argument in node.args)
        if function in UNIT_CALLS:
            if len(arguments) != 1 or not isinstance(arguments[0], Number):
                raise self._error(node, f"{function}() takes one literal number")
        elif function in {"min", "max"}:
            if len(arguments) < 2:
                raise self._error(node, f"{function}() takes two values or more")
        elif len(arguments) != 1:
            raise self._error(node, f"{function}() takes one value")
        return Call(function, arguments, self._position(node))


def substitute(expression: Expression, mapping: Mapping[str, str]) -> Expression:
    """*expression* with its facts renamed; names missing from *mapping* stay.

    Raises:
        ExpressionError: if a new name is no name of a fact, or makes the text too long.
    """
    pieces: list[str] = []
    end = 0
    facts = (node for node in walk(expression.tree) if isinstance(node, Name))
    for fact in sorted(facts, key=lambda fact: fact.position):
        renamed = mapping.get(fact.name, fact.name)
        wrong = check_name(renamed)
        if wrong:
            raise ExpressionError(expression.text, fact.position, wrong)
        pieces += [expression.text[end : fact.position], renamed]
        end = fact.position + len(fact.name)
    return parse("".join([*pieces, expression.text[end:]]))

"""A tree put back into text: as rule text that parses to the same tree, and as words to be read."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

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
)
from waitwright.expr.tokens import LONGEST_TEXT, squeeze
from waitwright.units import Exact

if TYPE_CHECKING:
    from waitwright.expr.parse import Expression

# How tightly a node holds together, as in Python: a looser one needs brackets inside a tighter one.
_LOOSE, _OR, _AND, _NOT, _COMPARE, _SUM, _PRODUCT, _SIGNED, _WHOLE = range(9)


def to_text(expression: Expression) -> str:
    """Canonical rule text: ``parse(to_text(x)) == x``, with the fewest brackets.

    It is spaced for reading, unless that alone would make it too long to be parsed again.
    """
    spaced = rule_text(expression.tree)
    return spaced if len(spaced) <= LONGEST_TEXT else squeeze(spaced)


def decimal_text(value: Exact) -> str:
    """A literal number as it would be written: every literal has a finite decimal form."""
    written = f"{Decimal(value.numerator) / Decimal(value.denominator):f}"
    return written.rstrip("0").rstrip(".") if "." in written else written


def _tightness(node: Node) -> int:
    match node:
        case Conditional():
            return _LOOSE
        case Junction():
            return _OR if node.word == "or" else _AND
        case Not():
            return _NOT
        case Compare() | Membership():
            return _COMPARE
        case Arithmetic():
            return _SUM if node.sign in {"+", "-"} else _PRODUCT
        case Negate():
            return _SIGNED
        case Number() | Text() | Flag() | Name() | Call():
            return _WHOLE


# ----------------------------------------------------------------------------------- rule text


def rule_text(node: Node, least: int = _LOOSE) -> str:
    """*node* as rule text, in brackets when it holds together less tightly than *least*."""
    text = _rule_text(node)
    return text if _tightness(node) >= least else f"({text})"


def _rule_text(node: Node) -> str:
    match node:
        case Number():
            return decimal_text(node.value)
        case Text():
            return f'"{node.value}"' if "'" in node.value else f"'{node.value}'"
        case Flag():
            return "true" if node.value else "false"
        case Name():
            return node.name
        case Negate():
            return f"-{rule_text(node.operand, _SIGNED)}"
        case Not():
            return f"not {rule_text(node.operand, _NOT)}"
        case Arithmetic():
            own = _tightness(node)
            return f"{rule_text(node.left, own)} {node.sign} {rule_text(node.right, own + 1)}"
        case Compare():
            first, *rest = (rule_text(operand, _SUM) for operand in node.operands)
            links = (f" {sign} {operand}" for sign, operand in zip(node.signs, rest, strict=True))
            return first + "".join(links)
        case Membership():
            items = ", ".join(map(rule_text, node.items))
            comma = "," if len(node.items) == 1 else ""
            return f"{rule_text(node.operand, _SUM)} in ({items}{comma})"
        case Junction():
            own = _tightness(node)
            return f" {node.word} ".join(rule_text(operand, own + 1) for operand in node.operands)
        case Conditional():
            body, test = rule_text(node.body, _OR), rule_text(node.test, _OR)
            return f"{body} if {test} else {rule_text(node.otherwise)}"
        case Call():
            return f"{node.function}({', '.join(map(rule_text, node.arguments))})"


# --------------------------------------------------------------------------------------- words

_SIGNS = {"+": "plus", "-": "minus", "*": "times", "/": "divided by"}
_COMPARED: dict[CompareSign, str] = {
    "==": "is",
    "!=": "is not",
    "<": "is below",
    "<=": "is at most",
    ">": "is above",
    ">=": "is at least",
}
_OPPOSITE: dict[CompareSign, CompareSign] = {
    "==": "!=",
    "!=": "==",
    "<": ">=",
    "<=": ">",
    ">": "<=",
    ">=": "<",
}
_UNIT_WORDS = {"C": "degrees C"}


def render(expression: Expression, words: Mapping[str, str] | None = None) -> str:
    """*expression* in the words of the trade, e.g. ``clocks before the first word times host clock period``.

    Args:
        words: Title of each fact; a fact without one is called by its name, with spaces for dots.
    """
    return _Speaker(words or {}).say(expression.tree)


class _Speaker:
    """Puts trees into words, calling facts by *words*."""

    def __init__(self, words: Mapping[str, str]) -> None:
        self._words = words

    def say(self, node: Node, least: int = _LOOSE) -> str:
        """*node* in words, in brackets when it holds together less tightly than *least*."""
        said = self._say(node)
        return said if self._tightness(node) >= least else f"({said})"

    def _tightness(self, node: Node) -> int:
        match node:
            case Call() if node.function not in UNIT_CALLS:
                return _LOOSE  # "the larger of a and b" would swallow what follows
            case Not(operand=Membership() | Compare(signs=(_,))):
                return _COMPARE  # said as the opposite comparison
        return _tightness(node)

    def _say(self, node: Node) -> str:
        match node:
            case Number():
                return decimal_text(node.value)
            case Text():
                return node.value if node.value.strip() else f"'{node.value}'"
            case Flag():
                return "yes" if node.value else "no"
            case Name():
                return self._words.get(node.name, node.name.replace(".", " ").replace("_", " "))
            case Negate():
                return f"minus {self.say(node.operand, _WHOLE)}"
            case Not():
                return self._deny(node.operand)
            case Arithmetic():
                own = _tightness(node)
                return f"{self.say(node.left, own)} {_SIGNS[node.sign]} {self.say(node.right, own + 1)}"
            case Compare():
                return self._compare(node.operands, node.signs)
            case Membership():
                return f"{self.say(node.operand, _SUM)} is {self._listed(node, 'or')}"
            case Junction():
                return f" {node.word} ".join(self.say(operand, _NOT) for operand in node.operands)
            case Conditional():
                test, body = self.say(node.test, _OR), self.say(node.body, _OR)
                return f"if {test} then {body} otherwise {self.say(node.otherwise)}"
            case Call():
                return self._call(node)

    def _deny(self, operand: Node) -> str:
        match operand:
            case Membership():
                neither = "neither" if len(operand.items) > 1 else "not"
                return f"{self.say(operand.operand, _SUM)} is {neither} {self._listed(operand, 'nor')}"
            case Compare(signs=(sign,)):
                return self._compare(operand.operands, (_OPPOSITE[sign],))
        return f"not {self.say(operand, _NOT)}"

    def _compare(self, operands: tuple[Node, ...], signs: tuple[CompareSign, ...]) -> str:
        first, *rest = (self.say(operand, _SUM) for operand in operands)
        links = (f"{_COMPARED[sign]} {operand}" for sign, operand in zip(signs, rest, strict=True))
        return f"{first} {', which '.join(links)}"

    def _listed(self, node: Membership, word: str) -> str:
        return _listed([self.say(item) for item in node.items], word)

    def _call(self, node: Call) -> str:
        if node.function in UNIT_CALLS:
            (number,) = (self.say(argument) for argument in node.arguments)
            return f"{number} {_UNIT_WORDS.get(node.function, node.function)}"
        arguments = [self.say(argument, _WHOLE) for argument in node.arguments]
        match node.function:
            case "ceil":
                return f"{arguments[0]} rounded up"
            case "floor":
                return f"{arguments[0]} rounded down"
            case "abs":
                return f"the absolute value of {arguments[0]}"
        word = {"min": "small", "max": "larg"}[node.function]
        degree = "er" if len(arguments) == 2 else "est"
        return f"the {word}{degree} of {_listed(arguments, 'and')}"


def _listed(items: list[str], word: str) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    *most, last = items
    return f"{', '.join(most)} {word} {last}" if most else last

"""The words and signs that rule text consists of, looked at before anything is parsed.

Whatever is not one of these tokens is refused here: so Python's own tokenizer never meets an escape,
a prefix, a comment, a power, or a character outside ASCII, and never warns.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from waitwright.errors import ExpressionError

LONGEST_TEXT = 600
MOST_DIGITS = 12
DEEPEST = 24
"""Deepest nesting, of brackets as of the tree."""

_TOKEN = re.compile(
    r"""
      (?P<space>[ \t\r\n]+)
    | (?P<number>[0-9]+(?:\.[0-9]+)?)
    | (?P<word>[A-Za-z_][A-Za-z0-9_]*)
    | (?P<text>'[^'\\\x00-\x1f\x7f-\U0010ffff]*'|"[^"\\\x00-\x1f\x7f-\U0010ffff]*")
    | (?P<sign>==|!=|<=|>=|\*(?!\*)|/(?!/)|[-+<>(),.])
    """,
    re.VERBOSE,
)

_HINTS = {
    "**": "powers are not part of the rule language",
    "//": "write floor(a / b) for whole division",
    "%": "remainders are not part of the rule language; for a share write percent(5)",
    ":=": "assignments are not part of the rule language",
    "=": "write '==' to compare",
    "!": "write 'not'",
    "&": "write 'and'",
    "|": "write 'or'",
    "#": "comments are not part of the rule language",
    "[": "a list of values is written in round brackets after 'in'",
    "{": "curly brackets are not part of the rule language",
    "\\": "backslashes are not part of the rule language",
    "'": "a text must end with the quote it starts with, in printable ASCII without backslashes",
    '"': "a text must end with the quote it starts with, in printable ASCII without backslashes",
}


@dataclass(frozen=True, slots=True)
class Token:
    """One piece of rule text; *kind* is ``space``, ``number``, ``word``, ``text`` or ``sign``."""

    kind: str
    text: str
    position: int


def tokenize(text: str) -> tuple[Token, ...]:
    """Split *text* completely into tokens.

    Raises:
        ExpressionError: at the first place that is no token, where tokens touch that must not, or
            where a bound on length, digits or nesting is passed.
    """
    if len(text) > LONGEST_TEXT:
        reason = f"the text has {len(text)} characters, at most {LONGEST_TEXT} are allowed"
        raise ExpressionError(text, LONGEST_TEXT, reason)
    tokens: list[Token] = []
    position = depth = 0
    while position < len(text):
        found = _TOKEN.match(text, position)
        if found is None:
            raise ExpressionError(text, position, _complaint(text, position))
        token = Token(str(found.lastgroup), found.group(), position)
        if tokens and must_part(tokens[-1], token):
            raise ExpressionError(text, position, _collision(tokens[-1], token))
        if token.kind == "number" and len(token.text.replace(".", "")) > MOST_DIGITS:
            raise ExpressionError(text, position, f"a number may have at most {MOST_DIGITS} digits")
        depth += {"(": 1, ")": -1}.get(token.text, 0)
        if depth > DEEPEST:
            raise ExpressionError(text, position, f"brackets may nest at most {DEEPEST} deep")
        tokens.append(token)
        position = found.end()
    return tuple(tokens)


def must_part(before: Token, after: Token) -> bool:
    """Whether two tokens must not touch: ``1if``, ``f'..'``, ``.5`` mean other things in Python."""
    if "number" in {before.kind, after.kind} and "." in {before.text, after.text}:
        return True
    return before.kind in {"number", "word"} and after.kind in {"number", "word", "text"}


def squeeze(text: str) -> str:
    """Well-formed rule text of any length, without the spaces that can be left out."""
    kept: list[Token] = []
    pieces: list[str] = []
    for found in _TOKEN.finditer(text):
        token = Token(str(found.lastgroup), found.group(), found.start())
        if token.kind == "space":
            continue
        if kept and must_part(kept[-1], token):
            pieces.append(" ")
        kept.append(token)
        pieces.append(token.text)
    return "".join(pieces)


def _collision(before: Token, after: Token) -> str:
    if "." in {before.text, after.text}:
        return "a point needs digits on both sides in a number, and a letter after it in a name"
    return f"{before.text!r} runs into {after.text!r}; a space or a sign belongs between them"


def _complaint(text: str, position: int) -> str:
    for length in (2, 1):
        sign = text[position : position + length]
        if sign in _HINTS:
            return f"{sign!r} is not understood here: {_HINTS[sign]}"
    return f"the character {text[position]!a} is not part of the rule language"

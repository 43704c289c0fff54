"""The closed rule language: numbers, facts, arithmetic, comparisons, a few functions, and nothing else.

Text is read once by :func:`parse`, checked by :func:`check`, and the same tree is then evaluated exactly
(:func:`evaluate`), explained (:func:`explain_value`) and put into words (:func:`render`).  Values for
many draws at once come from :mod:`waitwright.expr.vector`, imported only where needed since it loads
numpy.  A rule of a stranger can compute a wrong number; it can never run code.
"""

from __future__ import annotations

from waitwright.expr.dimension import FLAG, TEXT, Kind, Marker, check
from waitwright.expr.evaluate import Step, evaluate, explain_value
from waitwright.expr.nodes import Node
from waitwright.expr.parse import Expression, check_name, parse, substitute
from waitwright.expr.program import Lookup, Value
from waitwright.expr.render import render, to_text

__all__ = [
    "FLAG",
    "TEXT",
    "Expression",
    "Kind",
    "Lookup",
    "Marker",
    "Node",
    "Step",
    "Value",
    "check",
    "check_name",
    "evaluate",
    "explain_value",
    "parse",
    "render",
    "substitute",
    "to_text",
]

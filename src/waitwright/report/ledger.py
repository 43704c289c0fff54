"""The ledger of one budget or limit as lines of text, for terminals of 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Iterator

from waitwright.report.margin_view import BudgetView, DelayView, LimitView

_BAR = 40
"""Columns that the longer of "has" and "needs" takes in the drawing."""


def ledger_lines(rule: BudgetView | LimitView) -> Iterator[str]:
    """Every named time with its source, the sum, a drawing to scale, symptom and advice."""
    if isinstance(rule, BudgetView):
        yield from _budget(rule)
    else:
        yield from _limit(rule)
    if rule.rated == "falls short" and rule.symptoms:
        yield f"looks like: {', '.join(rule.symptoms)}"
    if rule.advice:
        yield f"what helps: {rule.advice}"


def _budget(rule: BudgetView) -> Iterator[str]:
    for line in rule.windows:
        yield _entry("+", line)
    for line in rule.delays:
        yield _entry("-", line)
    if rule.margin_ns is None:
        yield "margin unknown: a number is missing"
        return
    yield f"= {_ns(abs(rule.margin_ns))} {'missing' if rule.margin_ns < 0 else 'to spare'}"
    yield from _drawing(rule)


def _entry(sign: str, line: DelayView) -> str:
    time = "unknown" if line.ns is None else _ns(line.ns)
    return f"{sign} {time:>10}  {line.name}  [{line.source}]"


def _drawing(rule: BudgetView) -> Iterator[str]:
    """Two bars to one scale: what there is, and the delays one after another; missing time as ``!``."""
    available, spent = rule.available_ns or 0.0, rule.spent_ns or 0.0
    longest = max(available, spent)
    if longest <= 0:
        return
    scale = _BAR / longest
    there = round(available * scale)
    yield f"has   |{'=' * there}{'.' * (_BAR - there)}| {_ns(available)}"
    needed = ""
    for place, line in enumerate(line for line in rule.delays if line.ns):
        letter = chr(ord("a") + place % 26)
        width = round((line.ns or 0.0) * scale)
        needed += letter * max(width, 0)
    needed = needed[:_BAR]
    over = len(needed) - there
    if rule.rated == "falls short" and over > 0:
        needed = needed[:there] + "!" * over
    yield f"needs |{needed:<{_BAR}}| {_ns(spent)}"


def _limit(rule: LimitView) -> Iterator[str]:
    unit = "" if rule.unit in {"count", "ratio"} else f" {rule.unit}"
    bound = "at most" if rule.sense == "at most" else "at least"
    yield f"is {_plain(rule.value)}{unit}, rated {bound} {_plain(rule.limit)}{unit}  [{rule.source}]"


def _ns(value: float) -> str:
    return f"{_plain(value)} ns"


def _plain(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.2f}".rstrip("0").rstrip(".")

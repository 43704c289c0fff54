"""The ledger of one budget or limit as lines of text, for terminals of 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from waitwright.explain.figures import chance, measured
from waitwright.report.margin_view import BudgetView, DelayView, LimitView, RuleMargin

BAR = 50
"""Columns that the longer of "has" and "needs" takes in the drawing."""

LEGEND = "Drawings: one letter for each delay of the list above it; '!' is time missing, '.' time to spare."

_NAME, _TIME = 6, 9


@dataclass(slots=True)
class Footnotes:
    """Sources by number, each told once for a whole answer."""

    sources: list[str] = field(default_factory=list)

    def mark(self, source: str) -> str:
        """``[2]`` for *source*."""
        if source not in self.sources:
            self.sources.append(source)
        return f"[{self.sources.index(source) + 1}]"


def ledger_lines(rule: RuleMargin, notes: Footnotes) -> Iterator[str]:
    """Every named time with its source, the sum, a drawing to scale, symptoms and advice."""
    if isinstance(rule, BudgetView):
        yield from _budget(rule, notes)
    else:
        yield _limit(rule, notes)
    if rule.odds is not None:
        still = " all the same" if rule.rated == "falls short" else ""
        yield f"odds that it lasts{still}: {chance(rule.odds)}"
    if rule.rated == "falls short" and rule.symptoms:
        yield f"looks like: {', '.join(rule.symptoms)}"
    if rule.advice:
        yield f"what helps: {rule.advice}"


def _budget(rule: BudgetView, notes: Footnotes) -> Iterator[str]:
    for place, line in enumerate(rule.windows):
        yield _entry("has" if place == 0 else "", " ", line, notes)
    for place, line in enumerate(rule.delays):
        yield _entry("needs" if place == 0 else "", letter(place), line, notes)
    if rule.margin_ns is None:
        yield "margin unknown: a figure is missing"
        return
    state = "missing" if rule.margin_ns < 0 else "to spare"
    yield f"{'':<{_NAME}}  {_ns(abs(rule.margin_ns)):>{_TIME}}  {state}"
    yield from drawing(rule)


def _entry(side: str, mark: str, line: DelayView, notes: Footnotes) -> str:
    return f"{side:<{_NAME}}{mark} {_ns(line.ns):>{_TIME}}  {line.name} {notes.mark(line.source)}"


def letter(place: int) -> str:
    """The letter that stands for a delay in list and drawing."""
    return chr(ord("a") + place % 26)


def drawing(rule: BudgetView) -> Iterator[str]:
    """Two bars to one scale: what there is, and the delays one after another.

    Missing time shows as ``!`` behind what there is, spare time as ``.`` behind what is needed; either
    takes at least one column where it exists.
    """
    available, spent, margin = rule.available_ns or 0.0, rule.spent_ns or 0.0, rule.margin_ns or 0.0
    longest = max(available, spent)
    if longest <= 0:
        return
    there = used = BAR
    if margin < 0:
        there = min(round(available * BAR / longest), BAR - 1)
    elif margin > 0:
        used = min(round(spent * BAR / longest), BAR - 1)
    delays = _letters([line.ns or 0.0 for line in rule.delays], used)
    yield f"{'has':<{_NAME}}|{'=' * there:!<{BAR}}| {_ns(rule.available_ns)}"
    yield f"{'needs':<{_NAME}}|{delays:.<{BAR}}| {_ns(rule.spent_ns)}"


def _letters(delays: Sequence[float], width: int) -> str:
    """The delays end to end over *width* columns; rounding never adds up."""
    spent, done, told = sum(delays), 0.0, ""
    for place, delay in enumerate(delays):
        done += delay
        told += letter(place) * (round(done * width / spent) - len(told)) if spent else ""
    return told


def _limit(rule: LimitView, notes: Footnotes) -> str:
    sides = f"is {measured(rule.value, rule.unit)}, rated {rule.sense} {measured(rule.limit, rule.unit)}"
    return f"{sides} {notes.mark(rule.source)}"


def _ns(value: float | None) -> str:
    return measured(value, "ns")

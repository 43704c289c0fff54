"""``why`` as text: the verdict, then a ledger for everything that is short or tight."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.text import Text

from waitwright.explain.figures import chance, listed, measured, signed_percent
from waitwright.report.ledger import LEGEND, Footnotes, ledger_lines
from waitwright.report.margin_view import BudgetView, RuleMargin
from waitwright.report.text.help import tell_help
from waitwright.report.text.page import (
    INDENT,
    STYLES,
    columns,
    gap,
    heading,
    put,
    tell_cautions,
    tell_conflicts,
)
from waitwright.report.views import WhyView
from waitwright.report.words import margin_of, soak, unit_of

_LIKELY = 0.2
"""Share of what is lost from which on a symptom is to be expected."""

_RARE = 0.01
"""The same, below which it is not worth telling beside likely ones."""


_SAME = 0.0005
"""Gains below this share are none."""


def show_why(view: WhyView, console: Console) -> None:
    """What stands in the way of one combination, delay by delay."""
    heading(console, view.title, view.machine)
    _asked(view, console)
    gap(console)
    _verdict(view, console)
    tell_help(view.help, console, odds=view.odds or 0.0)
    notes = Footnotes()
    rules = (*view.short, *view.tight)
    for rule in _once(rules):
        gap(console)
        _ledger(
            rule, [other.title for other in rules if _same(other, rule) and other is not rule], notes, console
        )
    if any(isinstance(rule, BudgetView) and rule.margin_ns is not None for rule in rules):
        gap(console)
        put(console, LEGEND, style="dim")
    _sources(notes, console)
    tell_cautions(console, view.cautions)


def _asked(view: WhyView, console: Console) -> None:
    if not view.changes:
        put(console, "Asked about: the settings now")
        return
    speed = "as fast as now" if abs(view.gain) < _SAME else f"{signed_percent(view.gain)} speed"
    put(console, f"Asked about ({speed} for '{view.workload}'):")
    for change in view.changes:
        put(console, f"{change.label}: {change.origin_label} -> {change.goal_label}", INDENT)


def _verdict(view: WhyView, console: Console) -> None:
    word, style = ("hold", "green") if view.stands else ("do not hold", "bold red")
    put(console, Text.assemble("These settings ", (word, style), " by data-sheet limits."))
    tell_conflicts(console, view.conflicts)
    odds = "none, as this cannot be set together" if view.conflicts else chance(view.odds)
    put(console, f"Odds that they last through {soak(view.hours)}: {odds}")
    if view.symptoms and not view.stands:
        put(console, f"What to expect where they fail: {expected(view)}")
    if view.unchecked:
        put(console, f"Unchecked for want of a figure: {', '.join(view.unchecked)}")
    if not view.short and not view.tight:
        put(console, "Nothing falls short and nothing is tight.")


def expected(view: WhyView) -> str:
    """The symptoms of what falls short, those first that the most likely failures show."""
    shares = dict.fromkeys(view.symptoms, 0.0)
    shown = {rule.id: rule.symptoms for rule in view.short}
    for toll in view.help.survival:
        for symptom in shown.get(toll.id, ()):
            shares[symptom] += toll.share
    likely = [symptom for symptom, share in shares.items() if share >= _LIKELY]
    if not likely or view.odds is None:
        return listed(view.symptoms, "or")
    rare = [symptom for symptom in view.symptoms if symptom not in likely and shares[symptom] > _RARE]
    likely.sort(key=lambda symptom: -shares[symptom])
    return listed(likely, "or") + (f"; less likely {listed(rare, 'or')}" if rare else "")


def _once(rules: Iterable[RuleMargin]) -> list[RuleMargin]:
    """*rules* without those that say of another card what one of them said already."""
    kept: list[RuleMargin] = []
    for rule in rules:
        if not any(_same(rule, known) for known in kept):
            kept.append(rule)
    return kept


def _same(one: RuleMargin, other: RuleMargin) -> bool:
    """True where both are one rule applied to two parts, with equal figures as far as they are shown."""
    return one.id.split("@")[0] == other.id.split("@")[0] and _figures(one) == _figures(other)


def _figures(rule: RuleMargin) -> tuple[object, ...]:
    if isinstance(rule, BudgetView):
        return (rule.windows, rule.delays, chance(rule.odds))
    return (rule.value, rule.limit, chance(rule.odds))


def _ledger(rule: RuleMargin, also: list[str], notes: Footnotes, console: Console) -> None:
    put(console, Text.assemble((f"{_state(rule)}: ", STYLES[rule.rated]), (rule.title, "bold")))
    for title in also:
        put(console, f"and just so: {title}")
    for line in ledger_lines(rule, notes):
        put(console, line, INDENT)


def _state(rule: RuleMargin) -> str:
    by = measured(abs(margin_of(rule) or 0.0), unit_of(rule))
    if rule.rated == "tight":
        return f"Tight, {by} to spare"
    return f"Advice not kept by {by}" if rule.advisory else f"Falls short by {by}"


def _sources(notes: Footnotes, console: Console) -> None:
    if notes.sources:
        gap(console)
        put(console, "Sources", style="bold")
        table = columns(right=(0,), wide=1, count=2)
        for number, source in enumerate(notes.sources, start=1):
            table.add_row(Text(f"[{number}]"), Text(source))
        put(console, table)

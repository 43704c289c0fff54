"""``check`` as text: the verdict, the clocks, the settings, and room by room the least margins."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from waitwright.explain.figures import chance, measured, plain, several
from waitwright.report.margin_view import BudgetView, RuleMargin, worst_first
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
from waitwright.report.views import CheckView
from waitwright.report.words import CLOCK_NAMES, ROOMS, margin_of, soak, tally, unit_of

LEAST = 2
"""Of each room so many rules are shown at least; all that do not hold are."""


def show_check(view: CheckView, console: Console, *, every: bool = False) -> None:
    """One machine under its settings; *every*: all margins, with what each has and needs."""
    heading(console, view.title, view.machine)
    put(console, f"on {view.board}")
    gap(console)
    _verdict(view, console)
    gap(console)
    _clocks(view, console)
    gap(console)
    _settings(view, console)
    gap(console)
    _rooms(view.rules, console, every=every)
    tell_cautions(console, view.cautions)


def show_verdict(view: CheckView, console: Console) -> None:
    """What :func:`show_check` begins with, alone: the machine, whether it holds, and its clocks."""
    heading(console, view.title, view.machine)
    _verdict(view, console)
    _clocks(view, console)


def _verdict(view: CheckView, console: Console) -> None:
    word, style = ("Holds", "green") if view.stands else ("Does not hold", "bold red")
    put(console, Text.assemble((word, style), f" by data-sheet limits: {tally(view.rules)}."))
    tell_conflicts(console, view.conflicts)
    short = [rule for rule in view.rules if rule.rated == "falls short"]
    for rule in sorted(short, key=worst_first):
        by = measured(abs(margin_of(rule) or 0.0), unit_of(rule))
        sort = "Advice not kept" if rule.advisory else "Falls short"
        put(console, f"{sort} by {by}: {rule.title}", INDENT)
    if view.odds is not None and view.hours is not None:
        put(console, f"Odds that all of it lasts through {soak(view.hours)}: {chance(view.odds)}")


def _clocks(view: CheckView, console: Console) -> None:
    clocks = (f"{CLOCK_NAMES.get(key, key)} {plain(mhz)}" for key, mhz in view.clocks.items())
    put(console, f"Clocks in MHz: {', '.join(clocks)}")


def _settings(view: CheckView, console: Console) -> None:
    put(console, "Settings now, as --set takes them, and on the screen", style="bold")
    table = columns(wide=1, count=2)
    for setting in view.settings:
        inert = " (the board decides)" if setting.inert else ""
        jumper = " (jumper)" if setting.kind == "jumper" else ""
        words = f"{setting.label}{jumper}: {setting.choice_label}{inert}"
        table.add_row(Text(f"{setting.option}={setting.choice}"), Text(words, style="dim" if inert else ""))
    put(console, table)


def _rooms(rules: Sequence[RuleMargin], console: Console, *, every: bool) -> None:
    table = _margin_table(every=every)
    hidden = 0
    for room, title in ROOMS.items():
        here = sorted((rule for rule in rules if rule.room == room), key=worst_first)
        shown = here if every else _telling(here)
        hidden += len(here) - len(shown)
        if here:
            rest = f" ({several(len(here) - len(shown), 'more holds', 'more hold')})"
            _room_row(table, title + (rest if len(shown) < len(here) else ""), every=every)
        for rule in shown:
            table.add_row(*_row(rule, every=every))
    put(console, table)
    if hidden:
        put(console, f"Each part with its least margins; all {len(rules)} with --all.", style="dim")


def _telling(rules: Sequence[RuleMargin]) -> list[RuleMargin]:
    """What does not hold, and the least margins of what does."""
    pressing = [rule for rule in rules if rule.rated != "holds"]
    holding = [rule for rule in rules if rule.rated == "holds"]
    room_left = max(0, LEAST - len(pressing))
    return sorted([*pressing, *holding[:room_left]], key=worst_first)


def _margin_table(*, every: bool) -> Table:
    names = ["", *(["has", "needs"] if every else []), "margin", "by data sheet", "odds"]
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for place, name in enumerate(names):
        flush = "right" if name in {"has", "needs", "margin", "odds"} else "left"
        table.add_column(name, justify=flush, no_wrap=place > 0, ratio=None if place else 1)  # type: ignore[arg-type]
    return table


def _room_row(table: Table, title: str, *, every: bool) -> None:
    table.add_row(Text(title, style="bold"), *([""] * (5 if every else 3)))


def _row(rule: RuleMargin, *, every: bool) -> list[RenderableType]:
    unit = unit_of(rule)
    cells: list[RenderableType] = [Padding(Text(rule.title), (0, 0, 0, 2))]
    if every:
        cells += [plain(value, _decimals(value)) for value in _sides(rule)]
    margin = margin_of(rule)
    cells.append(measured(margin, unit, _decimals(margin)))
    cells.append(Text(rule.rated, style=STYLES[rule.rated]))
    cells.append("advice" if rule.advisory else chance(rule.odds))
    return cells


def _decimals(value: float | None) -> int:
    """Places that tell something in a table: the larger the number, the fewer."""
    size = abs(value or 0.0)
    return 2 if size < 100 else 1 if size < 1000 else 0


def _sides(rule: RuleMargin) -> tuple[float | None, float | None]:
    """What there is and what is needed."""
    if isinstance(rule, BudgetView):
        return rule.available_ns, rule.spent_ns
    return (rule.limit, rule.value) if rule.sense == "at most" else (rule.value, rule.limit)

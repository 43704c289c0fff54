"""Views as text for a terminal: rich tables, words beside every colour, readable in 80 columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from waitwright.report.ledger import ledger_lines
from waitwright.report.margin_view import BudgetView, LimitView
from waitwright.report.views import (
    CautionView,
    ChangeView,
    CheckView,
    RankView,
    ResultView,
    RulesView,
    RuleView,
    TightView,
    WhyView,
)

STYLES = {"holds": "green", "tight": "yellow", "falls short": "bold red", "unchecked": "dim"}
ROOMS = {
    "cpu": "CPU and clocks",
    "l2": "Second-level cache",
    "dram": "Main memory",
    "refresh": "Refresh",
    "isa": "ISA bus",
    "ata": "Drives",
    "dma": "DMA",
    "local-bus": "Local bus",
    "pci": "PCI",
}
"""Rooms of the rulebook in the order in which they are shown."""


def number(value: float | None, decimals: int = 1) -> str:
    """A number for a table cell, without trailing zeros; a dash where unknown."""
    if value is None:
        return "-"
    shown = f"{value:.{decimals}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def percent(share: float) -> str:
    """A gain with sign: ``+12.3 %``."""
    return f"{100 * share:+.1f} %"


def chance(odds: float | None) -> str:
    """Odds in percent, never rounded up to certainty."""
    if odds is None:
        return "-"
    if odds > 0.999:
        return "> 99.9 %"
    return "< 0.1 %" if odds < 0.001 else f"{100 * odds:.1f} %"


# -------------------------------------------------------------------------------------- check


def show_check(view: CheckView, console: Console) -> None:
    """Clocks, settings and margins of one machine."""
    _heading(console, view.title, view.machine)
    console.print(f"Board: {escape(view.board)}")
    console.print("Clocks: " + ", ".join(f"{_clock_name(k)} {number(v, 2)} MHz" for k, v in view.clocks.items()))
    _settings(view, console)
    for room, title in ROOMS.items():
        rules = [rule for rule in (*view.budgets, *view.limits) if rule.room == room]
        if rules:
            _room(title, rules, console)
    _verdict_line(view, console)
    _cautions(view.cautions, console)


def _clock_name(key: str) -> str:
    names = {"host_mhz": "host", "core_mhz": "core", "clk2_mhz": "CPU clock pin"}
    return names.get(key, key.removesuffix("_mhz").upper())


def _settings(view: CheckView, console: Console) -> None:
    table = Table(title="Settings now", title_justify="left", box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("option")
    table.add_column("choice")
    table.add_column("as --set", style="dim")
    for setting in view.settings:
        inert = " (does nothing now)" if setting.inert else ""
        table.add_row(
            escape(setting.label), escape(setting.choice_label) + inert, f"{setting.option}={setting.choice}"
        )
    console.print()
    console.print(table)


def _room(title: str, rules: Sequence[BudgetView | LimitView], console: Console) -> None:
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("budget or limit", ratio=1)
    table.add_column("has", justify="right", no_wrap=True)
    table.add_column("needs", justify="right", no_wrap=True)
    table.add_column("margin", justify="right", no_wrap=True)
    table.add_column("by data sheet", no_wrap=True)
    with_odds = any(rule.odds is not None for rule in rules)
    if with_odds:
        table.add_column("odds", justify="right", no_wrap=True)
    for rule in sorted(rules, key=_relative):
        cells = [escape(rule.title) + (" (advice only)" if rule.advisory else ""), *_figures(rule)]
        cells.append(Text(rule.rated, style=STYLES[rule.rated]).markup)
        table.add_row(*cells, *([chance(rule.odds)] if with_odds else []))
    console.print()
    console.print(table)


def _figures(rule: BudgetView | LimitView) -> tuple[str, str, str]:
    if isinstance(rule, BudgetView):
        margin = "-" if rule.margin_ns is None else f"{number(rule.margin_ns)} ns"
        return number(rule.available_ns), number(rule.spent_ns), margin
    unit = "" if rule.unit in {"count", "ratio"} else f" {rule.unit}"
    margin = "-" if rule.margin is None else f"{number(rule.margin, 2)}{unit}"
    has, needs = (rule.limit, rule.value) if rule.sense == "at most" else (rule.value, rule.limit)
    return number(has, 2), number(needs, 2), margin


def _relative(rule: BudgetView | LimitView) -> tuple[bool, float]:
    """Unknown last; else by margin over what is there."""
    if isinstance(rule, BudgetView):
        margin, whole = rule.margin_ns, rule.available_ns
    else:
        margin, whole = rule.margin, rule.limit
    if margin is None or not whole:
        return (margin is None, 0.0)
    return (False, margin / abs(whole))


def _verdict_line(view: CheckView, console: Console) -> None:
    rules = [rule for rule in (*view.budgets, *view.limits) if not rule.advisory]
    counts = {word: sum(rule.rated == word for rule in rules) for word in STYLES}
    told = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    console.print()
    for conflict in view.conflicts:
        console.print(f"[bold red]Cannot be:[/] {escape(conflict.title)} {escape(conflict.advice)}")
    odds = "" if view.odds is None else f" Odds that all hold through the soak test: {chance(view.odds)}."
    console.print(f"By data-sheet limits: {told}.{odds}")


# --------------------------------------------------------------------------------------- rank


def show_rank(view: RankView, console: Console) -> None:
    """The proposals, fastest first, each with its changes and reasons."""
    _heading(console, view.title, view.machine)
    judged = "by data-sheet limits only" if view.rated else f"with odds of at least {chance(view.wanted_odds)}"
    console.print(
        f"Fastest settings for '{view.workload}', {judged}; {view.space.raw:,} combinations in "
        f"{view.elapsed_s:.2f} s."
    )
    if not view.baseline_stands:
        console.print(
            "[yellow]Note:[/] the settings now do not all hold by data-sheet limits; 'check' shows where."
        )
    if not view.results:
        console.print(_no_result(view))
    for place, result in enumerate(view.results, start=1):
        _result(place, result, console)
    if view.verdict == "unknown":
        console.print(
            "[yellow]Not proven:[/] the search used up its budget of work; something faster may exist."
        )
    _cautions(view.cautions, console)


def _no_result(view: RankView) -> str:
    if view.verdict == "unknown":
        return "Nothing found before the budget of work was used up."
    return "No combination of these options holds. 'why' shows what cannot stand together."


def _result(place: int, result: ResultView, console: Console) -> None:
    odds = "" if result.odds is None else f", odds {chance(result.odds)}"
    console.print()
    if not result.changes:
        console.print(f"[bold]{place}.[/] The settings now{odds}: nothing to change.")
        return
    count = len(result.changes)
    console.print(
        f"[bold]{place}.  {percent(result.gain)}[/]{odds}, {count} change{'s' if count != 1 else ''}"
    )
    if place == 1:
        for change in result.changes:
            _change(change, console)
        _tightest(result, console)
        for reason in result.reasons:
            console.print(Padding(escape(reason), (0, 0, 0, 4)), style="dim")
    else:
        steps = "; ".join(f"{escape(c.label)}: {escape(c.goal_label)}" for c in result.changes)
        console.print(Padding(steps, (0, 0, 0, 4)))
        _tightest(result, console)


def _change(change: ChangeView, console: Console) -> None:
    jumper = " (jumper)" if change.kind == "jumper" else ""
    console.print(
        Padding(
            f"[bold]{escape(change.label)}[/]{jumper}: {escape(change.origin_label)} -> "
            f"[bold]{escape(change.goal_label)}[/]",
            (0, 0, 0, 4),
        )
    )
    console.print(Padding(escape(change.reason), (0, 0, 0, 8)))


def _tightest(result: ResultView, console: Console) -> None:
    if result.tightest:
        told = "; ".join(f"{escape(t.title)} {_left(t)}" for t in result.tightest)
        console.print(Padding(f"Tightest by data sheet: {told}", (0, 0, 0, 4)))


def _left(tight: TightView) -> str:
    state = f"{number(abs(tight.margin_ns))} ns {'short' if tight.margin_ns < 0 else 'to spare'}"
    return state if tight.odds is None else f"{state} (odds {chance(tight.odds)})"


# ---------------------------------------------------------------------------------------- why


def show_why(view: WhyView, console: Console) -> None:
    """The ledger of everything that is short or tight."""
    _heading(console, view.title, view.machine)
    if view.changes:
        told = "; ".join(f"{escape(c.label)}: {escape(c.goal_label)}" for c in view.changes)
        console.print(f"Asked about: {told}")
    else:
        console.print("Asked about: the settings now.")
    for conflict in view.conflicts:
        console.print()
        console.print(f"[bold red]Cannot be:[/] {escape(conflict.title)}")
        console.print(Padding(escape(f"{conflict.advice} Source: {conflict.source}"), (0, 0, 0, 4)))
    _ledgers("Falls short", view.short, console)
    _ledgers("Tight", view.tight, console)
    if view.unchecked:
        console.print()
        console.print(f"Unchecked for want of a number: {', '.join(view.unchecked)}")
    console.print()
    console.print(_why_verdict(view))
    _cautions(view.cautions, console)


def _why_verdict(view: WhyView) -> str:
    if view.stands:
        return "These settings hold by data-sheet limits."
    seen = f" What to expect: {', '.join(view.symptoms)}." if view.symptoms else ""
    return f"These settings do not hold by data-sheet limits.{seen}"


def _ledgers(title: str, rules: Iterable[BudgetView | LimitView], console: Console) -> None:
    for rule in rules:
        console.print()
        advisory = " (advice only)" if rule.advisory else ""
        console.print(Text(f"{title}: {rule.title}{advisory}", style=STYLES[rule.rated]))
        for line in ledger_lines(rule):
            console.print(Padding(Text(line), (0, 0, 0, 4)))


# -------------------------------------------------------------------------------------- rules


def show_rules(view: RulesView, console: Console, *, full: bool) -> None:
    """A list of rules and parts, or everything about a few of them."""
    if full:
        for rule in view.rules:
            _rule(rule, console)
    else:
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
        for name in ("kind", "id", "title", "basis"):
            table.add_column(name, no_wrap=name != "title")
        for rule in view.rules:
            table.add_row(rule.kind, escape(rule.id), escape(rule.title), rule.basis)
        console.print(table)
    for finding in view.findings:
        console.print(escape(finding))


def _rule(rule: RuleView, console: Console) -> None:
    console.print(f"[bold]{rule.kind} {escape(rule.id)}[/]: {escape(rule.title)}")
    for line in rule.detail:
        console.print(Padding(escape(line), (0, 0, 0, 4)))
    if rule.source:
        basis = f" ({rule.basis})" if rule.basis else ""
        console.print(Padding(escape(f"source: {rule.source}{basis}"), (0, 0, 0, 4)))
    console.print()


# ------------------------------------------------------------------------------------- shared


def _heading(console: Console, title: str, name: str) -> None:
    console.print(f"[bold]{escape(title)}[/]  ({escape(name)})")


def _cautions(cautions: Sequence[CautionView], console: Console) -> None:
    if cautions:
        console.print()
        console.print("[bold]Take care[/]")
        for caution in cautions:
            console.print(Padding(f"- {escape(caution.text)}", (0, 0, 0, 2)))

"""``swap`` and ``reach`` as text for a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from waitwright.explain.figures import chance, plain, several, signed_percent
from waitwright.report.swap_views import ReachView, SwapsView, SwapView
from waitwright.report.text.page import gap, heading, put, tell_cautions


def show_swaps(view: SwapsView, console: Console) -> None:
    """What each exchange brings, most useful first; those that change nothing are said to."""
    heading(console, view.title, view.machine)
    best = "nothing holds" if view.best_gain is None else signed_percent(view.best_gain)
    console.print(
        f"With the parts now, at odds of {chance(view.wanted_odds)} or more: {best} for '{view.workload}'."
    )
    for swap in view.swaps:
        if swap.verdict == "faster":
            _swap(swap, console)
    idle = [swap for swap in view.swaps if swap.verdict == "changes nothing"]
    if idle:
        gap(console)
        console.print("[bold]Would change nothing that anybody notices[/]")
        for swap in idle:
            put(console, f"- {_named(swap)}", 2)
    worse = [swap for swap in view.swaps if swap.verdict in {"slower", "nothing holds"}]
    if worse:
        gap(console)
        console.print("[bold]Would make it worse[/]")
        for swap in worse:
            state = "nothing holds any more" if swap.extra is None else signed_percent(swap.extra)
            put(console, f"- {_named(swap)}: {state}", 2)
    tell_cautions(console, view.cautions)


def _swap(swap: SwapView, console: Console) -> None:
    gap(console)
    console.print(
        f"[bold]{signed_percent(swap.extra or 0.0)}[/] more, {signed_percent(swap.gain or 0.0)} over "
        f"the settings now, odds {chance(swap.odds)}"
    )
    for exchange in swap.exchanges:
        if exchange.goal:
            number = f"{exchange.count} x " if exchange.count > 1 else ""
            origin = f" in place of {exchange.origin}" if exchange.origin else ""
            put(console, f"{exchange.slot}: {number}{exchange.title}{origin}", 4)
        else:
            put(console, f"{exchange.slot}: {exchange.origin} taken out", 4)
    if swap.opens:
        put(console, f"opens {several(len(swap.opens), 'setting')}:", 4)
        for line in swap.opens:
            put(console, line, 8)


def _named(swap: SwapView) -> str:
    return " and ".join(f"{exchange.title} ({exchange.slot})" for exchange in swap.exchanges if exchange.goal)


def show_reach(view: ReachView, console: Console) -> None:
    """The least risky settings that reach the target, or the nearest and what would close the rest."""
    heading(console, view.title, view.machine)
    console.print(
        f"Wanted: {plain(view.target)} {escape(view.unit)}, {signed_percent(view.needed)} over the settings "
        "now."
    )
    console.print(escape(view.verdict))
    for result in view.results:
        gap(console)
        console.print(f"[bold]{signed_percent(result.gain)}[/], odds {chance(result.odds)}")
        for change in result.changes:
            jumper = " (jumper)" if change.kind == "jumper" else ""
            line = f"{change.label}{jumper}: {change.origin_label} -> {change.goal_label}"
            put(console, line, 4)
    if view.predicted is not None:
        middle, low, high = view.predicted
        gap(console)
        console.print(
            f"Predicted score: {plain(middle)} {escape(view.unit)}, between {plain(low)} and "
            f"{plain(high)} in 9 of 10 cases."
        )
    for swap in view.swaps:
        _swap(swap, console)
    tell_cautions(console, view.cautions)

"""``swap`` and ``reach`` as text for a terminal."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from rich.console import Console

from waitwright.explain.figures import asked, chance, listed, plain, several, signed_percent
from waitwright.report.swap_views import ExchangeView, PairsView, ReachView, SwapsView, SwapView
from waitwright.report.text.page import gap, heading, put, tell_cautions, tell_incurable


def show_swaps(view: SwapsView, console: Console) -> None:
    """What each exchange brings, most useful first; those that change nothing are said to."""
    heading(console, view.title, view.machine)
    best = "nothing holds" if view.best_gain is None else signed_percent(view.best_gain)
    put(
        console,
        f"With the parts now, at odds of {asked(view.wanted_odds)} or more: {best} for {view.workload!r}.",
    )
    tell_incurable(console, view.incurable)
    useful = [swap for swap in view.swaps if swap.verdict in {"faster", "makes it hold"}]
    for swap in useful:
        _swap(swap, console)
    if not useful:
        where = "in the catalogue" if view.source == "catalogue" else "in the spares box"
        gap(console)
        does = "makes this machine faster" if view.best_gain is not None else "makes this machine hold"
        put(console, f"Nothing {where} {does}.")
    _listed("Would change nothing that anybody notices", view.swaps, ("changes nothing",), console)
    worse = "Would make it worse" if view.best_gain is not None else "Would not help"
    _listed(worse, view.swaps, ("slower", "nothing holds"), console)
    if view.pairs.ruled_out or view.pairs.left:
        gap(console)
        put(console, _set_aside(view.pairs))
    tell_cautions(console, view.cautions)


def _set_aside(pairs: PairsView) -> str:
    """Which pairs were not judged, and why."""
    told = [f"{several(pairs.judged, 'pair of exchanges was', 'pairs of exchanges were')} judged."]
    if pairs.ruled_out:
        told.append(
            f"{several(pairs.ruled_out, 'more brings', 'more bring')} no more than one part alone, as better "
            "grades of both do not."
        )
    if pairs.left:
        told.append(
            f"{several(pairs.left, 'more was', 'more were')} left aside: one part of each is neither the "
            "best of its kind alone, nor a CPU or clock generator that the other could set free."
        )
    return " ".join(told)


def _swap(swap: SwapView, console: Console) -> None:
    gap(console)
    rescues = swap.verdict == "makes it hold"
    brings = "[bold]Makes it hold[/]" if rescues else f"[bold]{signed_percent(swap.extra or 0.0)}[/] more"
    console.print(
        f"{brings}, {signed_percent(swap.gain or 0.0)} over the settings now, odds {chance(swap.odds)}"
    )
    for exchanges in _alike(swap):
        put(console, f"{_places(exchanges)}: {_in_place(exchanges)}", 4)
    if swap.opens:
        put(console, f"best settings then, {several(len(swap.opens), 'change')}:", 4)
        for line in swap.opens:
            put(console, line, 8)


def _alike(swap: SwapView) -> list[list[ExchangeView]]:
    """Slots with the same exchange together."""
    found: dict[tuple[str, str, int], list[ExchangeView]] = {}
    for one in swap.exchanges:
        found.setdefault((one.origin, one.goal, one.count), []).append(one)
    return list(found.values())


def _places(exchanges: list[ExchangeView]) -> str:
    return listed([exchange.place for exchange in exchanges])


def _in_place(exchanges: list[ExchangeView]) -> str:
    first = exchanges[0]
    if not first.goal:
        return f"take out {first.origin_title}"
    each = " each" if len(exchanges) > 1 else ""
    number = f"{first.count} x " if first.count > 1 else ""
    origin = f" in place of {first.origin_title}" if first.origin else ""
    return f"{number}{first.title}{each}{origin}"


def _listed(title: str, swaps: Iterable[SwapView], verdicts: Collection[str], console: Console) -> None:
    """Exchanges that are of no use, grades of one part for one place on one line."""
    lines: dict[tuple[str, str, str], list[str]] = {}
    for swap in swaps:
        if swap.verdict in verdicts:
            coming = [exchange for exchange in swap.exchanges if exchange.goal]
            whole = listed(list(dict.fromkeys(exchange.title for exchange in coming)))
            kind, comma, grade = whole.rpartition(", ")
            if not comma or len({exchange.goal for exchange in coming}) > 1:
                kind, grade = whole, ""
            state = "" if swap.verdict == "changes nothing" else _loss(swap)
            grades = lines.setdefault((kind, _places(coming), state), [])
            if grade and grade not in grades:
                grades.append(grade)
    if not lines:
        return
    gap(console)
    console.print(f"[bold]{title}[/]")
    for (kind, places, state), grades in lines.items():
        shown = f", {listed(grades)}" if grades else ""
        put(console, f"- {kind}{shown} ({places}){': ' if state else ''}{state}", 2)


def _loss(swap: SwapView) -> str:
    return "nothing holds then" if swap.extra is None else signed_percent(swap.extra)


def show_reach(view: ReachView, console: Console) -> None:
    """The least risky settings that reach the target, or the nearest and what would close the rest."""
    heading(console, view.title, view.machine)
    if view.unit == "%":
        put(console, f"Wanted: {signed_percent(view.needed)} over the settings now.")
    else:
        more = signed_percent(view.needed)
        put(console, f"Wanted: {plain(view.target)} {view.unit}, {more} over the settings now.")
    put(console, view.verdict)
    tell_incurable(console, view.incurable)
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
        score = f"{plain(middle)} {view.unit}, between {plain(low)} and {plain(high)} in 9 of 10 cases"
        put(console, f"Predicted score: {score}.")
    for swap in view.swaps:
        _swap(swap, console)
    tell_cautions(console, view.cautions)

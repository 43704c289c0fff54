"""``rank`` as text: the first proposal in full, the others by what sets them apart from it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from waitwright.explain.figures import asked, chance, measured, plain, several, signed_percent
from waitwright.report.curve_text import curve_lines
from waitwright.report.text.page import INDENT, columns, gap, heading, put, tell_cautions, tell_incurable
from waitwright.report.views import ChangeView, RankView, ResultView, TightView
from waitwright.report.words import soak


def show_rank(view: RankView, console: Console) -> None:
    """The proposals, fastest first, with changes and reasons."""
    heading(console, view.title, view.machine)
    put(console, _aim(view))
    put(console, f"{view.space.raw:,} combinations searched in {view.elapsed_s:.2f} s.{_listing(view)}")
    if not view.baseline_stands:
        put(console, _note("The settings now do not all hold by data-sheet limits; 'check' shows where."))
    if view.verdict == "unknown":
        put(console, _note(_not_proven(view)))
    if view.own_scores:
        put(console, f"Speeds by {several(view.own_scores, 'score')} of your own.")
    if not view.results:
        gap(console)
        put(console, _no_result(view))
        tell_incurable(console, view.incurable)
    for place, result in enumerate(view.results, start=1):
        gap(console)
        put(console, _headline(place, result))
        if place == 1:
            _in_full(result, console)
        else:
            _against(view.results[0], result, console)
    if view.curve:
        _curve(view, console)
    tell_cautions(console, view.cautions)


def _listing(view: RankView) -> str:
    """What the list leaves out."""
    if view.listing == "every speed" or len(view.results) < 2:
        return ""
    near = f"Below 1, speeds within {plain(100 * view.apart)} % count as one; left" if view.apart else "Left"
    return f" {near} out is what a faster one beats in odds and number of changes (--every lists all)."


def _not_proven(view: RankView) -> str:
    """How far the search came."""
    bound = "" if view.bound_gain is None else f" than {signed_percent(view.bound_gain)}"
    known = f"nothing faster{bound} can exist" if bound else "something faster may exist"
    return f"Not proven: the search used up its work; {known}."


def _aim(view: RankView) -> str:
    if view.rated or view.wanted_odds is None:
        return f"Fastest settings for '{view.workload}' that hold by data-sheet limits."
    test = "the soak test" if view.hours is None else soak(view.hours)
    now = "" if view.baseline_odds is None else f"; the settings now: {chance(view.baseline_odds)}"
    return (
        f"Fastest settings for '{view.workload}' with odds of at least {asked(view.wanted_odds)} "
        f"to pass {test}{now}."
    )


def _note(text: str) -> Text:
    return Text(text, style="yellow")


def _no_result(view: RankView) -> str:
    if view.verdict == "unknown":
        return "Nothing found before the search used up its work."
    if view.incurable:
        return "No combination of these options can hold with the parts as they are fitted."
    if view.rated or view.wanted_odds is None:
        return (
            "No combination of these options holds by data-sheet limits. 'why' shows what stands in the way."
        )
    return (
        f"No combination of these options has odds of {asked(view.wanted_odds)}. 'why' shows what "
        "stands in the way; a smaller --odds lets more in."
    )


def _headline(place: int, result: ResultView) -> Text:
    odds = "" if result.odds is None else f", odds {chance(result.odds)}"
    if not result.changes:
        return Text.assemble((f"{place}.", "bold"), f" the settings now{odds}: nothing to change")
    changes = several(len(result.changes), "change")
    return Text.assemble((f"{place}.  {signed_percent(result.gain)}", "bold"), f"{odds}, {changes}")


def _in_full(result: ResultView, console: Console) -> None:
    for change in result.changes:
        _change(change, console)
    _tightest(result.tightest, console)
    if result.reasons:
        put(console, "Left alone", INDENT, style="bold")
        for reason in result.reasons:
            put(console, reason, 2 * INDENT)


def _change(change: ChangeView, console: Console) -> None:
    """What to change and why, on one line where both fit."""
    jumper = " (jumper)" if change.kind == "jumper" else ""
    what = Text.assemble(
        (change.label, "bold"), f"{jumper}: {change.origin_label} -> ", (change.goal_label, "bold")
    )
    if INDENT + len(what) + len(change.reason) + 2 <= console.width:
        put(console, Text.assemble(what, f". {change.reason}"), INDENT)
        return
    put(console, what, INDENT)
    put(console, change.reason, 2 * INDENT)


def _tightest(tightest: Sequence[TightView], console: Console) -> None:
    if not tightest:
        return
    put(console, "Least left by data sheet", INDENT, style="bold")
    with_odds = any(tight.odds is not None for tight in tightest)
    table = columns(right=(0,), wide=1, count=3 if with_odds else 2)
    for tight in tightest:
        odds = [f"odds {chance(tight.odds)}"] if with_odds else []
        table.add_row(_left(tight), Text(tight.title), *odds)
    put(console, table, 2 * INDENT)


def _left(tight: TightView) -> str:
    state = measured(abs(tight.margin), tight.unit)
    return f"{state} short" if tight.margin < 0 else state


def _against(first: ResultView, other: ResultView, console: Console) -> None:
    """What sets *other* apart from the *first* proposal."""
    put(console, f"as 1, but {'; '.join(_differences(first, other))}", INDENT)
    known = {(tight.id, tight.margin) for tight in first.tightest}
    if other.tightest and not known & {(other.tightest[0].id, other.tightest[0].margin)}:
        least = other.tightest[0]
        put(console, f"least left: {_left(least)} in '{least.title}'", INDENT)


def _differences(first: ResultView, other: ResultView) -> Iterator[str]:
    ours = {change.option: change for change in first.changes}
    theirs = {change.option: change for change in other.changes}
    for option, change in ours.items():
        if option not in theirs:
            yield f"{change.label}: as now"
    for option, change in theirs.items():
        if option not in ours or ours[option].goal != change.goal:
            yield f"{change.label}: {change.goal_label}"


def _curve(view: RankView, console: Console) -> None:
    """Speed against odds, fastest first; each point as what to set differently from the one before."""
    gap(console)
    put(console, "Speed against odds", style="bold")
    for line in curve_lines(view.curve):
        put(console, line, INDENT)
    if not view.curve_complete:
        put(console, _note("The curve is not complete: the search used up its work."))
    put(console, "Each step down gives up speed for better odds")
    table = columns(right=(0, 1), wide=2, count=3)
    before: ResultView | None = None
    for point in view.curve:
        base = view.baseline_settings if before is None else before.settings
        steps = [f"{option}={choice}" for option, choice in point.settings.items() if base[option] != choice]
        told = ", ".join(steps) or "the settings now"
        table.add_row(signed_percent(point.gain), chance(point.odds), Text(told))
        before = point
    put(console, table, INDENT)

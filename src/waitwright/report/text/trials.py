"""``next``, ``record`` and ``suspect`` as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from shlex import quote

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table

from waitwright.explain.figures import chance, plain, several, signed_percent
from waitwright.report.score_views import ClaimView
from waitwright.report.trial_views import (
    LIKELY,
    NextView,
    ProvenView,
    QueuedView,
    RecordView,
    SuspectsView,
    SuspectView,
    TestView,
    TrialView,
)
from waitwright.report.views import CautionView

_MOST_CLAIMS = 2
_CONVICTED = 0.5
"""Odds from which a suspect that was measured as faulty is to be mended before anything else is measured."""


def show_next(view: NextView, console: Console, *, asked: str = "") -> None:
    """The trial to make, with all that a person at the bench needs.

    Args:
        asked: The machine as the user named it, for the command that comes next.
    """
    console.print(f"[bold]{escape(view.title)}[/]  ({escape(view.machine)})")
    _warnings(view.warnings, console)
    for lesson in view.lessons:
        console.print(escape(lesson))
    if view.trial is None:
        console.print()
        console.print(f"[bold]{escape(view.advice)}[/]")
        if view.test is not None and view.test.bits > 0:
            console.print(f"First of all: {escape(view.test.title)}. {escape(view.test.how)}")
            console.print(f"Record it: {escape(view.test.record)}")
        if not view.incurable:
            console.print(_proven(view.proven))
    else:
        _trial(view, view.trial, asked or view.machine, console)
    if view.queue:
        console.print()
        console.print("[bold]After that, perhaps[/]")
        for queued in view.queue:
            console.print(Padding(_queued(queued), (0, 0, 0, 2)))
    _cautions(view.cautions, console)


def _trial(view: NextView, trial: TrialView, asked: str, console: Console) -> None:
    console.print()
    console.print(
        f"[bold]Trial {trial.id}:  {signed_percent(trial.gain)}[/] over the settings of the profile, "
        f"odds {chance(trial.odds)}"
    )
    console.print(escape(trial.reason))
    console.print()
    console.print("[bold]Enter[/] (changed lines carry an arrow)")
    changed = {change.option: change for change in trial.changes}
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    for setting in trial.settings:
        change = changed.get(setting.option)
        jumper = " (jumper)" if setting.kind == "jumper" else ""
        label, choice = escape(setting.label) + jumper, escape(setting.choice_label)
        if change is None:
            table.add_row("  ", label, choice)
        else:
            table.add_row(
                "->", f"[bold]{label}[/]", f"[bold]{choice}[/]  (was {escape(change.origin_label)})"
            )
    console.print(table)
    _list("Soak test", trial.soak, console)
    _list("Watch for", trial.watch, console)
    _list("If it does not start", trial.recover, console)
    console.print()
    if view.kept:
        console.print(
            f"Then: waitwright record {escape(quote(asked))} stable, or failed --symptom hang --hours 0.5"
        )
    elif not view.fitted:
        console.print(
            "Nothing is written down for parts that are not fitted. Once they are: "
            f"waitwright new --edit {escape(quote(asked))} --part SLOT=PART"
        )
    else:
        console.print(
            "Nothing is written down for a packed example. For trials of your own: "
            f"waitwright new --from {escape(view.machine)}"
        )
    console.print(_proven(view.proven))


def _proven(proven: ProvenView) -> str:
    state = "declared stable" if proven.stable else f"sound with {chance(proven.sure)}"
    return f"Proven so far: {signed_percent(proven.gain)} over the settings of the profile, {state}."


def _queued(queued: QueuedView) -> str:
    steps = "; ".join(f"{escape(c.label)}: {escape(c.goal_label)}" for c in queued.changes)
    return f"{signed_percent(queued.gain)}, odds {chance(queued.odds)}: {steps}"


def show_record(view: RecordView, console: Console) -> None:
    """What was written down, and what it taught."""
    what = f"Trial {view.trial}" if view.trial is not None else f"Entry {view.entry}"
    console.print(f"{what} {escape(view.outcome)}; logbook {escape(view.logbook)}")
    _warnings(view.warnings, console)
    for claim in _told(view.claims):
        console.print(escape(claim.sentence))
    if view.calibration is not None:
        console.print(escape(view.calibration.sentence))
    for lesson in view.lessons:
        console.print(escape(lesson))
    console.print(_proven(view.proven))


def _told(claims: Sequence[ClaimView]) -> Sequence[ClaimView]:
    """The claims against the first settings measured and against the fastest; --json has all."""
    if len(claims) <= _MOST_CLAIMS:
        return claims
    # The less a score gains on settings, the faster these are.
    return list(dict.fromkeys([claims[0], min(claims, key=lambda claim: claim.gain)]))


def show_suspects(view: SuspectsView, console: Console) -> None:
    """Suspects by odds, and the measurement to make."""
    console.print(f"[bold]{escape(view.title)}[/]  ({escape(view.machine)})")
    _warnings(view.warnings, console)
    console.print(f"Chance that nothing beside timing is at fault: {chance(view.timing_odds)}.")
    for lesson in view.lessons:
        console.print(escape(lesson))
    console.print()
    shown = [one for one in view.suspects if one.found or one.mended or one.odds >= LIKELY]
    for one in shown:
        _suspect(one, console)
    rest = len(view.suspects) - len(shown)
    if rest:
        console.print(f"{several(rest, 'suspect')} below {chance(LIKELY)} not shown; --json has all.")
    if view.next_test is not None and view.next_test.bits > 0:
        if view.due:
            convicted = any(one.found and one.odds >= _CONVICTED for one in view.suspects)
            heading = "If it fails again after the repair, measure" if convicted else "Measure next"
            _test(heading, view.next_test, console)
        else:
            console.print()
            first = escape(view.next_test.title)
            console.print(f"Nothing needs to be measured now. First of all, if it ever fails: {first}.")
    for hint in view.hints:
        console.print()
        console.print(escape(hint))
    _cautions(view.cautions, console)


def _suspect(one: SuspectView, console: Console) -> None:
    state = "measured as faulty; " if one.found else "mended; " if one.mended else ""
    console.print(
        f"[bold]{chance(one.odds)}[/]  {escape(one.title)}  ({state}was {chance(one.prior)} before any trial)"
    )
    for line in one.evidence:
        console.print(Padding(escape(line), (0, 0, 0, 4)))
    if one.found:
        console.print(Padding(f"What cures it: {escape(one.remedy)}", (0, 0, 0, 4)))
        console.print(Padding(f"Once it is mended: {escape(one.mend)}", (0, 0, 0, 4)))


def _test(heading: str, test: TestView, console: Console) -> None:
    console.print()
    console.print(f"[bold]{heading}:[/] {escape(test.title)} (about {plain(test.minutes, 0)} minutes)")
    console.print(Padding(escape(test.how), (0, 0, 0, 4)))
    if test.expected:
        console.print(Padding(f"{escape(test.expected)}, as the machine was set last:", (0, 0, 0, 4)))
    for band in test.bands:
        console.print(Padding(f"- {escape(band)}", (0, 0, 0, 4)))
    console.print(Padding(f"Record it: {escape(test.record)}", (0, 0, 0, 4)))


def _warnings(lines: Sequence[str], console: Console) -> None:
    for line in lines:
        console.print(f"[yellow]Note:[/] {escape(line)}")


def _list(title: str, lines: Sequence[str], console: Console) -> None:
    console.print()
    console.print(f"[bold]{title}[/]")
    for line in lines:
        console.print(Padding(f"- {escape(line)}", (0, 0, 0, 2)))


def _cautions(cautions: Sequence[CautionView], console: Console) -> None:
    if cautions:
        _list("Take care", [caution.text for caution in cautions], console)

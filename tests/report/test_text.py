"""Answers on a terminal: within its width, without trailing blanks, and with the figures of the views."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import StringIO
from typing import Any

import pytest
from rich.console import Console
from tests.workshop import MACHINES, NEW, OLD, checked, explained, ranked

from waitwright.api.opening import Question
from waitwright.api.rank import Wish, rank
from waitwright.api.rules import list_rules, show_rule, validate_rules
from waitwright.explain.figures import chance, measured, signed_percent
from waitwright.report.margin_view import BudgetView, RuleMargin
from waitwright.report.text.check import show_check
from waitwright.report.text.rank import show_rank
from waitwright.report.text.rules import show_findings, show_full, show_list
from waitwright.report.text.why import show_why
from waitwright.report.views import CautionView, CheckView, RulesView, RuleView

FAST = ("cache-read=2-1-1-1", "ras-to-cas=1.5", "refresh-hidden=on")


def text(show: Callable[[Any, Console], None], view: Any, width: int = 80) -> str:
    """What *show* prints on a console without colour."""
    out = StringIO()
    show(view, Console(file=out, width=width, highlight=False, color_system=None))
    return out.getvalue()


def flat(shown: str) -> str:
    """Text without its line breaks."""
    return " ".join(shown.split())


def every_text(width: int) -> list[str]:
    """All answers for both packed machines."""

    def show_all(view: CheckView, console: Console) -> None:
        show_check(view, console, every=True)

    shown = [
        text(show_list, list_rules(), width),
        text(show_full, show_rule("dram.row.access"), width),
        text(show_full, show_rule("sram-32kx8-20"), width),
        text(show_findings, validate_rules(), width),
    ]
    for name in MACHINES:
        shown += [
            text(show, checked(name, *sets), width) for show in (show_check, show_all) for sets in ((), FAST)
        ]
        shown += [text(show_why, explained(name, *sets), width) for sets in ((), FAST, ("host-clock=50",))]
        shown += [text(show_rank, ranked(name, rated), width) for rated in (True, False)]
    return shown


@pytest.mark.parametrize("width", [80, 120])
def test_lines_fit_the_terminal(width: int) -> None:
    """No line is wider than the terminal, none ends in blanks, and none holds an escape code."""
    for shown in every_text(width):
        assert shown.strip()
        for line in shown.splitlines():
            assert len(line) <= width
            assert line == line.rstrip()
            assert "\x1b" not in line


def test_a_narrow_terminal_still_gets_everything() -> None:
    """On 40 columns text is wrapped, not cut: every title is there."""
    view = explained(NEW, *FAST)
    shown = flat(text(show_why, view, 40))

    for rule in (*view.short, *view.tight):
        assert rule.title in shown


# -------------------------------------------------------------------------------------- check


@pytest.mark.parametrize("name", MACHINES)
def test_check_is_about_a_page(name: str) -> None:
    """By default ``check`` takes some eighty lines; with everything it shows each rule once."""
    view = checked(name)

    assert len(text(show_check, view).splitlines()) <= 85
    everything = flat(text(lambda v, c: show_check(v, c, every=True), view, 200))
    for rule in view.rules:
        assert everything.count(f" {rule.title} ") >= 1


@pytest.mark.parametrize("name", MACHINES)
def test_check_leads_with_the_verdict(name: str) -> None:
    """After the machine come verdict and odds, before clocks, settings and margins."""
    for sets, word in (((), "Holds by data-sheet limits: "), (FAST, "Does not hold by data-sheet limits: ")):
        view = checked(name, *sets)
        shown = text(show_check, view)
        deciding = [rule.rated for rule in view.rules if not rule.advisory]

        assert shown.index(word) < shown.index("Odds that all of it") < shown.index("Clocks in MHz:")
        holding = deciding.count("holds")
        assert f"{word}{holding} hold" in shown
        if short := deciding.count("falls short"):
            assert f"{short} {'falls' if short == 1 else 'fall'} short" in shown
        assert chance(view.odds) in shown


@pytest.mark.parametrize("name", MACHINES)
def test_check_never_hides_what_does_not_hold(name: str) -> None:
    """What falls short or is tight is shown with its margin; what is left out is counted."""
    view = checked(name, *FAST)
    shown = flat(text(show_check, view, 160))

    for rule in view.rules:
        if rule.rated != "holds":
            assert rule.title in shown
    assert f"all {len(view.rules)} with --all" in shown
    hidden = sum(
        int(line.split("(")[1].split(" more")[0])
        for line in text(show_check, view).splitlines()
        if " more hold" in line
    )
    assert 0 < hidden < len(view.rules)


def test_check_shows_settings_as_they_are_typed() -> None:
    """Each setting is shown as ``--set`` takes it and in the owner's words; what does nothing is marked."""
    view = checked(OLD, "self-timing=on")
    shown = flat(text(show_check, view, 120))

    for setting in view.settings:
        jumper = " (jumper)" if setting.kind == "jumper" else ""
        mark = " (the board decides)" if setting.inert else ""
        assert (
            f"{setting.option}={setting.choice} {setting.label}{jumper}: {setting.choice_label}{mark}"
            in shown
        )
    assert "(the board decides)" in shown


def test_check_tells_what_cannot_be() -> None:
    """Choices that shut each other out are told with advice and source, right below the verdict."""
    view = checked(NEW, *FAST)
    (conflict,) = view.conflicts
    shown = flat(text(show_check, view))

    assert f"Cannot be: {conflict.title}." in shown
    assert conflict.advice in shown
    assert conflict.source in shown


# ---------------------------------------------------------------------------------------- why


def heading_of(rule: RuleMargin) -> str:
    """The line above a ledger."""
    if isinstance(rule, BudgetView):
        by = measured(abs(rule.margin_ns or 0), "ns")
    else:
        by = measured(abs(rule.margin or 0), rule.unit)
    if rule.rated == "tight":
        return f"Tight, {by} to spare: {rule.title}"
    return f"{'Advice not kept' if rule.advisory else 'Falls short'} by {by}: {rule.title}"


@pytest.mark.parametrize("sets", [(), FAST, ("host-clock=50",)])
@pytest.mark.parametrize("name", MACHINES)
def test_why_shows_every_ledger(name: str, sets: tuple[str, ...]) -> None:
    """Whatever is short or tight is shown with its figures, line by line, and every source is listed."""
    view = explained(name, *sets)
    shown = flat(text(show_why, view, 120))

    for rule in (*view.short, *view.tight):
        assert heading_of(rule) in shown or f"and just so: {rule.title}" in shown
        for line in (*rule.windows, *rule.delays) if isinstance(rule, BudgetView) else ():
            assert f"{measured(line.ns, 'ns')} {line.name} [" in shown
            assert line.source in shown
    assert "Odds that they last through a soak test of 4 hours: " in shown


def test_why_tells_the_same_of_two_cards_once() -> None:
    """Where two cards have one ledger and the same odds it is shown once, with both names."""
    view = explained(NEW, "host-clock=50")
    one = next(rule for rule in view.short if rule.id == "local-bus.ready.logic@local-1")
    other = replace(one, id="local-bus.ready.logic@local-2", title=one.title.replace("local-1", "local-2"))
    shown = text(show_why, replace(view, short=(one, other), tight=()), 120)

    assert shown.count("card, clock edge to ready") == 1
    assert "board logic (local-1)" in shown
    assert "and just so: Local bus: card's ready to the board logic (local-2)" in shown


def test_why_without_odds_where_choices_exclude_each_other() -> None:
    """What cannot be set together has no odds."""
    assert "soak test of 4 hours: none, as this cannot be set together" in flat(
        text(show_why, explained(NEW, *FAST))
    )


def test_why_when_all_is_well() -> None:
    """Where nothing is short or tight, that is said, and there are no sources to list."""
    view = replace(explained(OLD), short=(), tight=())
    shown = text(show_why, view)

    assert "Nothing falls short and nothing is tight." in shown
    assert "Sources" not in shown
    assert "Drawings" not in shown


# --------------------------------------------------------------------------------------- rank


@pytest.mark.parametrize("rated", [True, False])
@pytest.mark.parametrize("name", MACHINES)
def test_rank_tells_the_first_in_full(name: str, rated: bool) -> None:
    """The first proposal has every change with its reason, its least margins, and what is left alone."""
    view = ranked(name, rated)
    first = view.results[0]
    shown = flat(text(show_rank, view, 100))

    for change in first.changes:
        jumper = " (jumper)" if change.kind == "jumper" else ""
        assert f"{change.label}{jumper}: {change.origin_label} -> {change.goal_label}" in shown
        assert change.reason in shown
    for tight in first.tightest:
        assert tight.title in shown
        assert measured(abs(tight.margin), tight.unit) in shown
    for reason in first.reasons:
        assert reason in shown


@pytest.mark.parametrize("rated", [True, False])
@pytest.mark.parametrize("name", MACHINES)
def test_rank_tells_the_others_by_their_difference(name: str, rated: bool) -> None:
    """From each further proposal's line its settings can be had from those of the first."""
    view = ranked(name, rated)
    shown = text(show_rank, view, 300)
    first = view.results[0]
    blocks = shown.split("\n\n")

    for place, result in enumerate(view.results[1:], start=2):
        (block,) = [block for block in blocks if block.startswith(f"{place}.  {signed_percent(result.gain)}")]
        line = next(line for line in block.splitlines() if "as 1, but " in line)
        told = set(line.split("as 1, but ")[1].split("; "))
        labels = {c.option: c for c in (*first.changes, *result.changes)}
        expected = set()
        for option, choice in result.settings.items():
            if first.settings[option] != choice:
                now = view.baseline_settings[option] == choice
                goal = next((c.goal_label for c in result.changes if c.option == option), "")
                expected.add(f"{labels[option].label}: {'as now' if now else goal}")
        assert told == expected


def test_rank_with_nothing_to_change() -> None:
    """Where the settings now are the best, that is said."""
    options = tuple(checked(OLD).to_dict()["settings"])
    shown = text(show_rank, rank(Question(OLD), Wish(rated=True, fix=options)))

    assert "1. the settings now: nothing to change" in shown
    assert "2." not in shown


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"results": (), "verdict": "none"}, "No combination of these options holds by data-sheet limits"),
        ({"results": (), "verdict": "none", "rated": False, "wanted_odds": 0.9}, "has odds of 90 %"),
        ({"results": (), "verdict": "unknown"}, "Nothing found before the search used up its work."),
        (
            {"verdict": "unknown", "bound_gain": 0.25},
            "its work; nothing faster than +25.0 % can exist",
        ),
        ({"verdict": "unknown"}, "Not proven: the search used up its work; something faster may exist"),
        ({"baseline_stands": False}, "The settings now do not all hold by data-sheet limits"),
    ],
)
def test_rank_says_what_it_does_not_know(more: dict[str, Any], said: str) -> None:
    """No answer, an unproven one, and a bad start are each told."""
    assert said in flat(text(show_rank, replace(ranked(OLD), **more)))


def test_rank_counts_changes_in_words() -> None:
    """One change is singular."""
    view = ranked(OLD)
    first = view.results[0]
    single = replace(first, changes=first.changes[:1])

    assert f", {len(first.changes)} changes" in text(show_rank, view)
    assert ", 1 change\n" in text(show_rank, replace(view, results=(single,)))


# -------------------------------------------------------------------------------- brackets, rules


def test_brackets_in_data_are_text() -> None:
    """Brackets in titles, labels and sources are shown as they are, never taken for styles."""
    view = replace(checked(OLD), title="[red]A [b]", cautions=(CautionView("x", "[link] [/]"),))
    rules = RulesView(
        (RuleView("[id]", "part", "[title]", "[source]", "memory", ("[/detail]",)),), ("[/bad]",)
    )

    assert "[red]A [b]" in text(show_check, view)
    assert "[link] [/]" in text(show_check, view)
    for shown in (text(show_list, rules), text(show_full, rules)):
        assert "[id]" in shown
        assert "[title]" in shown
    assert "[/detail]" in text(show_full, rules)
    assert "[/bad]" in text(show_findings, rules)


def test_colour_is_never_alone() -> None:
    """With colours on, each verdict stands there as a word too."""
    out = StringIO()
    console = Console(file=out, width=120, highlight=False, color_system="standard", force_terminal=True)
    show_check(checked(OLD, *FAST), console)

    assert "\x1b[" in out.getvalue()
    assert "falls short" in out.getvalue()
    assert "Does not hold" in out.getvalue()


def test_parts_tell_their_spread_and_other_sources() -> None:
    """A part shown in full tells how its true values lie, and names a source only where it is another one."""
    shown = flat(text(show_full, show_rule("sram-32kx8-20"), 200))

    assert "access: 20 ns" in shown
    assert "true delays, of what the sheet says: 0.72 times as a rule, spread 0.07 (practice: " in shown
    assert shown.count("older 32Kx8 grades from memory") == 1

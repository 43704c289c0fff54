"""A machine's sheet as one HTML file: no script, nothing from elsewhere, two A4 pages when printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from waitwright.explain.figures import plain
from waitwright.report.html.paper_fit import (
    CUTS,
    Cut,
    balanced,
    changes_printed,
    density_of,
    room_for_pictures,
)
from waitwright.report.html.render import environment, stylesheet
from waitwright.report.margin_view import BudgetView, RuleMargin, worst_first
from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.pictures.picture import Picture
from waitwright.report.sheet_view import SheetView, TaskView
from waitwright.report.trial_views import NextView
from waitwright.rulebook.domain import SYMPTOMS

SIGN = b'<meta name="generator" content="waitwright sheet">'
"""What every sheet has in its head; nothing else is ever overwritten."""

_TIMINGS = 4
"""Timing pictures on the screen."""


@dataclass(frozen=True, slots=True)
class Plate:
    """A picture and where it is shown: ``screen``, ``paper``, or on both, which is empty."""

    picture: Picture
    where: str = ""


@dataclass(frozen=True, slots=True)
class Plates:
    """The pictures of a sheet.

    Attributes:
        on_desk: In the order of the page.
        rest: The part of the margin board that is not printed; None where all of it is.
        cut: How much of each is printed.
        short: How many sentences on what is short are printed.
    """

    on_desk: tuple[Plate, ...]
    rest: Picture | None
    cut: Cut
    short: int


def plates_of(view: SheetView) -> Plates:
    """Draw everything that belongs on the sheet of *view*, with as much on paper as there is room for."""
    measure = view.in_doubt and _measure(view)
    short = 0 if measure else 2  # the pictures tell it too
    for cut in CUTS:
        order, height = balanced(_printed(view, cut), cut.unit)
        if height <= room_for_pictures(view, cut, view.short[:short], measure=measure):
            break
    rules, trials = view.then.rules, view.logbook.entries
    plates = [Plate(picture) for picture in order]
    timings = _tightest(rules)[cut.timings : _TIMINGS]
    plates[1:1] = [Plate(timing.draw(budget), "screen") for budget in timings]
    if len(view.counted) > cut.trials:
        place = next(place for place, plate in enumerate(plates) if plate.picture.title == story.TITLE)
        plates[place] = Plate(plates[place].picture, "paper")
        plates.insert(place, Plate(story.draw(trials, prefix="whole"), "screen"))
    more = len(rules) > cut.board
    rest = board.draw(rules, first=cut.board, title="All other margins", prefix="rest") if more else None
    return Plates(tuple(plates), rest, cut, short)


def _printed(view: SheetView, cut: Cut) -> list[Picture]:
    """The pictures on paper."""
    rules, doubts = view.then.rules, view.suspects
    pictures = [timing.draw(budget) for budget in _tightest(rules)[: cut.timings]]
    pictures.append(board.draw(rules, most=cut.board, title="The tightest margins with these settings"))
    pictures.append(shares.draw(view.shares, most=cut.events))
    pictures.append(tradeoff.draw(view.curve, view.marks, hours=view.then.hours))
    if view.counted:
        pictures.append(story.draw(view.logbook.entries, most=cut.trials))
    pictures.append(suspects.draw(doubts.suspects, doubts.timing_odds, most=cut.suspects))
    return pictures


def _tightest(rules: Sequence[RuleMargin]) -> list[BudgetView]:
    """The budgets whose figures are all known and that decide, the tightest first."""
    return [
        rule
        for rule in sorted(rules, key=worst_first)
        if isinstance(rule, BudgetView) and rule.margin_ns is not None and not rule.advisory
    ]


def _measure(view: SheetView) -> bool:
    """Whether there is a measurement that would tell something."""
    test = view.suspects.next_test
    return test is not None and test.bits > 0


def render_sheet(view: SheetView) -> str:
    """The whole file."""
    plates, fit = plates_of(view), fitted(view)
    density = density_of(view, fit)
    return environment().get_template("sheet.html").render(
        view=view,
        task=view.task,
        fit=fit,
        plates=plates,
        headline=_headline(view.task, view.next),
        lasting=f"{plain(view.task.hours)} hour{'' if view.task.hours == 1 else 's'}",
        measure=_measure(view),
        styles=stylesheet("paper.css", "sheet.css"),
        sign=SIGN.decode(),
        symptoms=SYMPTOMS,
        density=density.name,
        changes_printed=changes_printed(view, fit, density),
    )  # fmt: skip


def fitted(view: SheetView) -> str:
    """What is fitted, and what is only asked about, place by place."""
    told = []
    for slot in view.slots:
        if slot.chosen:
            titles = {part.id: part.title for part in slot.parts}
            told.append(f"{slot.title}: what if {titles.get(slot.chosen, slot.chosen)}")
        elif slot.now and not slot.soldered:
            told.append(f"{slot.title}: {slot.now}")
    return "; ".join(told)


def _headline(task: TaskView, offered: NextView) -> str:
    if task.kind == "trial":
        return f"Trial {task.number}: enter these settings"
    if task.kind == "asked":
        return "Enter the settings asked for"
    if offered.incurable:
        return "A part has to change first; the settings as they are"
    return "The proven settings, to enter or to keep"

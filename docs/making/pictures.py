"""Pictures in a page: drawn by the program from what it says of a packed machine."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from typing import Any

from waitwright.api.check import check
from waitwright.api.opening import Question
from waitwright.api.sheet import sheet
from waitwright.report.html.render import environment
from waitwright.report.pictures import board, shares, story, suspects, timing, tradeoff
from waitwright.report.pictures.picture import Picture
from waitwright.report.sheet_view import SheetView

_ANY_DAY = datetime(2000, 1, 1, tzinfo=UTC)
_ROWS = 12
"""Of a margin board, so many rows are enough on a page."""


def figure(argument: str) -> str:
    """``KIND MACHINE [--set OPTION=CHOICE]... [NAME]`` as a figure, with its numbers in a table.

    Raises:
        KeyError: where there is no such kind of picture.
        ValueError: where the machine has nothing of that name.
    """
    kind, machine, *words = shlex.split(argument)
    places = [place for place, word in enumerate(words) if word == "--set"]
    settings = tuple(words[place + 1] for place in places)
    names = [word for place, word in enumerate(words) if place not in places and place - 1 not in places]
    picture = _KINDS[kind](Question(machine, sets=settings), *names)
    module: Any = environment().get_template("figure.html").module
    html = str(module.figure(picture))
    return "\n".join(line for line in html.splitlines() if line.strip())  # an empty line would end the HTML


def _timing(question: Question, budget: str) -> Picture:
    for found in check(question).budgets:
        if found.id == budget:
            return timing.draw(found)
    raise ValueError(f"{question.machine} has no budget {budget}")


def _margins(question: Question) -> Picture:
    found = check(question)
    return board.draw((*found.budgets, *found.limits), most=_ROWS)


@cache
def _sheet(question: Question) -> SheetView:
    return sheet(question, now=_ANY_DAY)


_KINDS: dict[str, Callable[..., Picture]] = {
    "timing": _timing,
    "margins": _margins,
    "tradeoff": lambda question: tradeoff.draw(_sheet(question).curve, _sheet(question).marks),
    "shares": lambda question: shares.draw(_sheet(question).shares),
    "story": lambda question: story.draw(_sheet(question).logbook.entries),
    "suspects": lambda question: suspects.draw(
        _sheet(question).suspects.suspects, _sheet(question).suspects.timing_odds, most=6
    ),
}

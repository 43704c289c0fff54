"""Pictures in a page: drawn by the program from what it says of a packed machine."""

from __future__ import annotations

import shlex
from collections.abc import Callable

from waitwright.api.check import check
from waitwright.api.opening import Question
from waitwright.report.html.render import environment
from waitwright.report.pictures import timing
from waitwright.report.pictures.picture import Picture


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
    html = str(environment().get_template("figure.html").module.figure(picture))
    return "\n".join(line for line in html.splitlines() if line.strip())  # an empty line would end the HTML


def _timing(question: Question, budget: str) -> Picture:
    for found in check(question).budgets:
        if found.id == budget:
            return timing.draw(found)
    raise ValueError(f"{question.machine} has no budget {budget}")


_KINDS: dict[str, Callable[..., Picture]] = {"timing": _timing}

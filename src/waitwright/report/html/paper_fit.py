"""What of a sheet goes on two A4 pages: as many rows and sentences as there is room for.

Heights are reckoned for wide fonts; narrower ones leave some white at the foot.  Millimetres throughout.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import ceil

from waitwright.report.logbook_view import EntryView
from waitwright.report.pictures.picture import Picture
from waitwright.report.sheet_view import SheetView, TaskView

_PAGE = 273.0
"""Height of a page inside its margins."""
_LINE = 3.75
"""A line of ordinary print."""

# First page.
_TITLE, _TITLE_LETTERS = 6.3, 52
_FIT, _FIT_LETTERS = 3.0, 138
_BLOCK = 23.5
"""The title block beside its title and what is fitted."""
_OUTCOME = 14.0
"""The form for the outcome."""
_GAPS = 9.0
_HEADING = 6.6
_STAKES = 19.0
"""Gain and odds in large letters, beside the settings."""
_LABEL, _CHOICE = 31, 25
"""Letters in a line of an option's label, and of its choice."""

# Second page.
_TOP = 13.0
"""Heading and foot."""
_ENTRY = 3.0
"""A line of the table of trials."""
_HALF, _WHOLE = 50, 105
"""Letters in a line across half the page, and across all of it."""
_CAPTION = 42
"""Letters in a line over a picture."""


@dataclass(frozen=True, slots=True)
class Density:
    """How close the lines of settings, of what is said beside them, and of safety notes stand.

    Attributes:
        row: A setting; ``more``: each further line of it.
        side: A line beside the settings, of ``side_letters``.
        note: A line of the safety notes in three columns, of ``note_letters``.
    """

    name: str
    row: float
    more: float
    side: float
    side_letters: int
    note: float
    note_letters: int


DENSITIES = (
    Density("", 5.2, 3.1, 3.75, 46, 2.9, 41),
    Density("dense", 4.6, 2.9, 3.75, 46, 2.9, 41),
    Density("tight", 4.1, 2.7, 3.3, 51, 2.6, 45),
)
"""From roomy to tight; the names are classes of ``sheet.css``."""


@dataclass(frozen=True, slots=True)
class Cut:
    """How many timing pictures, rows of the margin board, trials, events and suspects are printed.

    ``slim`` pictures are narrower, and so less high.
    """

    timings: int
    board: int
    trials: int
    events: int
    suspects: int
    slim: bool = False

    @property
    def unit(self) -> float:
        """A unit of a picture: two pictures stand side by side."""
        return (72.0 if self.slim else 82.0) / 360


CUTS = (
    Cut(2, 12, 8, 9, 5),
    Cut(2, 10, 8, 7, 5),
    Cut(2, 8, 6, 6, 4),
    Cut(1, 8, 8, 7, 4),
    Cut(1, 7, 6, 5, 4),
    Cut(1, 6, 5, 5, 3),
    Cut(1, 6, 5, 5, 3, slim=True),
    Cut(1, 5, 4, 4, 3, slim=True),
    Cut(1, 4, 4, 4, 3, slim=True),
    Cut(1, 3, 3, 3, 2, slim=True),
    Cut(1, 3, 2, 2, 2, slim=True),
)
"""From the most to the least that is worth printing."""


def lines(text: str, letters: int) -> int:
    """Lines that *text* takes, *letters* to a line."""
    return max(1, ceil(len(text) / letters))


# ------------------------------------------------------------------------------------ first page


def density_of(view: SheetView, fit: str) -> Density:
    """The roomiest density with which the first page of *view* holds; *fit*: what the title block lists."""
    for density in DENSITIES:
        if max(_listed(view.task, density), _beside(view, density)) <= _desk(view, fit, density):
            return density
    return DENSITIES[-1]


def changes_printed(view: SheetView, fit: str, density: Density) -> int:
    """How many of the changes have room on the first page, beside all other sentences on the trial."""
    task = view.task
    left = max(_desk(view, fit, density), _listed(task, density)) - _beside(view, density) - _HEADING
    for count, change in enumerate(task.changes):
        left -= lines(f"{change.label}: {change.reason}", density.side_letters) * density.side + 0.3
        if left < density.side:  # the line that tells of the rest
            return count
    return len(task.changes)


def _beside(view: SheetView, density: Density) -> float:
    """Height of what is said beside the settings, without the changes."""
    task, learnt = view.task, view.next.lessons
    said = (task.reason, *task.soak, *task.watch, *task.recover, *learnt)
    height = _STAKES + (4 if learnt else 3) * _HEADING
    return height + sum(lines(sentence, density.side_letters) for sentence in said) * density.side


def _desk(view: SheetView, fit: str, density: Density) -> float:
    """Room between title block and outcome."""
    block = _BLOCK + lines(view.title, _TITLE_LETTERS) * _TITLE + lines(fit, _FIT_LETTERS) * _FIT
    care = _care([caution.text for caution in view.cautions], density)
    return _PAGE - block - _OUTCOME - care - _GAPS


def _listed(task: TaskView, density: Density) -> float:
    """Height of the list of settings."""
    height = _HEADING
    for setting, change in task.lines:
        label = setting.label + (" jumper" if setting.kind == "jumper" else "")
        choice = setting.choice_label + (f" was {change.origin_label}" if change else "")
        height += density.row + (max(lines(label, _LABEL), lines(choice, _CHOICE)) - 1) * density.more
    return height


def _care(cautions: Sequence[str], density: Density) -> float:
    """Height of safety notes."""
    notes = sum(lines(caution, density.note_letters) for caution in cautions)
    return 6.5 + ceil(notes / 3 + 0.5) * density.note if cautions else 0.0


# ----------------------------------------------------------------------------------- second page


def balanced(pictures: Sequence[Picture], unit: float) -> tuple[tuple[Picture, ...], float]:
    """*pictures* in an order that two columns share best, and the height of the longer one at *unit*.

    The first picture stays the first; otherwise the order changes as little as that allows.
    """
    heights = [_LINE * lines(picture.title, _CAPTION) + 5.5 + unit * picture.height for picture in pictures]
    whole = sum(heights)
    best = (round(whole, 6), tuple(range(len(pictures))))
    for count in range(1, len(pictures)):
        for left in combinations(range(1, len(pictures)), count - 1):
            column = (0, *left)
            height = sum(heights[place] for place in column)
            # What the last bits say depends on the order of adding, and must not decide.
            best = min(best, (round(max(height, whole - height), 6), column))
    longer, column = best
    rest = (place for place in range(len(pictures)) if place not in column)
    return tuple(pictures[place] for place in (*column, *rest)), longer


def room_for_pictures(view: SheetView, cut: Cut, short: Iterable[str], *, measure: bool) -> float:
    """Height that is left for pictures on the second page.

    Args:
        short: Sentences above the pictures.
        measure: Whether the next measurement is printed, with its safety notes.
    """
    left = _PAGE - _TOP
    sentences = [lines(sentence, _WHOLE) for sentence in short]
    left -= sum(sentences) * _LINE + 9.0 if sentences else 0.0
    trials = view.logbook.entries[-cut.trials :]
    left -= sum(_entry_lines(entry) * _ENTRY + 0.9 for entry in trials) + 11.0 if trials else 0.0
    test = view.suspects.next_test
    if measure and test is not None:
        bands = sum(lines(band, _HALF) for band in test.bands)
        left -= max(lines(test.how, _HALF), bands) * _LINE + 10.0
        left -= _care([caution.text for caution in view.measuring], DENSITIES[-1])
    return left


def _entry_lines(entry: EntryView) -> int:
    """Lines that a trial takes in the table; the style sheet cuts longer texts."""
    if entry.symptoms:
        return 3
    return 2 if entry.note or entry.readings or entry.repaired or len(entry.scores) > 1 else 1

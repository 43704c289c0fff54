"""Timing of 386- and 486-class PCs: from installed parts to the fastest settings that should hold.

For use from Python::

    from waitwright import Question, rank, why

    question = Question("tollgate-386dx33")
    best = rank(question).results[0]
    print(why(question.at(best.settings)).tight)

Names in ``__all__`` are the public ones; what a name needs is loaded when the name is first used.
Every answer is a frozen view with a ``to_dict()`` that gives the same keys as ``--json``.  Whatever
is wrong with what was given is an :class:`InputError`, one line for each thing.
"""

from __future__ import annotations

TYPE_CHECKING = False  # type checkers know the name; to import it costs more than all else here

if TYPE_CHECKING:
    from waitwright.api.check import check
    from waitwright.api.new import copy_packed
    from waitwright.api.next_trial import next_trial
    from waitwright.api.opening import Question
    from waitwright.api.packed import list_boards, list_machines
    from waitwright.api.rank import Wish, rank
    from waitwright.api.reach import Target, reach
    from waitwright.api.record import Report, record, undo
    from waitwright.api.schemas import file_schema
    from waitwright.api.sheet import sheet, write_sheet
    from waitwright.api.suspect import suspect
    from waitwright.api.swap import swap
    from waitwright.api.why import why
    from waitwright.errors import FileProblems, InputError, WaitwrightError
    from waitwright.report.sheet_view import SheetView
    from waitwright.report.swap_views import ReachView, SwapsView
    from waitwright.report.trial_views import NextView, RecordView, SuspectsView
    from waitwright.report.views import CheckView, RankView, WhyView
    from waitwright.rulebook.domain import Rulebook
    from waitwright.rulebook.load import load_rulebook

__version__ = "0.1.0"

__all__ = [
    "CheckView",
    "FileProblems",
    "InputError",
    "NextView",
    "Question",
    "RankView",
    "ReachView",
    "RecordView",
    "Report",
    "Rulebook",
    "SheetView",
    "SuspectsView",
    "SwapsView",
    "Target",
    "WaitwrightError",
    "WhyView",
    "Wish",
    "check",
    "copy_packed",
    "file_schema",
    "list_boards",
    "list_machines",
    "load_rulebook",
    "next_trial",
    "rank",
    "reach",
    "record",
    "sheet",
    "suspect",
    "swap",
    "undo",
    "why",
    "write_sheet",
]

_HOMES = {
    "waitwright.api.check": ("check",),
    "waitwright.api.new": ("copy_packed",),
    "waitwright.api.next_trial": ("next_trial",),
    "waitwright.api.opening": ("Question",),
    "waitwright.api.packed": ("list_boards", "list_machines"),
    "waitwright.api.rank": ("Wish", "rank"),
    "waitwright.api.reach": ("Target", "reach"),
    "waitwright.api.record": ("Report", "record", "undo"),
    "waitwright.api.schemas": ("file_schema",),
    "waitwright.api.sheet": ("sheet", "write_sheet"),
    "waitwright.api.suspect": ("suspect",),
    "waitwright.api.swap": ("swap",),
    "waitwright.api.why": ("why",),
    "waitwright.errors": ("FileProblems", "InputError", "WaitwrightError"),
    "waitwright.report.sheet_view": ("SheetView",),
    "waitwright.report.swap_views": ("ReachView", "SwapsView"),
    "waitwright.report.trial_views": ("NextView", "RecordView", "SuspectsView"),
    "waitwright.report.views": ("CheckView", "RankView", "WhyView"),
    "waitwright.rulebook.domain": ("Rulebook",),
    "waitwright.rulebook.load": ("load_rulebook",),
}
"""Where each public name is defined: the imports above, for use at run time (a test compares them)."""


def __getattr__(name: str) -> object:
    """A public name, loaded at its first use."""
    from importlib import import_module

    for home, names in _HOMES.items():
        if name in names:
            value: object = getattr(import_module(home), name)
            globals()[name] = value
            return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """Public names, loaded or not."""
    return sorted({*globals(), *__all__})

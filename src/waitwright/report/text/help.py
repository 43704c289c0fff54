"""What cannot stand together and what would help, as text."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from waitwright.explain.figures import asked
from waitwright.explain.telling import more
from waitwright.report.help_views import ArgumentView, ConflictSetView, HelpView
from waitwright.report.text.page import INDENT, gap, put

_CONFLICTS, _SENTENCES, _CORRECTIONS, _REMEDIES, _TOLLS = 4, 4, 3, 6, 4
"""How many of each are shown; JSON has them all."""


def tell_help(view: HelpView, console: Console, *, odds: float) -> None:
    """Conflicts with their proofs, what to give up, remedies, and what eats the odds."""
    _conflicts(view, console)
    _remedies(view, console, odds=odds)
    if view.survival and odds < view.wanted:
        gap(console)
        put(console, "What eats the odds", style="bold")
        for toll in view.survival[:_TOLLS]:
            put(console, toll.sentence, INDENT)


def _conflicts(view: HelpView, console: Console) -> None:
    if view.wish is False:
        gap(console)
        put(console, "No combination of the other options makes room for what was asked.")
    if not view.conflicts:
        return
    gap(console)
    put(console, "What cannot stand together, by data-sheet limits", style="bold")
    for conflict in view.conflicts[:_CONFLICTS]:
        put(console, conflict.sentence, INDENT)
        for sentence in _proof(conflict):
            put(console, sentence, 2 * INDENT)
    _untold(console, len(view.conflicts) - _CONFLICTS, "conflict", "conflicts")
    if not view.complete:
        put(console, "These may not be all.", INDENT)
    for place, correction in enumerate(view.corrections[:_CORRECTIONS]):
        put(console, f"{'Or' if place else 'It takes'} {correction.phrase}.", INDENT)
    _untold(console, len(view.corrections) - _CORRECTIONS, "way out", "ways out")


def _proof(conflict: ConflictSetView) -> list[str]:
    """Sentences of all arguments, as many as are worth reading; the rest is counted."""
    arguments: list[ArgumentView] = list(conflict.arguments)
    told = [sentence for argument in arguments for sentence in argument.sentences]
    if len(told) <= _SENTENCES:
        return told
    return [*told[:_SENTENCES], more(len(told) - _SENTENCES, "reason", "reasons")]


def _remedies(view: HelpView, console: Console, *, odds: float) -> None:
    if view.conflicts or odds < view.wanted:
        gap(console)
        aim = f"odds of {asked(view.wanted)}" if odds < view.wanted else "every data-sheet limit"
        put(console, Text.assemble(("What would help", "bold"), f" (to reach {aim}), most gentle first"))
        for remedy in view.remedies[:_REMEDIES]:
            put(console, remedy.sentence, INDENT)
        if not view.remedies:
            tried = "" if view.remedies_complete else " that was tried"
            put(console, f"No single change and no pair of changes{tried} is enough.", INDENT)
        _untold(console, len(view.remedies) - _REMEDIES, "remedy", "remedies")


def _untold(console: Console, count: int, one: str, many: str) -> None:
    if count > 0:
        put(console, more(count, one, many), INDENT)

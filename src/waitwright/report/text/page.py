"""What all text answers share: lines without trailing blanks, words for rooms and verdicts, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.segment import Segment, Segments
from rich.table import Table
from rich.text import Text

from waitwright.explain.figures import several
from waitwright.report.margin_view import BudgetView, ConflictView, RuleMargin
from waitwright.report.views import CautionView

INDENT = 4

STYLES = {"holds": "green", "tight": "yellow", "falls short": "bold red", "unchecked": "dim"}
"""Style of each verdict; the word always stands beside it."""

ROOMS = {
    "cpu": "CPU and clocks",
    "l2": "Second-level cache",
    "dram": "Main memory",
    "refresh": "Refresh",
    "isa": "ISA bus",
    "ata": "Drives",
    "dma": "DMA",
    "local-bus": "Local bus",
    "pci": "PCI",
}
"""Rooms of the rulebook in the order in which they are shown."""


def put(console: Console, what: RenderableType, indent: int = 0, style: str = "") -> None:
    """Print *what*, indented and wrapped, without blanks at the ends of lines.

    A plain string is taken as it is: it may hold brackets.
    """
    body = Text(what, style=style) if isinstance(what, str) else what
    for line in console.render_lines(Padding(body, (0, 0, 0, indent)), pad=False):
        console.print(Segments([*_trimmed(line), Segment.line()]), end="")


def _trimmed(line: Sequence[Segment]) -> list[Segment]:
    kept = list(line)
    while kept and not kept[-1].text.strip():
        kept.pop()
    if kept:
        last = kept[-1]
        kept[-1] = Segment(last.text.rstrip(), last.style, last.control)
    return kept


def gap(console: Console) -> None:
    """An empty line."""
    console.print()


def heading(console: Console, title: str, name: str) -> None:
    """The first line of an answer: which machine it is about."""
    put(console, Text.assemble((title, "bold"), f" ({name})"))


def columns(*, right: Iterable[int] = (), wide: int | None = None, count: int) -> Table:
    """An empty table of *count* columns; those in *right* end flush, *wide* takes what is left."""
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    flush = set(right)
    for place in range(count):
        table.add_column(
            justify="right" if place in flush else "left",
            no_wrap=place != wide,
            ratio=1 if place == wide else None,
        )
    return table


def tell_conflicts(console: Console, conflicts: Iterable[ConflictView]) -> None:
    """Choices that shut each other out, with what to do about it."""
    for conflict in conflicts:
        put(console, Text.assemble(("Cannot be: ", "bold red"), conflict.title + "."))
        put(console, f"{conflict.advice} [{conflict.source}]".strip(), INDENT)


def tally(rules: Iterable[RuleMargin]) -> str:
    """How many of the deciding *rules* hold, are tight, fall short, are unchecked."""
    deciding = [rule.rated for rule in rules if not rule.advisory]
    told = [
        several(count, one, many)
        for verdict, one, many in (
            ("holds", "holds", "hold"),
            ("tight", "is tight", "are tight"),
            ("falls short", "falls short", "fall short"),
            ("unchecked", "is unchecked for want of a figure", "are unchecked for want of a figure"),
        )
        if (count := deciding.count(verdict))
    ]
    return ", ".join(told) or "no rule applies"


def soak(hours: float) -> str:
    """The soak test in words: ``a soak test of 4 hours``."""
    shown = f"{hours:g}"
    return f"a soak test of {shown} hour{'' if shown == '1' else 's'}"


def unit_of(rule: RuleMargin) -> str:
    """The unit of a rule's figures."""
    return "ns" if isinstance(rule, BudgetView) else rule.unit


def margin_of(rule: RuleMargin) -> float | None:
    """A rule's margin in its own unit."""
    return rule.margin_ns if isinstance(rule, BudgetView) else rule.margin


def tell_cautions(console: Console, cautions: Sequence[CautionView]) -> None:
    """Safety notes, last."""
    if cautions:
        gap(console)
        put(console, "Take care", style="bold")
        table = columns(wide=1, count=2)
        for caution in cautions:
            table.add_row("-", Text(caution.text))
        put(console, table)

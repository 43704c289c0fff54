"""What all text answers share: lines without trailing blanks, headings, columns, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.segment import Segment, Segments
from rich.table import Table
from rich.text import Text

from waitwright.report.margin_view import ConflictView
from waitwright.report.views import CautionView

INDENT = 4

STYLES = {"holds": "green", "tight": "yellow", "falls short": "bold red", "unchecked": "dim"}
"""Style of each verdict; the word always stands beside it."""


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


def tell_incurable(console: Console, rules: Iterable[ConflictView]) -> None:
    """Rules that every combination breaks, with what to do about it."""
    for rule in rules:
        put(console, Text.assemble(("No setting cures: ", "bold red"), rule.title + "."))
        put(console, f"{rule.advice} [{rule.source}]".strip(), INDENT)


def tell_cautions(console: Console, cautions: Sequence[CautionView]) -> None:
    """Safety notes, last."""
    if cautions:
        gap(console)
        put(console, "Take care", style="bold")
        table = columns(wide=1, count=2)
        for caution in cautions:
            table.add_row("-", Text(caution.text))
        put(console, table)

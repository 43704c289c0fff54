"""``rules`` as text: lists, entries in full, remarks."""

from __future__ import annotations

import json

from rich.console import Console
from rich.table import Table
from rich.text import Text

from waitwright.explain.figures import several
from waitwright.report.schema_view import SchemasView, WrittenView
from waitwright.report.text.page import INDENT, columns, gap, put
from waitwright.report.views import RulesView, RuleView


def show_list(view: RulesView, console: Console) -> None:
    """One line for each entry."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("kind", "id", "title", "basis"):
        table.add_column(name, no_wrap=name != "title")
    for rule in view.rules:
        table.add_row(rule.kind, Text(rule.id), Text(rule.title), rule.basis)
    put(console, table)


def show_full(view: RulesView, console: Console) -> None:
    """Everything about a few entries."""
    for place, rule in enumerate(view.rules):
        if place:
            gap(console)
        _entry(rule, console)


def show_findings(view: RulesView, console: Console) -> None:
    """Every remark on a line of its own, and how much was read."""
    for finding in view.findings:
        put(console, finding)
    read = several(len(view.rules), "rule, part or figure", "rules, parts and figures")
    put(console, f"{read} read, no error, {several(len(view.findings), 'remark')}.")


def show_kinds(view: SchemasView, console: Console) -> None:
    """One line for each kind of file."""
    table = columns(wide=1, count=2)
    for kind, schema in view.schemas.items():
        table.add_row(Text(kind), Text(schema["description"]))
    put(console, table)


def show_schema(view: SchemasView, console: Console) -> None:
    """The schemas themselves, as files have them: not wrapped, whatever the width."""
    for schema in view.schemas.values():
        console.file.write(json.dumps(schema, indent=2) + "\n")


def show_written(view: WrittenView, console: Console) -> None:
    """A line for each file written."""
    for path in view.paths:
        put(console, f"{path} written.")


def _entry(rule: RuleView, console: Console) -> None:
    put(console, Text.assemble((f"{rule.kind} {rule.id}", "bold"), f": {rule.title}"))
    for line in rule.detail:
        put(console, line, INDENT)
    if rule.source:
        put(console, f"source: {rule.source}" + (f" ({rule.basis})" if rule.basis else ""), INDENT)

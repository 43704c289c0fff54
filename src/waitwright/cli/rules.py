"""``waitwright rules list | show | validate | schema``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from waitwright.cli.common import AsJson, Rules, put_out

Kind = Annotated[
    str | None,
    typer.Option(metavar="KIND", help="Only these: budget, limit, rule, part, fact, parameter, workload ..."),
]
FileKind = Annotated[
    str | None,
    typer.Argument(metavar="FILE-KIND", help="Only this kind of file: machine, board, logbook, rules ..."),
]
Folder = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="FOLDER", help="Write FILE-KIND.schema.json files here."),
]
Name = Annotated[str, typer.Argument(metavar="ID", help="Id of a rule, a part or a figure.")]


def list_(kind: Kind = None, rules: Rules = None, as_json: AsJson = False) -> int:
    """List every rule and part, with its source."""
    from waitwright.api.rules import list_rules
    from waitwright.report.text.rules import show_list

    put_out(list_rules(rules, kind), as_json=as_json, show=show_list)
    return 0


def show(name: Name, rules: Rules = None, as_json: AsJson = False) -> int:
    """Show one rule or part in full, in words."""
    from waitwright.api.rules import show_rule
    from waitwright.report.text.rules import show_full

    put_out(show_rule(name, rules), as_json=as_json, show=show_full)
    return 0


def validate(rules: Rules = None, as_json: AsJson = False) -> int:
    """Check all rules, with your own.

    Errors are told all at once; below them stands what a careful reader would remark on.
    """
    from waitwright.api.rules import validate_rules
    from waitwright.report.text.rules import show_findings

    put_out(validate_rules(rules), as_json=as_json, show=show_findings)
    return 0


def schema(kind: FileKind = None, output: Folder = None, as_json: AsJson = False) -> int:
    """Export the JSON Schema of files, for editors and other programs.

    With a kind of file, its schema is printed; without, the kinds are listed, and --json prints all schemas.
    """
    from waitwright.api.schemas import file_schemas, write_schemas
    from waitwright.report.text.rules import show_kinds, show_schema, show_written

    view = file_schemas(kind)
    if output is not None:
        put_out(write_schemas(view, output), as_json=as_json, show=show_written)
    else:
        put_out(view, as_json=as_json, show=show_kinds if kind is None else show_schema)
    return 0

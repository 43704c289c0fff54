"""The command line as a whole: which commands there are."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

import typer

from waitwright import __version__
from waitwright.cli import check, completion, new, page, rank, reach, record, rules, sheet, suspect, swap, why
from waitwright.cli import next as next_command

HELP = """Timing of 386- and 486-class PCs: from installed parts to the fastest settings that should hold.

MACHINE is the path of a machine profile, or the name of a packed example. Exit status: 0 answer given,
1 the answer is "none", 2 bad input."""


def command() -> Callable[..., Any]:
    """The command line, ready to be called with a list of words; returns the exit code."""
    app = _plain(help=HELP)
    app.callback()(_options)
    app.command("check")(check.check)
    app.command("rank")(rank.rank)
    app.command("why")(why.why)
    app.command("next")(next_command.next_)
    app.command("record")(record.record)
    app.command("suspect")(suspect.suspect)
    app.command("swap")(swap.swap)
    app.command("reach")(reach.reach)
    app.command("sheet")(sheet.sheet)
    app.command("new")(new.new)
    app.command("page")(page.page)
    of_rules = _plain(help="List, show and validate rules and parts.")
    of_rules.command("list")(rules.list_)
    of_rules.command("show")(rules.show)
    of_rules.command("validate")(rules.validate)
    of_rules.command("schema")(rules.schema)
    app.add_typer(of_rules, name="rules")
    app.command("completion")(completion.completion)
    return typer.main.get_command(app)


def _plain(help: str) -> typer.Typer:
    """A command group without colours in its help: a third of the time."""
    return typer.Typer(help=help, rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"waitwright {__version__}")
        raise typer.Exit


def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    pass

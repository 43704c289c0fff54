"""``waitwright sheet``."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, Workload, question


def sheet(
    machine: Machine,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="Where to; default MACHINE.html in this folder."),
    ] = None,
    opened: Annotated[bool, typer.Option("--open", help="Show it in the web browser.")] = False,
    single: Annotated[
        bool,
        typer.Option("--single", help="As for 'next': change one option only, of settings that have passed."),
    ] = False,
    soak: Soak = 4.0,
    workload: Workload = None,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Write all about a machine on one sheet, to print or to read beside it.

    It shows the next trial, which is kept in the logbook as by 'next'; with --set, the settings asked for.
    One HTML file without scripts, which needs nothing else; on paper it takes two A4 pages.
    """
    from waitwright.api.sheet import sheet as gather
    from waitwright.api.sheet import write_sheet

    view = gather(
        question(machine, sets, parts, rules, seed),
        now=datetime.now().astimezone(),
        mode="single" if single else None,
        hours=soak,
        workload=workload,
    )
    path = write_sheet(view, output or Path(f"{view.machine}.html"))
    if as_json:
        import json

        sys.stdout.write(json.dumps({"path": str(path), **view.to_dict()}, indent=2, allow_nan=False) + "\n")
    else:
        sys.stdout.write(f"{path} written: two A4 pages when printed.\n")
    if opened:
        import webbrowser

        webbrowser.open(path.resolve().as_uri())
    return 0

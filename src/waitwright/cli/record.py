"""``waitwright record``."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, put_out, question


def record(
    machine: Machine,
    outcome: Annotated[
        str | None, typer.Argument(metavar="stable|failed", help="How the trial went.")
    ] = None,
    symptom: Annotated[
        list[str] | None,
        typer.Option("--symptom", metavar="S", help="How it failed, such as hang; may be repeated."),
    ] = None,
    hours: Annotated[
        float | None,
        typer.Option(metavar="H", min=0.0, max=10000.0, help="How long it ran, or after how long it failed."),
    ] = None,
    score: Annotated[
        list[str] | None,
        typer.Option("--score", metavar="'VALUE UNIT'", help="What a measuring program told."),
    ] = None,
    measure: Annotated[
        list[str] | None,
        typer.Option(
            "--measure", metavar="NAME=VALUE", help="What a meter told; 'suspect' names what to measure."
        ),
    ] = None,
    repaired: Annotated[
        list[str] | None,
        typer.Option(
            "--repaired", metavar="SUSPECT", help="What was mended before the trial; see 'suspect'."
        ),
    ] = None,
    note: Annotated[str, typer.Option(metavar="T", help="Words of your own.")] = "",
    workload: Annotated[str | None, typer.Option(metavar="W", help="What the score measures.")] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Withdraw the last trial, by marking it.")] = False,
    soak: Soak = 4.0,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Put the outcome of a trial into the logbook.

    Without --set it means the trial that 'next' offered last.
    """
    from waitwright.api.record import Report
    from waitwright.api.record import record as enter
    from waitwright.api.record import undo as withdraw
    from waitwright.errors import UsageError
    from waitwright.report.text.trials import show_record

    asked = question(machine, sets, parts, rules, seed)
    if undo:
        if outcome is not None:
            raise UsageError("--undo takes no outcome: it withdraws the last trial")
        view = withdraw(asked, hours=soak)
    elif outcome is None:
        raise UsageError("record MACHINE: expected stable or failed after the machine")
    else:
        report = Report(
            outcome=outcome,
            symptoms=tuple(symptom or ()),
            hours=hours,
            scores=tuple(score or ()),
            measures=tuple(measure or ()),
            repaired=tuple(repaired or ()),
            note=note,
            workload=workload,
        )
        view = enter(asked, report, now=datetime.now().astimezone(), hours=soak)
    put_out(view, as_json=as_json, show=show_record)
    return 0

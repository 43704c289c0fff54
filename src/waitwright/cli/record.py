"""``waitwright record``."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, put_out, question

if TYPE_CHECKING:
    from waitwright.api.opening import Question
    from waitwright.api.record import Report


def record(
    machine: Machine,
    outcome: Annotated[
        str | None,
        typer.Argument(metavar="[stable|failed]", help="How the trial went, if one was made."),
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
            "--repaired",
            metavar="SUSPECT",
            help="What was mended before trial or reading; see 'suspect'.",
        ),
    ] = None,
    note: Annotated[str, typer.Option(metavar="T", help="Words of your own.")] = "",
    workload: Annotated[str | None, typer.Option(metavar="W", help="What the score measures.")] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Withdraw the last entry, by marking it.")] = False,
    soak: Soak = 4.0,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Put the outcome of a trial into the logbook, or a reading, a repair or a note without one.

    With stable or failed it tells of a trial: of the one that 'next' offered last, unless --set tells other
    settings. Without, it takes --measure, --repaired and --note alone.
    """
    from waitwright.api.record import Report
    from waitwright.api.record import record as enter
    from waitwright.api.record import undo as withdraw
    from waitwright.report.text.trials import show_record

    asked = question(machine, sets, parts, rules, seed)
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
    if undo:
        _refuse_beside_undo(asked, report)
        view = withdraw(asked, hours=soak)
    else:
        view = enter(asked, report, now=datetime.now().astimezone(), hours=soak)
    put_out(view, as_json=as_json, show=show_record)
    return 0


def _refuse_beside_undo(asked: Question, report: Report) -> None:
    """Refuse what would be lost beside --undo, which records nothing.

    Raises:
        UsageError: if anything else is told.
    """
    given = {
        "an outcome": report.outcome,
        "--symptom": report.symptoms,
        "--hours": report.hours,
        "--score": report.scores,
        "--measure": report.measures,
        "--repaired": report.repaired,
        "--note": report.note,
        "--workload": report.workload,
        "--set": asked.sets,
        "--part": asked.parts,
    }
    told = [name for name, value in given.items() if value not in {None, "", ()}]
    if told:
        from waitwright.errors import UsageError
        from waitwright.explain.figures import listed

        raise UsageError(f"--undo takes no {listed(told).removeprefix('an ')}: it withdraws the last entry")

"""``waitwright rank``."""

from __future__ import annotations

from typing import Annotated

import typer

from waitwright.cli.common import (
    AsJson,
    Machine,
    Parts,
    Rules,
    Seed,
    Sets,
    SoakIfAny,
    Workload,
    between,
    put_out,
    question,
    refuse_beside_rated,
)

DEFAULT_ODDS = 0.9


def rank(
    machine: Machine,
    odds: Annotated[
        float | None,
        typer.Option(
            metavar="P",
            parser=between(0, 1),
            help=f"Least odds of passing the soak test, 0 to 1; {DEFAULT_ODDS} unless told.",
        ),
    ] = None,
    rated: Annotated[bool, typer.Option("--rated", help="Judge by data-sheet limits only.")] = False,
    top: Annotated[int, typer.Option(metavar="K", min=1, max=1000, help="How many combinations.")] = 5,
    workload: Workload = None,
    fix: Annotated[
        list[str] | None,
        typer.Option("--fix", metavar="OPTION", help="Leave this option as it is; may be repeated."),
    ] = None,
    soak: SoakIfAny = None,
    curve: Annotated[
        bool, typer.Option("--curve", help="Also show the fastest settings for each level of odds.")
    ] = False,
    apart: Annotated[
        float,
        typer.Option(metavar="PERCENT", parser=between(0, 50), help="Speeds closer than this count as one."),
    ] = 0.1,
    every: Annotated[
        bool,
        typer.Option("--every", help="List every speed, also of settings that a faster proposal beats."),
    ] = False,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Find the fastest settings that should hold.

    Each proposal comes with what to change, in your own labels, what every change brings, and the budgets
    that are left tightest. Exit status 1 tells that no combination holds.
    """
    from waitwright.api.rank import Wish
    from waitwright.api.rank import rank as ask
    from waitwright.cli.progress import searching
    from waitwright.report.text.rank import show_rank
    from waitwright.timing.soak import DEFAULT_SOAK_HOURS

    if rated:
        refuse_beside_rated(odds=odds, soak=soak, curve=curve or None)
    wish = Wish(
        odds=DEFAULT_ODDS if odds is None else odds,
        rated=rated,
        top=top,
        workload=workload,
        fix=tuple(fix or ()),
        hours=DEFAULT_SOAK_HOURS if soak is None else soak,
        curve=curve,
        apart=apart / 100,
        every=every,
    )
    with searching() as progress:
        view = ask(question(machine, sets, parts, rules, seed), wish, progress)
    put_out(view, as_json=as_json, show=show_rank)
    return 1 if view.verdict == "none" else 0

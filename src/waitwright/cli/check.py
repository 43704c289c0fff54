"""``waitwright check``."""

from __future__ import annotations

from functools import partial
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
    put_out,
    question,
    refuse_beside_rated,
)


def check(
    machine: Machine,
    every: Annotated[
        bool, typer.Option("--all", help="Show all margins, not the least of each part of the machine only.")
    ] = False,
    rated: Annotated[
        bool, typer.Option("--rated", help="Judge by data-sheet limits only, without odds.")
    ] = False,
    soak: SoakIfAny = None,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Show the clocks, the settings and the margins of a machine.

    The profile is validated first. Exit status 1 tells that the settings cannot hold by data-sheet limits.
    """
    from waitwright.api.check import check as ask
    from waitwright.report.text.check import show_check
    from waitwright.timing.soak import DEFAULT_SOAK_HOURS

    if rated:
        refuse_beside_rated(soak=soak)
    hours = DEFAULT_SOAK_HOURS if soak is None else soak
    view = ask(question(machine, sets, parts, rules, seed), hours=None if rated else hours)
    put_out(view, as_json=as_json, show=partial(show_check, every=every))
    return 0 if view.stands else 1

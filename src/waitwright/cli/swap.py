"""``waitwright swap``."""

from __future__ import annotations

from typing import Annotated

import typer

from waitwright.cli.common import (
    AsJson,
    Machine,
    Odds,
    Parts,
    Rules,
    Seed,
    Sets,
    Soak,
    Workload,
    put_out,
    question,
)


def swap(
    machine: Machine,
    market: Annotated[
        bool, typer.Option("--market", help="Look at grades of the catalogue, not at the spares.")
    ] = False,
    odds: Odds = 0.9,
    soak: Soak = 4.0,
    workload: Workload = None,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Say which part from the spares box buys most.

    Parts are tried alone and in pairs; those that change nothing are said to. Exit status 1 tells that no
    part brings anything.
    """
    from waitwright.api.swap import swap as ask
    from waitwright.cli.progress import counting
    from waitwright.report.text.swap import show_swaps

    with counting("judging exchanges") as told:
        view = ask(
            question(machine, sets, parts, rules, seed),
            odds=odds,
            hours=soak,
            workload=workload,
            market=market,
            told=told,
        )
    put_out(view, as_json=as_json, show=show_swaps)
    return 0 if any(one.verdict in {"faster", "makes it hold"} for one in view.swaps) else 1

"""``waitwright reach``."""

from __future__ import annotations

from typing import Annotated

import typer

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, put_out, question


def reach(
    machine: Machine,
    score: Annotated[
        str, typer.Argument(metavar="SCORE", help="Wanted score, such as '36 points', or a gain: 20%.")
    ],
    soak: Soak = 4.0,
    workload: Annotated[str | None, typer.Option(metavar="W", help="What the score measures.")] = None,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Find the least risky settings that should reach a score.

    Scores in the logbook tell what a score means on this machine. Exit status 1 tells that the target is out
    of reach with the parts now.
    """
    from waitwright.api.reach import reach as ask
    from waitwright.api.reach import target_of
    from waitwright.cli.progress import counting
    from waitwright.report.text.swap import show_reach

    target = target_of(score, workload)
    with counting("judging exchanges") as told:
        view = ask(question(machine, sets, parts, rules, seed), target, hours=soak, told=told)
    put_out(view, as_json=as_json, show=show_reach)
    return 0 if view.reached else 1

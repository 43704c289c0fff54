"""``waitwright why``."""

from __future__ import annotations

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


def why(
    machine: Machine,
    odds: Odds = 0.9,
    soak: Soak = 4.0,
    workload: Workload = None,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Explain what falls short or is tight.

    One combination is taken apart: each budget without room to spare as a list of its delays, with sources.
    Remedies reach the odds P at least. Exit status 1 tells that the settings cannot hold: choices shut each
    other out, or a data-sheet limit is missed and the odds are below P.
    """
    from waitwright.api.why import why as ask
    from waitwright.report.text.why import show_why

    view = ask(question(machine, sets, parts, rules, seed), hours=soak, wanted=odds, workload=workload)
    put_out(view, as_json=as_json, show=show_why)
    return 0 if view.can_hold else 1

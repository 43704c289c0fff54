"""``waitwright next``."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Annotated

import typer

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, Workload, put_out, question


def next_(
    machine: Machine,
    single: Annotated[
        bool, typer.Option("--single", help="Change one option only, of settings that have passed.")
    ] = False,
    soak: Soak = 4.0,
    workload: Workload = None,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Say which settings to try next, and how.

    The trial is kept in the logbook beside the profile; 'record' then needs no settings. Exit status 1
    tells that no trial is worth making now.
    """
    from waitwright.api.next_trial import next_trial as ask
    from waitwright.report.text.trials import show_next

    view = ask(
        question(machine, sets, parts, rules, seed),
        now=datetime.now().astimezone(),
        mode="single" if single else "jump",
        hours=soak,
        workload=workload,
    )
    put_out(view, as_json=as_json, show=partial(show_next, asked=machine))
    return 1 if view.trial is None else 0

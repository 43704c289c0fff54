"""``waitwright check``."""

from __future__ import annotations

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, put_out, question


def check(
    machine: Machine,
    soak: Soak = 4.0,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Show the clocks and every margin of a machine.

    The profile is validated first. Exit status 1 tells that the settings cannot hold by data-sheet limits.
    """
    from waitwright.api.check import check as ask
    from waitwright.report.text import show_check

    view = ask(question(machine, sets, parts, rules, seed), hours=soak)
    put_out(view, as_json=as_json, show=show_check)
    return 0 if view.stands else 1

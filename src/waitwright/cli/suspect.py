"""``waitwright suspect``."""

from __future__ import annotations

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, put_out, question


def suspect(
    machine: Machine,
    soak: Soak = 4.0,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Rank causes that no setting cures, and name the next measurement."""
    from waitwright.api.suspect import suspect as ask
    from waitwright.report.text.trials import show_suspects

    view = ask(question(machine, sets, parts, rules, seed), hours=soak)
    put_out(view, as_json=as_json, show=show_suspects)
    return 0

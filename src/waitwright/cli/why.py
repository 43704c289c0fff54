"""``waitwright why``."""

from __future__ import annotations

from waitwright.cli.common import AsJson, Machine, Parts, Rules, Seed, Sets, Soak, put_out, question


def why(
    machine: Machine,
    soak: Soak = 4.0,
    sets: Sets = None,
    parts: Parts = None,
    rules: Rules = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> int:
    """Explain what falls short or is tight.

    One combination is taken apart: each budget without room to spare as a list of its delays, with sources.
    """
    from waitwright.api.why import why as ask
    from waitwright.report.text.why import show_why

    view = ask(question(machine, sets, parts, rules, seed), hours=soak)
    put_out(view, as_json=as_json, show=show_why)
    return 0

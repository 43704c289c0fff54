"""What delays usually take: against the cloud's middle draw, and against the data sheet."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import exp

import pytest

from tests.workshop import MACHINES, packed
from waitwright.belief.latents import SURROUNDINGS, delay_name, latents_of
from waitwright.belief.typical import typical_delays
from waitwright.expr import parse
from waitwright.machine import FactTable
from waitwright.timing.margins import budget_margin


@pytest.mark.parametrize("name", MACHINES)
def test_a_delay_takes_its_sheet_s_time_times_the_usual_share(name: str) -> None:
    """A delay takes its rated time times the middle of its part's factor; what no part owns takes its own."""
    machine, rules = packed(name)
    latents, facts = latents_of(machine), FactTable(machine, machine.current)
    middle = {latent.name: exp(latent.mean) for latent in latents.items}
    shared = set()
    for bound in rules.budgets:
        margin = budget_margin(machine, bound, facts)
        if margin is None:
            continue
        usual = typical_delays(machine, bound, facts, latents)
        assert len(usual) == len(margin.delays)
        for delay, time in zip(margin.delays, usual, strict=True):
            members = machine.members.get(delay.part, ()) if delay.part else ()
            if bound.member is not None and bound.member.role == delay.part:
                members = (bound.member,)
            shares = {middle[delay_name(one.item.slot, one.item.part.id)] for one in members}
            if delay.time is None:
                assert time is None
            elif not members:
                assert time == delay.time
            elif len(shares) == 1:
                assert time is not None
                assert float(time) == pytest.approx(float(delay.time) * shares.pop() * middle[SURROUNDINGS])
                shared.add(delay.part)
    assert len(shared) >= 3


def test_what_is_not_known_is_not_guessed() -> None:
    """A delay whose figure or condition is missing has no usual time; one that does not count is left out."""
    machine, rules = packed(MACHINES[0])
    latents, facts = latents_of(machine), FactTable(machine, machine.current)
    bound = next(one for one in rules.budgets if one.id == "l2.read.first.data")
    first, *rest = bound.rule.spend

    def asked(time: str, when: str | None = None, part: str = first.part) -> tuple[Fraction | None, ...]:
        term = replace(first, time=parse(time), when=None if when is None else parse(when), part=part)
        return typical_delays(
            machine, replace(bound, rule=replace(bound.rule, spend=(term, *rest))), facts, latents
        )

    assert asked("ns(7)", part="")[0] == 7000
    assert asked("copro.clock_period", part="")[0] is None
    assert asked("copro.clock_period")[0] is None
    assert asked("ns(7)", "copro.clock > MHz(1)")[0] is None
    assert len(asked("ns(7)", "false")) == len(asked("ns(7)")) - 1

"""Parts keep what they are sold for: spreads of abilities and delays against the parts' own figures."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, log
from statistics import NormalDist

from tests.workshop import OLD, packed
from waitwright.belief.latents import SURROUNDINGS, latents_of
from waitwright.rulebook.domain import Rulebook
from waitwright.rulebook.profiles import Environment

KEPT = 0.99
"""Share of parts that keep their data sheet (common practice: makers test what they print)."""


def test_parts_bear_their_own_rating(rulebook: Rulebook) -> None:
    """Of parts run at exactly their own rating, at least 99 in 100 bear it."""
    borne = {
        part.id: NormalDist().cdf(log(part.ability.ratio) / part.ability.sigma)
        for part in rulebook.parts.values()
        if part.ability is not None
    }

    assert len(borne) > 100
    assert {part: share for part, share in borne.items() if share < KEPT} == {}


def test_parts_keep_their_own_delay_in_usual_surroundings(rulebook: Rulebook) -> None:
    """Of parts given exactly their longest delay, at least 99 in 100 are done in the usual surroundings."""
    machine, _ = packed(OLD)
    unmeasured = replace(machine, profile=replace(machine.profile, environment=Environment()))
    latents = latents_of(unmeasured)
    usual = latents.items[latents.index(SURROUNDINGS)]
    done = {
        part.id: NormalDist().cdf(
            (-log(part.delay.ratio) - usual.mean) / hypot(part.delay.sigma, usual.sigma)
        )
        for part in rulebook.parts.values()
        if part.delay is not None
    }

    assert len(done) > 100
    assert {part: share for part, share in done.items() if share < KEPT} == {}

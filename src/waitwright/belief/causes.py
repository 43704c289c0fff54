"""Everything that may stop a machine under one combination, ready to be priced in any number of draws.

A rule that could fail under the given settings is a cause with a failure rate in each draw; rules that
are safe whatever the parts may need are left out, which is most of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

import numpy as np

from waitwright.belief.cloud import cloud_at
from waitwright.belief.latents import Latents, ability_name, delay_name
from waitwright.belief.mechanisms import AbilityCause, DelayCause, Rated, Scaled, TimingCause
from waitwright.belief.strikes import Strikes
from waitwright.expr import Value
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine, Member
from waitwright.machine.facts import OverlaidFacts
from waitwright.rulebook.domain import Budget, Limit
from waitwright.timing.bind import Bound, BoundRules

_FARTHEST_Z = 5.0
"""Draws beyond five sigma are not reckoned with when a rule is called safe."""

_SAFE_LOG_RATE = -16.0
"""Failure rates below one in a thousand years of soaking are no cause."""


def causes_of(
    machine: Machine, rules: BoundRules, latents: Latents, settings: Mapping[OptionId, ChoiceId]
) -> tuple[TimingCause, ...]:
    """The rules that could fail under *settings*, in rulebook order."""
    facts = FactTable(machine, settings)
    places = {latent.name: place for place, latent in enumerate(latents.items)}
    slowest = np.full(len(latents.items), _FARTHEST_Z)
    extreme = cloud_at(latents, np.stack([slowest, -slowest]), np.full(2, 0.5))
    found: list[TimingCause] = []
    found += _delays(machine, rules, facts, places)
    found += _abilities(machine, rules, facts, places)
    worst = Strikes(found).log_rates(extreme).max(axis=1)
    return tuple(cause for cause, rate in zip(found, worst.tolist(), strict=True) if rate > _SAFE_LOG_RATE)


def _delays(
    machine: Machine, rules: BoundRules, facts: FactTable, places: Mapping[str, int]
) -> Iterator[DelayCause]:
    for bound in rules.budgets:
        view = facts.under(bound.member)
        if bound.rule.advisory or (bound.rule.when is not None and view.value(bound.rule.when) is not True):
            continue
        fixed, delays, known = 0.0, [], True
        for sign, terms in ((1.0, bound.rule.available), (-1.0, bound.rule.spend)):
            for term in terms:
                counts = True if term.when is None else view.value(term.when)
                if counts is False:
                    continue
                members = _members(machine, bound, term.part) if sign < 0 else ()
                times = [
                    _number(_view(facts, bound, member).value(term.time)) for member in members or (None,)
                ]
                if counts is None or any(time is None for time in times):
                    known = False
                elif members:
                    named = [delay_name(one.item.slot, one.item.part.id) for one in members]
                    pairs = zip(named, times, strict=True)
                    delays.append(Scaled(tuple((places[name], time or 0.0) for name, time in pairs)))
                else:
                    fixed += sign * (times[0] or 0.0)
        if known:
            yield DelayCause(bound.id, bound.symptoms, fixed, tuple(delays))


def _abilities(
    machine: Machine, rules: BoundRules, facts: FactTable, places: Mapping[str, int]
) -> Iterator[AbilityCause]:
    for bound in rules.limits:
        view = facts.under(bound.member)
        if bound.rule.advisory or (bound.rule.when is not None and view.value(bound.rule.when) is not True):
            continue
        value, rating = _number(view.value(bound.rule.quantity)), _number(view.value(bound.rule.rating))
        if value is None or rating is None:
            continue
        upper = bound.rule.sense == "at most"
        parts = []
        for member in _members(machine, bound, bound.rule.part):
            own = _view(facts, bound, member)
            asked, borne = _number(own.value(bound.rule.quantity)), _number(own.value(bound.rule.rating))
            place = places[ability_name(member.item.slot, member.item.part.id)]
            parts.append(Rated(place, value if asked is None else asked, rating if borne is None else borne))
        held = value <= rating if upper else value >= rating
        yield AbilityCause(bound.id, bound.symptoms, held, upper, tuple(parts))


def _members(machine: Machine, bound: Bound[Budget] | Bound[Limit], role: str) -> tuple[Member, ...]:
    if bound.member is not None and bound.member.role == role:
        return (bound.member,)
    return machine.members.get(role, ()) if role else ()


def _view(
    facts: FactTable, bound: Bound[Budget] | Bound[Limit], member: Member | None
) -> FactTable | OverlaidFacts:
    """The facts as *member* has them; the part that the rule applies to keeps its own."""
    return facts.under(member).under(bound.member)


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, int | Fraction) and not isinstance(value, bool) else None

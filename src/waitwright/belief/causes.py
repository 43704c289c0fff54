"""Everything that may stop a machine under one combination, ready to be priced in any number of draws.

A rule that could fail under the given settings is a cause with a failure rate in each draw; rules that
are safe whatever the parts may need are left out, which is most of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud, cloud_at
from waitwright.belief.hazard import STEEPNESS_PS, STEEPNESS_SHARE, log_rate
from waitwright.belief.latents import SURROUNDINGS, Latents, ability_name, delay_name
from waitwright.expr import Value
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import FactTable, Machine, Member
from waitwright.rulebook.domain import SYMPTOMS, Budget, Limit, Symptom, Term
from waitwright.timing.bind import Bound, BoundRules

Floats = NDArray[np.float64]

ODD_SYMPTOM = 0.05
"""Share of failures that show as something their rule does not list."""

_FARTHEST_Z = 5.0
"""Draws beyond five sigma are not reckoned with when a rule is called safe."""

_NEVER, _AT_ONCE = -60.0, 60.0
"""Logarithms of the failure rate where a rating that does not vary is kept, and where it is not."""

_SAFE_LOG_RATE = -16.0
"""Failure rates below one in a thousand years of soaking are no cause."""


@dataclass(frozen=True, slots=True)
class Scaled:
    """A delay in a budget: for each part that it may depend on, the unknown's place and picoseconds."""

    parts: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class DelayCause:
    """A budget that could fall short: ``fixed`` picoseconds less the scaled delays."""

    rule: str
    symptoms: tuple[Symptom, ...]
    fixed: float
    delays: tuple[Scaled, ...]

    def log_rate(self, cloud: Cloud) -> Floats:
        """Natural logarithm of the failure rate per hour in each draw."""
        margin = np.full(cloud.draws, self.fixed)
        around = cloud.factor(SURROUNDINGS)
        for delay in self.delays:
            needed = [cloud.factors[:, place] * time for place, time in delay.parts]
            margin -= np.maximum.reduce(needed) * around
        return log_rate(margin, STEEPNESS_PS)

    def blame(self, symptom: Symptom) -> float:
        """Chance that a failure of this kind shows as *symptom*."""
        return _even_blame(self.symptoms, symptom)


@dataclass(frozen=True, slots=True)
class AbilityCause:
    """A limit that could be overstepped; without ``parts`` its rating does not vary."""

    rule: str
    symptoms: tuple[Symptom, ...]
    value: float
    rating: float
    upper: bool
    parts: tuple[int, ...]

    def log_rate(self, cloud: Cloud) -> Floats:
        """As :meth:`DelayCause.log_rate`."""
        if not self.parts:
            held = self.value <= self.rating if self.upper else self.value >= self.rating
            return np.full(cloud.draws, _NEVER if held else _AT_ONCE)
        ability = np.minimum.reduce([cloud.factors[:, place] for place in self.parts])
        over = self.rating * ability - self.value if self.upper else self.value - self.rating / ability
        return log_rate(over / max(abs(self.rating), 1e-300), STEEPNESS_SHARE)

    def blame(self, symptom: Symptom) -> float:
        """As :meth:`DelayCause.blame`."""
        return _even_blame(self.symptoms, symptom)


TimingCause = DelayCause | AbilityCause


def _even_blame(symptoms: Sequence[Symptom], symptom: Symptom) -> float:
    """Symptoms of a rule are taken as equally likely; any other is possible but rare."""
    if symptom in symptoms:
        return (1 - ODD_SYMPTOM) / len(symptoms)
    return ODD_SYMPTOM / len(SYMPTOMS)


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
    return tuple(cause for cause in found if float(cause.log_rate(extreme).max()) > _SAFE_LOG_RATE)


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
                if term.when is not None and view.value(term.when) is False:
                    continue
                members = _members(machine, bound, term.part) if sign < 0 else ()
                times = [_time(facts, bound, term, member) for member in members or (None,)]
                if any(time is None for time in times):
                    known = False
                elif members:
                    named = [delay_name(one.item.slot, one.item.part.id) for one in members]
                    pairs = zip(named, times, strict=True)
                    delays.append(Scaled(tuple((places[name], time or 0.0) for name, time in pairs)))
                else:
                    fixed += sign * (times[0] or 0.0)
        if known:
            yield DelayCause(bound.id, bound.rule.symptoms, fixed, tuple(delays))


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
        members = _members(machine, bound, bound.rule.part)
        parts = tuple(places[ability_name(one.item.slot, one.item.part.id)] for one in members)
        upper = bound.rule.sense == "at most"
        yield AbilityCause(bound.id, bound.rule.symptoms, value, rating, upper, parts)


def _members(machine: Machine, bound: Bound[Budget] | Bound[Limit], role: str) -> tuple[Member, ...]:
    if bound.member is not None and bound.member.role == role:
        return (bound.member,)
    return machine.members.get(role, ()) if role else ()


def _time(facts: FactTable, bound: Bound[Budget], term: Term, member: Member | None) -> float | None:
    """A term's picoseconds as *member* has it; the part that the rule applies to keeps its own facts."""
    view = facts.under(bound.member)
    if member is None or member is bound.member:
        return _number(view.value(term.time))
    if bound.member is None:
        return _number(facts.under(member).value(term.time))
    return _number(facts.under(member).under(bound.member).value(term.time))


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, int | Fraction) and not isinstance(value, bool) else None

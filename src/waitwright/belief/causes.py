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
from waitwright.machine.facts import OverlaidFacts
from waitwright.rulebook.domain import SYMPTOMS, Budget, Limit, Symptom
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
class Rated:
    """A rating that a part bears: the unknown's place, and what is asked of it against the rating."""

    place: int
    value: float
    rating: float


@dataclass(frozen=True, slots=True)
class AbilityCause:
    """A limit that could be overstepped.

    Attributes:
        held: Whether the rating is kept as it stands; decides where no part bears it.
        upper: True where the value must not exceed the rating, False where it must reach it.
        parts: The parts that bear the rating, each with its own.
    """

    rule: str
    symptoms: tuple[Symptom, ...]
    held: bool
    upper: bool
    parts: tuple[Rated, ...]

    def log_rate(self, cloud: Cloud) -> Floats:
        """As :meth:`DelayCause.log_rate`."""
        if not self.parts:
            return np.full(cloud.draws, _NEVER if self.held else _AT_ONCE)
        shares = []
        for part in self.parts:
            ability = cloud.factors[:, part.place]
            distance = (
                part.rating * ability - part.value if self.upper else part.value - part.rating / ability
            )
            shares.append(distance / max(abs(part.rating), 1e-300))
        return log_rate(np.minimum.reduce(shares), STEEPNESS_SHARE)

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

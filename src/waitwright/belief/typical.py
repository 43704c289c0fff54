"""What the delays of a budget usually take, beside what their data sheets allow them to."""

from __future__ import annotations

from fractions import Fraction
from math import exp

from waitwright.belief.latents import SURROUNDINGS, Latents, delay_name
from waitwright.expr import Value
from waitwright.machine import FactTable, Machine, Member
from waitwright.rulebook.domain import Budget, Term
from waitwright.timing.bind import Bound


def typical_delays(
    machine: Machine, bound: Bound[Budget], facts: FactTable, latents: Latents
) -> tuple[Fraction | None, ...]:
    """For each delay that counts under *facts*, in order, the picoseconds that it takes in the middle case.

    The middle case is a part of its family as they mostly are, in the machine's surroundings, before
    anything was tried.  Clocks and settings take what they always take.  None where a figure is missing.
    """
    view = facts.under(bound.member)
    counted = [term for term in bound.rule.spend if term.when is None or view.value(term.when) is not False]
    return tuple(_typical(machine, bound, facts, latents, term) for term in counted)


def _typical(
    machine: Machine, bound: Bound[Budget], facts: FactTable, latents: Latents, term: Term
) -> Fraction | None:
    view = facts.under(bound.member)
    if term.when is not None and view.value(term.when) is None:
        return None
    members: tuple[Member, ...] = machine.members.get(term.part, ()) if term.part else ()
    if bound.member is not None and bound.member.role == term.part:
        members = (bound.member,)
    if not members:
        return _number(view.value(term.time))
    times = []
    for member in members:
        rated = _number(facts.under(member).under(bound.member).value(term.time))
        if rated is None:
            return None
        times.append(rated * _share(latents, member))
    return max(times)


def _share(latents: Latents, member: Member) -> Fraction:
    """Usual over rated delay of one part."""
    part = latents.items[latents.index(delay_name(member.item.slot, member.item.part.id))]
    return Fraction(exp(part.mean + latents.items[latents.index(SURROUNDINGS)].mean))


def _number(value: Value) -> Fraction | None:
    return Fraction(value) if isinstance(value, int | Fraction) and not isinstance(value, bool) else None

"""Part facts of a machine: what the data sheets of the fitted parts say, worst part first.

A rule that names a role sees one value.  Where several parts play the role, the one that binds
decides: the longest delay, the lowest rating (``worst`` in ``rules/words/rows.toml``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from waitwright.machine.census import plays
from waitwright.machine.fitting import Fitted
from waitwright.rulebook.domain import Part, PartValue, Provenance, Role, Rulebook, Scalar
from waitwright.units import tidy

_SUFFIXES = ("_max", "_min", "_typ")


@dataclass(frozen=True, slots=True)
class Member:
    """One physical part group in a role, with its facts under the role's name.

    Attributes:
        facts: Fact name (``cpu.address_valid_max``) to value in base units.
        sources: The same names to where the value comes from.
    """

    role: str
    item: Fitted
    facts: Mapping[str, Scalar]
    sources: Mapping[str, Provenance]


def members_of(role: Role, fitted: Sequence[Fitted]) -> tuple[Member, ...]:
    """The parts that play *role*, in slot order."""
    return tuple(_member(role, item) for item in fitted if plays(item, role))


def _member(role: Role, item: Fitted) -> Member:
    facts: dict[str, Scalar] = {}
    sources: dict[str, Provenance] = {}
    values: dict[str, PartValue] = dict(item.part.values)
    if item.refresh is not None:
        values.update(item.refresh.values)
        values.update(row_time(item.refresh))
    for name, value in values.items():
        facts[f"{role.name}.{name}"] = value.value
        sources[f"{role.name}.{name}"] = value.provenance
    if item.bus:
        facts[f"{role.name}.bus"] = item.bus
    return Member(role.name, item, facts, sources)


def row_time(refresh: Part) -> dict[str, PartValue]:
    """Time for one row: interval over rows of one and the same refresh class."""
    rows, interval = refresh.values.get("refresh_rows"), refresh.values.get("refresh_interval")
    if rows is None or interval is None:
        return {}
    if not isinstance(rows.value, int | Fraction) or not isinstance(interval.value, int | Fraction):
        return {}
    return {"refresh_row_time": replace(interval, value=tidy(Fraction(interval.value) / rows.value))}


def worst_facts(
    role: Role, members: Sequence[Member], rulebook: Rulebook
) -> tuple[dict[str, Scalar], dict[str, Provenance]]:
    """The facts of *role* over all its *members*; a fact that some member lacks is left out (unknown)."""
    if not members:
        return {}, {}
    shared = set(members[0].facts)
    for member in members[1:]:
        shared &= set(member.facts)
    facts: dict[str, Scalar] = {}
    sources: dict[str, Provenance] = {}
    for name in members[0].facts:
        if name not in shared:
            continue
        binding = _binding(name, role, members, rulebook)
        if binding is not None:
            facts[name] = binding.facts[name]
            if name in binding.sources:
                sources[name] = binding.sources[name]
    return facts, sources


def _binding(name: str, role: Role, members: Sequence[Member], rulebook: Rulebook) -> Member | None:
    """The member whose value decides; None where texts or flags differ and so no value holds for all."""
    first = members[0]
    values = [member.facts[name] for member in members]
    if any(isinstance(value, bool | str) for value in values):
        return first if all(value == values[0] for value in values) else None
    numbers = [value for value in values if isinstance(value, int | Fraction)]
    smallest_binds = _smallest_binds(name.removeprefix(f"{role.name}."), role, rulebook)
    worst = min(numbers) if smallest_binds else max(numbers)
    return next(member for member in members if member.facts[name] == worst)


def _smallest_binds(fact: str, role: Role, rulebook: Rulebook) -> bool:
    row = rulebook.rows.get((role.kind, fact))
    for suffix in _SUFFIXES:
        if row is None and fact.endswith(suffix):
            row = rulebook.rows.get((role.kind, fact.removesuffix(suffix)))
    return row is not None and row.worst == "min"

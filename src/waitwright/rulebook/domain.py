"""Rules and catalogue as frozen objects: what the rest of the package sees of ``rules/``.

Numbers are exact, in base units (:mod:`waitwright.units`).  Every number carries a
:class:`Provenance`; the loader refuses one without.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from waitwright.expr import Expression
from waitwright.ids import FactName, ParameterName, PartId, RoleName, RuleId
from waitwright.units import Exact

Basis = Literal["published", "memory", "practice"]
Symptom = Literal[
    "no-start",
    "hang",
    "reboot",
    "memory-error",
    "display-artefact",
    "disk-error",
    "sound-fault",
    "port-error",
]
SYMPTOMS: tuple[Symptom, ...] = (
    "no-start",
    "hang",
    "reboot",
    "memory-error",
    "display-artefact",
    "disk-error",
    "sound-fault",
    "port-error",
)
Scalar = Exact | str | bool
"""A value of a fact: an exact number in base units, a text, or a flag."""


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a number or rule comes from, and how much that is worth."""

    source: str
    basis: Basis


# --------------------------------------------------------------------------------------- words


@dataclass(frozen=True, slots=True)
class Role:
    """How rules name the part in a place; ``each`` rules apply once for every such part."""

    name: RoleName
    kind: str
    title: str
    purpose: str = ""
    each: bool = False


@dataclass(frozen=True, slots=True)
class Parameter:
    """A timing parameter that choices may set; bounds in base units."""

    name: ParameterName
    unit: str
    title: str
    default: Expression | None = None
    least: Exact | None = None
    most: Exact | None = None
    values: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """A line that the data sheet of a kind of part may have."""

    kind: str
    name: str
    unit: str
    title: str
    worst: Literal["max", "min"] = "max"


@dataclass(frozen=True, slots=True)
class Counted:
    """A fact counted from what is fitted."""

    name: FactName
    unit: str
    title: str


@dataclass(frozen=True, slots=True)
class DerivedFact:
    """A fact computed from others."""

    name: FactName
    unit: str
    title: str
    expression: Expression
    provenance: Provenance


# ----------------------------------------------------------------------------------- catalogue


@dataclass(frozen=True, slots=True)
class PartValue:
    """One data-sheet value of one part.  ``unit`` is how the file wrote it, ``value`` is in base units."""

    value: Scalar
    unit: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Spread:
    """What a part of a family really needs of its data-sheet maximum.

    Attributes:
        ratio: Typical over maximum (0 < ratio <= 1), for delays; for abilities (clock ratings,
            retention) true ability over rating, ratio >= 1.
        sigma: Standard deviation of the logarithm of the part factor.
    """

    ratio: float
    sigma: float
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Part:
    """One grade of one family.

    Attributes:
        values: By fact suffix: ``address_valid_max``, ``data_setup`` ...
        delay: Spread of its delays; None where the family states none (treated as unknown: wide).
        ability: Spread of its abilities (clock rating, bus clock, retention).
    """

    id: PartId
    kind: str
    family: str
    grade: str
    title: str
    values: Mapping[str, PartValue]
    delay: Spread | None = None
    ability: Spread | None = None
    note: str = ""


# --------------------------------------------------------------------------------------- rules


@dataclass(frozen=True, slots=True)
class Term:
    """One named time in a budget; it counts only while ``when`` (if any) is true.

    ``part`` names the role whose part factor scales the time in the cloud; empty for times that come
    from clocks and settings.
    """

    name: str
    time: Expression
    part: str = ""
    when: Expression | None = None


@dataclass(frozen=True, slots=True)
class Budget:
    """Time available >= sum of named delays, while ``when`` is true.

    An ``advisory`` budget is shown and explained but decides nothing.
    """

    id: RuleId
    title: str
    room: str
    when: Expression | None
    each: str
    available: tuple[Term, ...]
    spend: tuple[Term, ...]
    symptoms: tuple[Symptom, ...]
    advice: str
    provenance: Provenance
    advisory: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """A quantity within a rating; ``sense`` tells on which side.

    An ``advisory`` limit is shown and explained but decides nothing (a nominal clock, an older revision).

    ``part`` names the role whose ability factor scales the rating in the cloud; empty for ratings
    that do not vary from part to part (a count of slots).
    """

    id: RuleId
    title: str
    room: str
    when: Expression | None
    each: str
    quantity: Expression
    rating: Expression
    sense: Literal["at most", "at least"]
    unit: str
    part: str
    symptoms: tuple[Symptom, ...]
    advice: str
    provenance: Provenance
    advisory: bool = False


@dataclass(frozen=True, slots=True)
class LogicRule:
    """An exact requirement between choices and parts: ``require`` must be true while ``when`` is."""

    id: RuleId
    title: str
    when: Expression | None
    each: str
    require: Expression
    symptoms: tuple[Symptom, ...]
    advice: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Trait:
    """A number by which kinds of work differ; rules name it ``work.NAME``."""

    name: str
    unit: str
    title: str


@dataclass(frozen=True, slots=True)
class Event:
    """Something a machine spends time on.

    ``rate`` is how often it happens per 1000 instructions, ``time`` how long one occurrence takes;
    both may use facts of the machine and traits of the work.
    """

    id: str
    title: str
    rate: Expression
    time: Expression
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Workload:
    """A named kind of work: a value for every trait, by trait name."""

    id: str
    title: str
    note: str
    traits: Mapping[str, PartValue]


@dataclass(frozen=True, slots=True)
class Caution:
    """A safety note and when it shows (an expression over facts, or None for always)."""

    id: str
    text: str
    when: Expression | None
    commands: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Everything under ``rules/``, checked.  All mappings are in file order by id."""

    roles: Mapping[str, Role]
    parameters: Mapping[str, Parameter]
    rows: Mapping[tuple[str, str], Row]
    counted: Mapping[str, Counted]
    facts: Mapping[str, DerivedFact]
    parts: Mapping[str, Part]
    budgets: Mapping[str, Budget]
    limits: Mapping[str, Limit]
    logic: Mapping[str, LogicRule]
    traits: Mapping[str, Trait]
    events: Mapping[str, Event]
    workloads: Mapping[str, Workload]
    cautions: Mapping[str, Caution]
    files: tuple[str, ...] = field(default=())

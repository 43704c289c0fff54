"""Rules and catalogue as frozen objects: what the rest of the package sees of ``rules/``.

Numbers are exact, in base units (:mod:`waitwright.units`).  Every number carries a
:class:`Provenance`; the loader refuses one without.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import exp, inf, log, log1p, pi
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
    """A timing parameter that choices may set; bounds in base units.

    Attributes:
        for_boards: Only the automatics of boards speak of it, no rule need do.
    """

    name: ParameterName
    unit: str
    title: str
    default: Expression | None = None
    least: Exact | None = None
    most: Exact | None = None
    values: tuple[str, ...] = ()
    for_boards: bool = False


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
    """A safety note and when it shows (an expression over facts, or None for always).

    Attributes:
        rooms: Rooms of the rulebook on which a changed option must bear; none if that does not matter.
    """

    id: str
    text: str
    when: Expression | None
    commands: tuple[str, ...]
    rooms: tuple[str, ...] = ()


# ------------------------------------------------------------------------------------ suspects

Warmth = Literal["any", "cold", "warm"]
"""When a fault shows: whenever it likes, soon after a cold start, or once everything is warm."""

ReadingKind = Literal["number", "list", "answer"]
"""One reading, one reading for each element, or yes (1) or no (0)."""


@dataclass(frozen=True, slots=True)
class Readings:
    """How the readings of a measurement spread, in floats: this is belief, not a budget.

    Attributes:
        shape: ``normal``, ``lognormal``, ``twosided`` (normal around *centre*, and as often as far on the
            other side of 1, which is what was expected), or ``chance`` for answers.
        centre: Mean, median, or probability of a yes.
        sigma: Standard deviation of the reading or of its natural logarithm; 0 for a chance.
    """

    shape: Literal["normal", "lognormal", "twosided", "chance"]
    centre: float
    sigma: float
    provenance: Provenance

    def log_density(self, reading: float) -> float:
        """Natural logarithm of the density of *reading*; of its probability where it is an answer.

        Minus infinity for what cannot be read: a lognormal reading that is not above zero.
        """
        if self.shape == "chance":
            return log(self.centre) if reading else log1p(-self.centre)
        if self.shape == "lognormal":
            if reading <= 0:
                return -inf
            return _log_normal(log(reading / self.centre) / self.sigma, self.sigma) - log(reading)
        density = _log_normal((reading - self.centre) / self.sigma, self.sigma)
        if self.shape == "normal":
            return density
        other = _log_normal((2 - reading - self.centre) / self.sigma, self.sigma)
        return max(density, other) + log1p(exp(-abs(density - other))) - log(2)


def _log_normal(z: float, sigma: float) -> float:
    return -0.5 * (z * z + log(2 * pi)) - log(sigma)


Says = Literal["sound", "unclear", "fault"]
"""What a reading speaks for: that all is well there, neither, or a fault."""


@dataclass(frozen=True, slots=True)
class Band:
    """What readings up to and including ``at_most`` mean; None closes the scale.

    Attributes:
        says: What they speak for; belief takes them so, too.
    """

    at_most: float | None
    text: str
    says: Says


@dataclass(frozen=True, slots=True)
class Bounds:
    """Readings that a meter can truly show there; others tell of the meter, not of the machine.

    Attributes:
        least: Smallest of them, in the unit of the measurement.
        most: Largest of them.
        below: What is the matter where a meter shows less, in words.
        above: What is the matter where it shows more.
    """

    least: Exact
    most: Exact
    below: str
    above: str


@dataclass(frozen=True, slots=True)
class Measurement:
    """Something to measure, look at or swap, which tells a fault from a sound machine.

    ``healthy``, ``faulty`` and ``bands`` speak of the reading in ``unit``; where ``relative_to`` is
    given, of the reading over that expected value; for lists, of each element over what is expected
    of all of them.  An answer has no unit (``flag``).

    Attributes:
        how: How to do it, safely.
        faulty: Readings while a suspect that names this measurement is at work.
        bands: In ascending order; the last one is open.
        bounds: What can be read at all, in ``unit``; None for answers, and where nobody has told.
        printed: Smallest and largest value that such a thing is made with, in ``unit``; lists only.
        missed: Chance that a fault does not show while this is measured: it comes and goes, or is not the
            part of a suspect that this tests.  Answers have it in their chances.
        places: How many such things a board usually has, of which a fault touches one.
        rooms: Rooms of the rulebook whose timing, where it caused the failures, makes the reading look
            faulty as well.
        minutes: What it costs an owner with the tools at hand.
        cautions: Ids of cautions to show beside it.
    """

    id: str
    title: str
    how: str
    unit: str
    kind: ReadingKind
    relative_to: Expression | None
    healthy: Readings
    faulty: Readings
    bands: tuple[Band, ...]
    bounds: Bounds | None
    printed: tuple[float, float] | None
    missed: float
    places: int
    rooms: tuple[str, ...]
    minutes: float
    cautions: tuple[str, ...]
    provenance: Provenance

    def judge(self, reading: float) -> Band:
        """The band that *reading* (relative, where this measurement is) falls into."""
        return next(band for band in self.bands if band.at_most is None or reading <= band.at_most)


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause of instability that no timing cures.

    Attributes:
        signs: How it colours what the machine does, in words.
        prior: Probability that a machine brought to the bench has it.
        when: While this is false the fault does no harm (a bad cache chip with the cache off).
        only_with: Role of the part without which it does not show; empty for none.
        rate: Failures per hour while it is present and shows, over facts; a plain number.
        spread: Standard deviation of the logarithm of the true rate over ``rate``.
        symptoms: Share of its failures that look so; the shares add up to 1.
        measurements: Ids of the measurements that test it.
        cautions: Ids of cautions to show beside the remedy.
    """

    id: str
    title: str
    signs: str
    prior: float
    when: Expression | None
    only_with: str
    rate: Expression
    spread: float
    warmth: Warmth
    symptoms: Mapping[Symptom, float]
    measurements: tuple[str, ...]
    remedy: str
    cautions: tuple[str, ...]
    provenance: Provenance


# ------------------------------------------------------------------------------------ markings


@dataclass(frozen=True, slots=True)
class Code:
    """What the figure behind the dash of a memory chip may mean, in picoseconds."""

    id: str
    title: str
    means: Mapping[str, tuple[int, ...]]
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Chip:
    """Digits that the part numbers of one organisation share.

    Attributes:
        families: Families of the catalogue with the figures of such chips; the general one first.
        numbers: Digits, with letters between them, in lower case.
        code: Id of the :class:`Code` by which the speed is marked.
    """

    id: str
    kind: str
    organisation: str
    families: tuple[str, ...]
    numbers: tuple[str, ...]
    code: str
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Module:
    """What usually sits on a memory module: ``size`` in bytes, possible counts of chips, refresh class."""

    id: str
    pins: int
    size: Exact
    chips: tuple[int, ...]
    refresh: PartId
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Spoken:
    """Words for parts: for whole families, or for parts whose data sheet has one of ``values`` in ``row``.

    ``grade`` is the one grade of the families that is meant; empty for all of them.
    """

    id: str
    kind: str
    words: tuple[str, ...]
    families: tuple[str, ...]
    grade: str
    row: str
    values: tuple[str, ...]
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Markings:
    """How people read parts off a board."""

    codes: Mapping[str, Code] = field(default_factory=dict)
    chips: Mapping[str, Chip] = field(default_factory=dict)
    modules: Mapping[str, Module] = field(default_factory=dict)
    spoken: tuple[Spoken, ...] = ()


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Everything under ``rules/``, checked.  All mappings are in file order by id.

    Attributes:
        read_markings: Gives the markings, which are read only where they are asked for.
    """

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
    measurements: Mapping[str, Measurement]
    suspects: Mapping[str, Suspect]
    read_markings: Callable[[], Markings] = field(default=Markings, compare=False)
    files: tuple[str, ...] = field(default=())

    @property
    def markings(self) -> Markings:
        """How people read parts off a board."""
        return self.read_markings()

"""The owner's scores: as times, how noisy they are, and whether two sets of runs differ at all.

Scores are compared by the logarithm of the time that a unit of work takes.  So programs that count
seconds and programs that count frames a second are treated alike, and noise is a share of the score.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import expm1, fsum, isfinite, log, sqrt
from typing import Literal

from waitwright.ids import ChoiceId, OptionId
from waitwright.workload.gain import Choices
from waitwright.workload.student import student_quantile

CONFIDENCE = 0.9
"""How often an interval should hold the truth."""

USUAL_NOISE = 0.01
"""How far runs of the same settings stray, as a share of the score: about 1 % (common practice)."""

USUAL_DEGREES = 3
"""How many repeats the usual noise is worth (assumption): allows for 0.6 % to 3 % in nine cases of ten."""

TIME_UNITS = frozenset(
    {"us", "ms", "s", "sec", "second", "seconds", "min", "minute", "minutes", "h", "hour", "hours"}
)
"""Units in which less is better."""

Verdict = Literal["faster", "slower", "no real difference"]
Combination = tuple[tuple[OptionId, ChoiceId], ...]
Kind = tuple[str, str]
"""Unit and workload: only scores that share both can be compared."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One score of one run.

    Attributes:
        settings: The choice of every option.
        value: Above 0, in *unit*.
        unit: Whatever the program calls it; :data:`TIME_UNITS` tell that less is better.
        workload_id: The kind of work that was measured.

    Raises:
        ValueError: if the value is not a finite number above 0.
    """

    settings: Choices
    value: float
    unit: str
    workload_id: str

    def __post_init__(self) -> None:
        if not (isfinite(self.value) and self.value > 0):
            raise ValueError(f"expected a score above 0, found {self.value}")

    @property
    def kind(self) -> Kind:
        """What it can be compared with."""
        return self.unit, self.workload_id

    @property
    def log_time(self) -> float:
        """Natural logarithm of the time of a unit of work, up to a constant of the kind."""
        return log(self.value) if less_is_better(self.unit) else -log(self.value)

    @property
    def combination(self) -> Combination:
        """The settings in an order of their own, to tell repeated runs by."""
        return combination(self.settings)


@dataclass(frozen=True, slots=True)
class Noise:
    """How far single runs of the same settings stray.

    Attributes:
        relative: Standard deviation as a share of the score.
        degrees: How many repeats that is worth, the usual noise counted in.
    """

    relative: float
    degrees: int


@dataclass(frozen=True, slots=True)
class GainEstimate:
    """Speed after over speed before, minus one, with its interval of :data:`CONFIDENCE`.

    Attributes:
        real: Whether the interval leaves no room for "no difference".
    """

    median: float
    low: float
    high: float
    real: bool

    @property
    def verdict(self) -> Verdict:
        """The claim that holds."""
        if not self.real:
            return "no real difference"
        return "faster" if self.median > 0 else "slower"


def less_is_better(unit: str) -> bool:
    """Whether scores in *unit* are times; of everything else, more is better."""
    return unit.strip().lower() in TIME_UNITS


def combination(settings: Choices) -> Combination:
    """*settings* in one order, whatever order they came in."""
    return tuple(sorted(settings.items()))


def by_kind(observations: Iterable[Observation]) -> dict[Kind, tuple[Observation, ...]]:
    """The observations that belong together, by unit and workload, kinds in alphabetical order."""
    kinds: dict[Kind, list[Observation]] = {}
    for observation in observations:
        kinds.setdefault(observation.kind, []).append(observation)
    return {kind: tuple(kinds[kind]) for kind in sorted(kinds)}


def by_settings(observations: Iterable[Observation]) -> dict[Combination, tuple[Observation, ...]]:
    """Repeated runs together.  The result is the same whatever order the observations come in."""
    groups: dict[Combination, list[Observation]] = {}
    for observation in observations:
        groups.setdefault(observation.combination, []).append(observation)
    return {key: tuple(sorted(groups[key], key=lambda run: run.value)) for key in sorted(groups)}


def mean_log_time(runs: Sequence[Observation]) -> float:
    """Mean of :attr:`Observation.log_time`, the same in any order."""
    return fsum(run.log_time for run in runs) / len(runs)


def pooled_noise(groups: Iterable[Sequence[Observation]]) -> Noise:
    """Noise from repeated runs, pooled over groups of equal conditions, the usual noise counted in.

    The usual noise counts as :data:`USUAL_DEGREES` repeats.  So two runs that agree by luck do not make
    a program noiseless, and with many repeats the owner's own noise is what is left.
    """
    squares, degrees = [USUAL_DEGREES * USUAL_NOISE**2], USUAL_DEGREES
    for runs in groups:
        mean = mean_log_time(runs)
        squares += [(run.log_time - mean) ** 2 for run in runs]
        degrees += len(runs) - 1
    return Noise(sqrt(fsum(squares) / degrees), degrees)


def compare(
    before: Sequence[Observation], after: Sequence[Observation], noise: Noise | None = None
) -> GainEstimate:
    """Whether the runs in *after* are really faster than those in *before*: a t interval.

    The runs of each side are made under equal conditions.  *noise* is that of the program where more is
    known of it (:func:`pooled_noise` over all that it ever measured); by default these runs tell it.

    Raises:
        ValueError: if a side has no run, or the runs differ in unit or workload.
    """
    if not before or not after:
        raise ValueError("a comparison needs at least one run on each side")
    kinds = {run.kind for run in (*before, *after)}
    if len(kinds) > 1:
        raise ValueError(f"scores of different kinds cannot be compared: {sorted(kinds)}")
    noise = noise or pooled_noise((before, after))
    middle = mean_log_time(before) - mean_log_time(after)
    error = noise.relative * sqrt(1 / len(before) + 1 / len(after))
    reach = student_quantile((1 + CONFIDENCE) / 2, noise.degrees) * error
    return gain_between(middle - reach, middle, middle + reach)


def gain_between(low: float, middle: float, high: float, *, unseen: float = 0.0) -> GainEstimate:
    """A gain from logarithms of the speed ratio; within *unseen* of zero there is no real difference."""
    return GainEstimate(expm1(middle), expm1(low), expm1(high), real=low > unseen or high < -unseen)

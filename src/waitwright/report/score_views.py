"""What the owner's scores tell, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from waitwright.report.margin_view import Json


@dataclass(frozen=True, slots=True)
class ClaimView:
    """A new score against earlier ones in the same unit and work.

    Attributes:
        against: Number of the trial whose settings were measured before.
        runs: How many runs of those settings, and of the new ones.
        gain: Speed over those settings minus one; with its interval.
        noise: Standard deviation of single runs, as a share of the score.
    """

    unit: str
    workload: str
    against: int
    runs: tuple[int, int]
    gain: float
    low: float
    high: float
    verdict: str
    noise: float
    sentence: str

    def to_dict(self) -> Json:
        """All of it."""
        return {**asdict(self), "runs": list(self.runs)}


@dataclass(frozen=True, slots=True)
class RateView:
    """What an event really costs over what the workload says of it; ``learned`` is 0 to 1."""

    event: str
    factor: float
    low: float
    high: float
    learned: float


@dataclass(frozen=True, slots=True)
class FitView:
    """A measured combination: the mean of its scores, and what the model makes of it."""

    settings: Mapping[str, str]
    runs: int
    measured: float
    modelled: float


@dataclass(frozen=True, slots=True)
class CalibrationView:
    """A kind of work as the owner's scores have it."""

    unit: str
    workload: str
    runs: int
    noise: float
    rates: tuple[RateView, ...]
    fits: tuple[FitView, ...]
    sentence: str

    def to_dict(self) -> Json:
        """All of it."""
        found = asdict(self)
        return {**found, "rates": list(found["rates"]), "fits": list(found["fits"])}

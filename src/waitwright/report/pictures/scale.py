"""From figures to places on the paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from figures *low* .. *high* to places *start* .. *end*; figures beyond it are cut."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """The place of *value*."""
        span = self.high - self.low
        share = (min(max(value, self.low), self.high) - self.low) / span if span else 0.0
        return self.start + share * (self.end - self.start)


def ticks(low: float, high: float, most: int) -> Sequence[float]:
    """Round figures from *low* to *high* for at most *most* marks: 1, 2 or 5 and their tenfolds apart."""
    if high <= low:
        return [low]
    rough = (high - low) / most
    ten = 10.0 ** floor(log10(rough))
    step = next(times * ten for times in (1, 2, 5, 10) if times * ten >= rough * (1 - 1e-9))
    first = ceil(low / step - 1e-9)
    last = floor(high / step + 1e-9)
    return [round(place * step, 9) for place in range(first, last + 1)]

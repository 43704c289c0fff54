"""Which rules eat the odds of a combination."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log

_TINIEST = 1e-12


@dataclass(frozen=True, slots=True)
class Toll:
    """What one rule takes from the odds.

    Attributes:
        odds: Odds that the rule holds by itself.
        share: Its part in all rules' negative logarithms of odds; the shares of all rules add up to 1.
    """

    rule: str
    odds: float
    share: float


def tolls(rule_odds: Mapping[str, float]) -> tuple[Toll, ...]:
    """The toll of every rule that takes something, the greatest first.

    The logarithms are compared as if rules failed independently; rules that share a part fail together
    more often than that, so the whole is usually safer than the product.
    """
    eaten = {rule: -log(min(max(odds, _TINIEST), 1.0)) for rule, odds in rule_odds.items()}
    whole = sum(eaten.values())
    if whole <= 0:
        return ()
    found = [Toll(rule, rule_odds[rule], loss / whole) for rule, loss in eaten.items() if loss > 0]
    return tuple(sorted(found, key=lambda toll: (-toll.share, toll.rule)))

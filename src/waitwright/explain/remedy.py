"""A remedy as data, and which of two is the gentler one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from waitwright.explain.members import TIERS, Choice, PartGroup, Tier

Changes = tuple[Choice | PartGroup, ...]
"""Choices made and parts fitted, each with what is new about it."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something that cures a combination.

    Attributes:
        tier: How hard it is to do; for two changes that of the harder one.
        changes: One or two: a choice, or a group with its new part.
        odds: Odds of the soak test with it.
        gain: Price in speed: against the combination as asked, usually below zero.
        stands: Whether every data-sheet limit is kept with it.
    """

    tier: Tier
    changes: Changes
    odds: float
    gain: float
    stands: bool

    @property
    def words(self) -> str:
        """The changes as the command line writes them, a space between two."""
        return " ".join(change.words for change in self.changes)


def gentleness(remedy: Remedy) -> tuple[int, int, float, float, str]:
    """Sorting key: one change before two, gentle before hard, then least speed lost, best odds."""
    return (len(remedy.changes), TIERS.index(remedy.tier), -remedy.gain, -remedy.odds, remedy.words)


def hardest(tiers: Iterable[Tier]) -> Tier:
    """The one that is given up last."""
    return max(tiers, key=TIERS.index)


def fastest_of_each(remedies: Iterable[Remedy]) -> list[Remedy]:
    """Of the remedies that change the same options and slots and are equally hard to do, the fastest."""
    best: dict[tuple[tuple[str, ...], Tier], Remedy] = {}
    for remedy in remedies:
        key = (tuple(map(_place, remedy.changes)), remedy.tier)
        if key not in best or gentleness(remedy) < gentleness(best[key]):
            best[key] = remedy
    return list(best.values())


def _place(change: Choice | PartGroup) -> str:
    return change.option.id if isinstance(change, Choice) else "+".join(change.slots)

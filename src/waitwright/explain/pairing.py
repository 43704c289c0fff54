"""Two changes that cure together, one of them a part at least.

There are thousands of such pairs and each is judged on a machine of its own, so that most must be ruled out
beforehand.  Two facts do that, and neither rules out a cure: a rule that only one of the two changes bears
on is as well with both as with that one; and no pair is safer than all that it does not bear on.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from waitwright.explain.members import TIERS, Choice, PartGroup, Tier
from waitwright.explain.remedy import Changes, Remedy, fastest_of_each

MOST_TRIED = 400
"""So many pairs are judged at most, gentle ones first."""


@dataclass(frozen=True, slots=True)
class Step:
    """One change of a pair.

    Attributes:
        tier: How hard it is to do.
        touches: Rules that it bears on.
        cures: Rules in trouble that are well with it alone.
    """

    change: Choice | PartGroup
    tier: Tier
    touches: frozenset[str]
    cures: frozenset[str]


Ladder = Sequence[Step]
"""All choices of one option, or all parts for one group with the smallest step first."""


class Pairing:
    """Pairs for one combination.

    Attributes:
        complete: False once pairs were left untried because they were too many.
    """

    def __init__(
        self,
        trouble: frozenset[str],
        may_reach: Callable[[Collection[str]], bool],
        cure: Callable[[Changes], Remedy | None],
    ) -> None:
        """Judge by *cure* what the rules do not rule out.

        Args:
            trouble: Rules that must be well in the end.
            may_reach: Whether the aim could be reached if some rules were no danger.
        """
        self._trouble = trouble
        self._may_reach = may_reach
        self._cure = cure
        self._left = MOST_TRIED
        self.complete = True

    def cures(self, ladders: Sequence[Ladder], *, enough: int) -> list[Remedy]:
        """Cures by two changes, gentle kinds first, until *enough* of them are found.

        With each choice the smallest step of a part that does is told, and so it is of two parts.
        """
        found: list[Remedy] = []
        couples = [pair for pair in combinations(ladders, 2) if any(_of_parts(one) for one in pair)]
        by_hardness = sorted(couples, key=_hardness)
        for place, couple in enumerate(by_hardness):
            begun = place and _hardness(couple)[0] > _hardness(by_hardness[place - 1])[0]
            if begun and (len(found) >= enough or (found and couple[1][0].tier == "cpu")):
                break
            found += fastest_of_each(self._couple(*couple))
        return found

    def _couple(self, one: Ladder, other: Ladder) -> Iterator[Remedy]:
        """Cures by a step of each of two ladders; the second is always one of parts."""
        if _of_parts(one):
            yield from self._first(sorted(product(one, other), key=lambda pair: _height(pair, one, other)))
            return
        for step in one:
            yield from self._first((step, part) for part in other)

    def _first(self, pairs: Iterator[tuple[Step, Step]] | Sequence[tuple[Step, Step]]) -> Iterator[Remedy]:
        for first, second in pairs:
            if not self._may_cure(first, second):
                continue
            if not self._left:
                self.complete = False
                return
            self._left -= 1
            remedy = self._cure((first.change, second.change))
            if remedy is not None:
                yield remedy
                return

    def _may_cure(self, first: Step, second: Step) -> bool:
        for rule in self._trouble:
            by = [step for step in (first, second) if rule in step.touches]
            if not by or (len(by) == 1 and rule not in by[0].cures):
                return False
        return self._may_reach(first.touches | second.touches)


def _of_parts(ladder: Ladder) -> bool:
    return isinstance(ladder[0].change, PartGroup)


def _hardness(couple: tuple[Ladder, Ladder]) -> tuple[int, int]:
    """How hard the harder of the two changes is, then how hard the other."""
    places = sorted((TIERS.index(ladder[0].tier) for ladder in couple), reverse=True)
    return (places[0], places[1])


def _height(pair: tuple[Step, Step], one: Ladder, other: Ladder) -> tuple[int, int]:
    """How far up its ladders a pair stands."""
    places = (one.index(pair[0]), other.index(pair[1]))
    return (sum(places), max(places))

"""Smallest conflicts and smallest corrections, for members given as numbers 0..n-1 and an oracle.

The lower its number, the more easily a member is given up.  Two facts carry this module.  A set of
conflicts is complete exactly when every smallest set that hits them all is a correction (the smallest
conflicts and the smallest corrections are each other's minimal hitting sets: R. Reiter, 'A theory of
diagnosis from first principles', Artificial Intelligence 32, 1987).  And a conflict found by halving keeps
to the members that come first (U. Junker, 'QUICKXPLAIN', AAAI 2004).

An oracle answers whether some members stand together: yes, no, or None where it could not find out.
What it cannot find out is never called a conflict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

Members = frozenset[int]
Oracle = Callable[[Members], bool | None]
"""Whether these members stand together."""

MOST_CONFLICTS = 24
"""More conflicts than this explain nothing; the search stops and says that there are more."""

MOST_CORRECTIONS = 400
"""The same for corrections that are kept in view."""


@dataclass(frozen=True, slots=True)
class Minima:
    """The smallest conflicts of some members, and the smallest corrections.

    Attributes:
        conflicts: Preferred first (:func:`preference`); no one contains another.
        corrections: Each hits every conflict; taking it away makes the rest stand.
        complete: True when these are all there are.
    """

    conflicts: tuple[Members, ...]
    corrections: tuple[Members, ...]
    complete: bool


def preference(members: Iterable[int]) -> tuple[int, ...]:
    """Sorting key: the conflict first whose hardest member is given up most easily, then the next hardest."""
    return tuple(sorted(members, reverse=True))


def ease(members: Members) -> tuple[int, tuple[int, ...]]:
    """Sorting key of corrections: few members first, then those given up most easily."""
    return (len(members), preference(members))


def smallest(members: Sequence[int], stands: Oracle) -> Members:
    """The preferred smallest conflict within *members*, which must not stand together.

    Of all smallest conflicts it is the first by :func:`preference` when *members* ascend.
    """
    if stands(frozenset()) is False:
        return frozenset()
    return frozenset(_halve(frozenset(), fresh=False, members=list(members), stands=stands))


def _halve(base: Members, *, fresh: bool, members: list[int], stands: Oracle) -> list[int]:
    """A smallest part of *members* that does not stand together with *base*."""
    if fresh and stands(base) is False:
        return []
    if len(members) == 1:
        return members
    middle = len(members) // 2
    first, second = members[:middle], members[middle:]
    late = _halve(base | frozenset(first), fresh=True, members=second, stands=stands)
    early = _halve(base | frozenset(late), fresh=bool(late), members=first, stands=stands)
    return [*early, *late]


def all_minima(
    members: Sequence[int],
    stands: Oracle,
    hints: Iterable[Members] = (),
    most: int = MOST_CONFLICTS,
) -> Minima:
    """Every smallest conflict and correction of *members* (ascending), while there are few.

    Args:
        hints: Sets that do not stand together, to begin with; they need not be smallest.
    """
    whole = frozenset(members)
    if stands(whole) is not False:
        return Minima((), (), complete=stands(whole) is True)
    found: list[Members] = [smallest(members, stands)]
    for hint in hints:
        if not any(known <= hint for known in found):
            found.append(smallest(sorted(hint), stands))
    proper: set[Members] = set()
    complete = True
    while complete and len(found) <= most:
        sets = hitting_sets(found)
        if sets is None:
            complete = False
            break
        unseen = next((one for one in sets if one not in proper), None)
        if unseen is None:
            break
        answer = stands(whole - unseen)
        if answer is False:
            found.append(smallest(sorted(whole - unseen), stands))
        elif answer is True:
            proper.add(unseen)
        else:
            complete = False
    else:
        complete = False
    ordered = sorted(found, key=preference)[:most]
    return Minima(tuple(ordered), tuple(sorted(proper, key=ease)), complete)


def hitting_sets(conflicts: Iterable[Members], most: int = MOST_CORRECTIONS) -> list[Members] | None:
    """Every smallest set that has a member of each conflict, easiest first; None when they are too many."""
    sets: list[Members] = [frozenset()]
    for conflict in conflicts:
        hit = [one for one in sets if one & conflict]
        grown = {one | {member} for one in sets if not one & conflict for member in conflict}
        # What already hits stays smallest; what has grown must not contain any of these.
        sets = [*hit, *(one for one in grown if not any(old <= one for old in hit))]
        if len(sets) > most:
            return None
    return sorted(sets, key=ease)

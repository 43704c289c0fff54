"""Smallest conflicts and corrections against all subsets, for oracles made of random conflicts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import chain, combinations

from hypothesis import given
from hypothesis import strategies as st

from waitwright.explain.minimal import (
    Members,
    Oracle,
    all_minima,
    ease,
    hitting_sets,
    preference,
    smallest,
)

COUNT = 7

families = st.lists(st.frozensets(st.integers(0, COUNT - 1), max_size=4), max_size=6)
"""Sets that must not be chosen together; they may contain each other or be empty."""


def oracle_of(family: Iterable[Members]) -> Oracle:
    """Members stand together while they contain no set of *family*."""
    sets = list(family)
    return lambda members: not any(one <= members for one in sets)


def subsets(members: Iterable[int]) -> Iterator[Members]:
    """All of them, small ones first."""
    pool = sorted(members)
    return map(frozenset, chain.from_iterable(combinations(pool, size) for size in range(len(pool) + 1)))


def least(sets: Iterable[Members], holds: Callable[[Members], bool]) -> set[Members]:
    """The smallest of *sets*, small ones first, for which *holds*."""
    found: set[Members] = set()
    for one in sets:
        if not any(known <= one for known in found) and holds(one):
            found.add(one)
    return found


@given(families)
def test_all_minima_are_those_of_brute_force(family: list[Members]) -> None:
    """Conflicts and corrections are exactly those found by trying every subset.

    Second opinion: every subset, tried one by one.
    """
    stands = oracle_of(family)
    whole = frozenset(range(COUNT))

    found = all_minima(range(COUNT), stands)

    assert found.complete
    assert set(found.conflicts) == least(subsets(whole), lambda one: not stands(one))
    if found.conflicts and frozenset() not in found.conflicts:
        assert set(found.corrections) == least(subsets(whole), lambda one: stands(whole - one) is True)
    else:
        assert found.corrections == ()


@given(families.filter(bool))
def test_preferred_conflict_is_the_first_of_all(family: list[Members]) -> None:
    """The conflict found by halving is the first of all smallest ones, by the order of preference."""
    stands = oracle_of(family)
    everything = least(subsets(range(COUNT)), lambda one: not stands(one))

    found = smallest(range(COUNT), stands)

    assert found == min(everything, key=preference)
    assert all_minima(range(COUNT), stands).conflicts == tuple(sorted(everything, key=preference))


@given(families, st.randoms(use_true_random=False), st.data())
def test_order_of_findings_does_not_matter(
    family: list[Members], random: object, data: st.DataObject
) -> None:
    """Whatever larger conflicts the search starts from, the answer is the same."""
    stands = oracle_of(family)
    hints = [
        one | data.draw(st.frozensets(st.integers(0, COUNT - 1)))
        for one in data.draw(st.permutations(family))
    ]

    assert all_minima(range(COUNT), stands, hints) == all_minima(range(COUNT), stands)


@given(families, st.frozensets(st.integers(0, COUNT - 1)), st.integers(0, 2))
def test_unknown_is_never_called_a_conflict(family: list[Members], doubtful: Members, size: int) -> None:
    """Where the oracle cannot say, only real conflicts are told, and the answer is not called complete."""
    known = oracle_of(family)

    def stands(members: Members) -> bool | None:
        return None if len(members & doubtful) == size + 1 else known(members)

    found = all_minima(range(COUNT), stands)

    assert all(known(one) is False for one in found.conflicts)
    assert all(known(frozenset(range(COUNT)) - one) for one in found.corrections)
    if found.complete:
        assert {preference(one) for one in found.conflicts} or known(frozenset(range(COUNT)))


@given(families)
def test_hitting_sets_hit_and_are_smallest(family: list[Members]) -> None:
    """Every smallest set with a member of each conflict is found, easiest first."""
    found = hitting_sets(family)

    assert found == sorted(
        least(subsets(range(COUNT)), lambda one: all(one & conflict for conflict in family)), key=ease
    )


def test_too_many_are_cut_off() -> None:
    """With more conflicts than are wanted the preferred ones are told, and that there are more."""
    pairs = [frozenset({one, one + 10}) for one in range(10)]

    found = all_minima(range(20), oracle_of(pairs), most=4)

    assert not found.complete
    assert found.conflicts[0] == frozenset({0, 10})
    assert len(found.conflicts) == 4


def test_too_many_hitting_sets_are_given_up() -> None:
    """More hitting sets than are wanted are not listed at all."""
    assert hitting_sets([frozenset({one, one + 10}) for one in range(10)], most=100) is None

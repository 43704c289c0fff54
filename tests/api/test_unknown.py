"""Searches that are cut short: an honest answer with a proven bound."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.workshop import MACHINES, NEW

from waitwright.api.opening import Question
from waitwright.api.rank import Wish, rank


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("wish", [Wish(rated=True, every=True), Wish(every=True), Wish()])
def test_a_search_cut_short_says_so_and_bounds_what_may_exist(name: str, wish: Wish) -> None:
    """With too little work the verdict is "unknown", and nothing is faster than the bound."""
    whole = rank(Question(name), wish)
    cut = rank(Question(name), replace(wish, budget=20_000 if not wish.rated else 2_000))

    assert whole.verdict == "complete"
    if cut.verdict == "unknown":
        assert cut.bound_gain is None or cut.bound_gain >= whole.results[len(cut.results)].gain - 1e-6
    listed = [result.gain for result in cut.results]
    assert listed == [result.gain for result in whole.results][: len(listed)]


def test_no_work_at_all_is_unknown_never_none() -> None:
    """A search without any work does not claim that nothing holds."""
    view = rank(Question(NEW), Wish(budget=10))

    assert view.verdict == "unknown"
    assert not view.results


def test_a_curve_cut_short_says_so() -> None:
    """A curve that the search could not finish is marked as such."""
    view = rank(Question(NEW), Wish(curve=True, budget=3_000))

    assert not view.curve_complete
    assert view.to_dict()["curve_complete"] is False


def test_legal_combinations_are_counted() -> None:
    """The space tells how many combinations the rules allow: fewer than all, more than none."""
    likely, rated = rank(Question(NEW), Wish(top=1)), rank(Question(NEW), Wish(top=1, rated=True))

    assert likely.space.legal is not None
    assert rated.space.legal is not None
    assert 0 < rated.space.legal < likely.space.legal < likely.space.raw

"""Sobol points against scipy's, and what scrambling and further dimensions must keep."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import qmc

from waitwright.belief.sobol import BITS, MOST_DIMENSIONS, sobol, spread_points

Floats = NDArray[np.float64]


def in_strata(points: Floats) -> bool:
    """True when each of as many equal intervals as there are points holds one, in every dimension."""
    count = len(points)
    strata = np.sort(np.floor(points * count).astype(int), axis=0)
    return bool((strata == np.arange(count)[:, None]).all())


@pytest.mark.parametrize("dimensions", [1, 2, 7, 40, MOST_DIMENSIONS])
@pytest.mark.parametrize("count", [1, 2, 16, 256, 2048])
def test_the_plain_points_are_those_of_scipy(count: int, dimensions: int) -> None:
    """Unscrambled points are the same set as scipy.stats.qmc.Sobol's, half a step off zero.

    Second opinion: scipy.
    """
    ours = (sobol(count, dimensions) * 2**BITS - 0.5).round().astype(np.int64)
    theirs = qmc.Sobol(dimensions, scramble=False, bits=BITS).random(count)
    theirs = (theirs * 2**BITS).round().astype(np.int64)

    assert {tuple(row) for row in ours.tolist()} == {tuple(row) for row in theirs.tolist()}


@pytest.mark.parametrize("seed", [None, 0, 1, 2**40])
def test_every_interval_is_hit_once_in_every_dimension(seed: int | None) -> None:
    """Scrambled or not, 1024 points fall one into each of 1024 equal intervals of every dimension."""
    assert in_strata(sobol(1024, MOST_DIMENSIONS, seed))


def test_scrambled_pairs_of_dimensions_stay_balanced() -> None:
    """In the plane of the first two dimensions each box of 16 by 16 holds as many scrambled points.

    Second opinion: scipy.
    """
    points = sobol(1024, 2, 5)
    boxes = np.floor(points * 16).astype(int)
    counts = np.bincount(boxes[:, 0] * 16 + boxes[:, 1], minlength=256)

    assert set(counts.tolist()) == {4}


def test_scrambled_points_are_no_worse_spread_than_the_plain_ones() -> None:
    """The centred discrepancy of scrambled points is near scipy's own and far below that of random ones.

    Second opinion: scipy.
    """
    ours = qmc.discrepancy(sobol(1024, 8, 3))
    theirs = qmc.discrepancy(qmc.Sobol(8, seed=3).random(1024))
    chance = qmc.discrepancy(np.random.default_rng(3).random((1024, 8)))

    assert ours < 1.5 * theirs
    assert ours < chance / 3


def test_points_lie_inside() -> None:
    """No point touches 0 or 1, so that every one has a normal quantile."""
    points = sobol(4096, 40, 11)

    assert points.min() > 0
    assert points.max() < 1


def test_one_seed_gives_one_set_of_points() -> None:
    """Equal seeds give equal points, different seeds different ones."""
    assert np.array_equal(sobol(256, 9, 4), sobol(256, 9, 4))
    assert not np.array_equal(sobol(256, 9, 4), sobol(256, 9, 5))
    assert not np.array_equal(sobol(256, 9, 4), sobol(256, 9))


def test_a_dimension_does_not_depend_on_how_many_others_there_are() -> None:
    """More dimensions leave the first ones as they are, so that more unknowns leave odds as they are."""
    more = spread_points(128, MOST_DIMENSIONS + 30, 6)

    for dimensions in (1, 20, MOST_DIMENSIONS, MOST_DIMENSIONS + 10):
        assert np.array_equal(spread_points(128, dimensions, 6), more[:, :dimensions])


@pytest.mark.parametrize(("count", "dimensions"), [(0, 1), (3, 1), (-4, 1), (4, 0), (4, MOST_DIMENSIONS + 1)])
def test_what_cannot_be_spread_evenly_is_refused(count: int, dimensions: int) -> None:
    """Counts that are no power of two, and dimensions without direction numbers, are refused."""
    with pytest.raises(ValueError, match=r"must be a power of two|dimensions, not"):
        sobol(count, dimensions)


def test_dimensions_past_the_table_are_stratified() -> None:
    """Any number of dimensions can be had; the further ones are stratified, repeatable and independent."""
    points = spread_points(512, MOST_DIMENSIONS + 40, 7)

    assert in_strata(points)
    assert np.array_equal(points, spread_points(512, MOST_DIMENSIONS + 40, 7))
    assert np.array_equal(points[:, :MOST_DIMENSIONS], sobol(512, MOST_DIMENSIONS, 7))
    related = np.asarray(np.corrcoef(points[:, -40:].T))[~np.eye(40, dtype=bool)]
    assert abs(related).max() < 5 / np.sqrt(512)


def test_few_dimensions_are_scrambled_sobol_points() -> None:
    """Within the table, spread points are the scrambled Sobol points."""
    assert np.array_equal(spread_points(64, 12, 3), sobol(64, 12, 3))

"""The normal quantile against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr, ndtri

from waitwright.belief.normal import normal_quantile


def test_the_quantile_is_scipys() -> None:
    """From 10^-300 to 1 - 10^-15 the quantile agrees with scipy.special.ndtri to 1e-13.

    Second opinion: scipy.
    """
    small = 10.0 ** np.arange(-300, -1, dtype=float)
    middle = np.linspace(0.001, 0.999, 20_001)
    large = 1 - 10.0 ** np.arange(-15, -1, dtype=float)
    points = np.concatenate([small, middle, large])

    np.testing.assert_allclose(normal_quantile(points), ndtri(points), rtol=1e-13, atol=1e-13)


def test_pieces_meet() -> None:
    """Where one rational function hands over to the next nothing jumps."""
    for seam in (0.075, 0.925, float(np.exp(-25)), float(1 - np.exp(-25))):
        around = seam * (1 + np.array([-1e-12, 0, 1e-12]))
        np.testing.assert_allclose(normal_quantile(around), ndtri(around), rtol=1e-13)


@given(st.floats(-8, 8))
def test_the_quantile_undoes_the_distribution(z: float) -> None:
    """The quantile of P(Z <= z) is z, as far as the probability can tell.

    Second opinion: scipy.
    """
    found = float(normal_quantile(np.array([ndtr(z)]))[0])
    lost = 2e-16 / (np.exp(-z * z / 2) / np.sqrt(2 * np.pi))

    assert found == pytest.approx(z, abs=1e-12 + lost)


def test_shape_and_symmetry() -> None:
    """The result has the argument's shape; p and 1 - p lie symmetrical, and a half gives zero."""
    points = np.array([[0.5, 0.25], [0.03125, 0.0078125]])

    assert normal_quantile(points).shape == (2, 2)
    np.testing.assert_allclose(normal_quantile(points), -normal_quantile(1 - points), rtol=1e-15)
    assert normal_quantile(points)[0, 0] == 0

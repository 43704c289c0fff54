"""What is taken where nobody says otherwise."""

from __future__ import annotations

import numpy as np

from tests.workshop import OLD, packed
from waitwright.belief.evidence import told_cloud


def test_the_usual_cloud_is_that_of_seed_nothing() -> None:
    """Without a seed the cloud is the one of seed 0, and another seed gives another."""
    machine, rules = packed(OLD)
    usual = told_cloud(machine, rules, draws=64)

    np.testing.assert_array_equal(usual.z, told_cloud(machine, rules, seed=0, draws=64).z)
    assert not np.array_equal(usual.z, told_cloud(machine, rules, seed=1, draws=64).z)

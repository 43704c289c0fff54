"""A meter may tell something where no trial does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.workshop import OLD, packed
from waitwright.belief.evidence import told_cloud
from waitwright.belief.faults import present
from waitwright.rulebook.profiles import History, PastReading
from waitwright.timing.bind import bind


def test_a_reading_without_any_trial_counts() -> None:
    """A bad reading makes its suspects likelier, also where nothing is known of how any settings fared."""
    machine, _ = packed(OLD)
    reading = PastReading("cpu-ripple", ((-8.0, -1.0),), {}, None)
    profile = replace(machine.profile, proven=None, history=History(readings=(reading,)))
    told = replace(machine, profile=profile)
    cloud = told_cloud(told, bind(told), draws=512)
    blind = replace(machine, profile=replace(profile, history=History()))
    prior = told_cloud(blind, bind(blind), draws=512, with_faults=True)

    for suspect in machine.rulebook.suspects.values():
        if "cpu-ripple" in suspect.measurements:
            before = float(prior.weights @ present(suspect, prior))
            after = float(cloud.weights @ present(suspect, cloud))
            assert after > 2 * before
    assert np.isclose(cloud.weights.sum(), 1.0)

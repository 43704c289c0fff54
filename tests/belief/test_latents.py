"""The unknowns of a machine: their distributions, names and surroundings."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from scipy import stats

from waitwright._resources import packed_names
from waitwright.belief.cloud import Cloud, cloud_at, prior_cloud
from waitwright.belief.latents import (
    SURROUNDINGS,
    UNKNOWN_ABILITY,
    UNKNOWN_DELAY,
    Latent,
    Latents,
    ability_name,
    delay_name,
    latents_of,
)
from waitwright.belief.sobol import MOST_DIMENSIONS
from waitwright.ids import SlotId

from .bench import (
    ABILITY_RATIO,
    ABILITY_SIGMA,
    DELAY_RATIO,
    DELAY_SIGMA,
    packed_machine,
    small_machine,
)

MODULE = '{ part = "module", size_mb = 1, refresh = "rows" }'


def latent(name: str, *, cpu: str = "cpu", memory: str = "", more: str = "") -> Latent:
    """The unknown *name* of a small machine."""
    latents = latents_of(small_machine(cpu=cpu, memory=memory, more=more)[0])
    return latents.items[latents.index(name)]


def around(more: str, cpu: str = "cpu") -> float:
    """The middle of the surroundings' factor on all delays, with the readings *more*."""
    return exp(latent(SURROUNDINGS, more=f"[environment]\n{more}", cpu=cpu).mean)


@pytest.mark.parametrize("name", packed_names("machines"))
def test_factors_are_log_normal(name: str) -> None:
    """Every factor of a packed machine follows scipy.stats.lognorm, as closely as so many draws can.

    Second opinion: scipy.
    """
    cloud = prior_cloud(packed_machine(name)[0])
    levels = (np.arange(cloud.draws) + 0.5) / cloud.draws

    for place, item in enumerate(cloud.latents.items):
        theirs = stats.lognorm(s=item.sigma, scale=exp(item.mean))
        ours = np.sort(cloud.factor(item.name))
        np.testing.assert_allclose(theirs.cdf(ours), levels, atol=0.5001 / cloud.draws)
        assert ours.mean() == pytest.approx(theirs.mean(), rel=3e-3)
        assert (ours == np.sort(cloud.factors[:, place])).all()


def test_a_part_has_the_spread_of_its_family() -> None:
    """Delays and abilities take ratio and sigma from the catalogue."""
    assert latent(delay_name("cpu", "cpu")) == Latent("cpu/cpu/delay", log(DELAY_RATIO), DELAY_SIGMA)
    assert latent(ability_name("cache", "ram-20")) == Latent(
        "cache/ram-20/ability", log(ABILITY_RATIO), ABILITY_SIGMA
    )


def test_a_family_without_spread_is_unknown_in_a_wide_range() -> None:
    """Where the catalogue states no spread, wide ones of our own stand in."""
    plain = '{ part = "plain", size_mb = 1 }'
    delay = latent(delay_name("memory", "plain"), memory=plain)
    ability = latent(ability_name("memory", "plain"), memory=plain)

    assert (exp(delay.mean), delay.sigma) == pytest.approx(UNKNOWN_DELAY)
    assert (exp(ability.mean), ability.sigma) == pytest.approx(UNKNOWN_ABILITY)


def test_how_long_memory_keeps_its_charge_is_told_by_its_refresh_class() -> None:
    """A module's ability has the spread of its refresh class where that is known, else its own."""
    classed = latent(ability_name("memory", "module"), memory=MODULE)
    unclassed = latent(ability_name("memory", "module"), memory='{ part = "module", size_mb = 1 }')

    assert (exp(classed.mean), classed.sigma) == pytest.approx((50, 0.8))
    assert (exp(unclassed.mean), unclassed.sigma) == pytest.approx((ABILITY_RATIO, ABILITY_SIGMA))


@pytest.mark.parametrize(
    ("supply", "case", "factor"),
    [
        (4.5, 25, 1.07),  # check value of the note: 4.5 V
        (5.5, 25, 0.93),  # and 5.5 V
        (5, 125, 1.26),  # check value of the formula (the book's own table says 1.24)
        (5, -55, 0.792),  # the book: 0.78
        (4.75, 85, 1.035 * 1.156),  # derived: 0.64 of the maximum becomes 0.766
        (5, 25, 1.0),
    ],
)
def test_supply_and_heat_move_all_delays(supply: float, case: float, factor: float) -> None:
    """Delays fall 14 % a volt and grow 0.26 % a degree (NASA Office of Logic Design, derating factors)."""
    assert around(f"supply_v = {supply}\ncase_c = {case}") == pytest.approx(factor, abs=2e-3)


def test_a_slow_part_in_the_heat_keeps_within_its_maximum() -> None:
    """At 4.75 V and 85 C logic of 0.64 of its maximum needs 0.766 of it, a slow one of 0.75 needs 0.90."""
    hot = around("supply_v = 4.75\ncase_c = 85")

    assert 0.64 * hot == pytest.approx(0.766, abs=1e-3)
    assert 0.75 * hot == pytest.approx(0.90, abs=3e-3)


def test_supply_counts_against_what_the_cpu_is_made_for() -> None:
    """3.3 V is nominal for a 3.3 V CPU: what counts is the share that the reading is off by."""
    assert around("supply_v = 3.3\ncase_c = 25", "cpu-cool") == pytest.approx(1)
    assert around("supply_v = 2.97\ncase_c = 25", "cpu-cool") == pytest.approx(1.07)


@pytest.mark.parametrize("supply", ["0.001", "20"])
def test_a_wild_reading_is_no_error(supply: str) -> None:
    """A supply far from nominal is cut to where the straight line still means something."""
    assert 0.6 < around(f"supply_v = {supply}\ncase_c = 25") < 1.4


def test_readings_narrow_the_surroundings() -> None:
    """Each stated reading takes its share of the uncertainty away; with both little is left."""
    nothing = latent(SURROUNDINGS).sigma
    supply = latent(SURROUNDINGS, more="[environment]\nsupply_v = 5").sigma
    both = latent(SURROUNDINGS, more="[environment]\nsupply_v = 5\ncase_c = 40").sigma

    assert nothing == pytest.approx(np.hypot(0.14 * 0.10, 0.0026 * 10), rel=0.03)
    assert both < supply < nothing
    assert both == pytest.approx(0.005)


def test_each_part_in_a_bank_has_a_name_of_its_own() -> None:
    """Mixed parts in one bank have separate unknowns, equal ones share theirs, and the order is fixed."""
    mixed = '[{ part = "ram-20", count = 2 }, { part = "ram-15", count = 1 }, { part = "ram-20", count = 1 }]'
    names = [item.name for item in latents_of(small_machine(cache=mixed)[0]).items]

    assert names == [
        SURROUNDINGS,
        *("cpu/cpu/delay", "cpu/cpu/ability"),
        *("cache/ram-20/delay", "cache/ram-20/ability"),
        *("cache/ram-15/delay", "cache/ram-15/ability"),
    ]


def test_parts_that_a_what_if_takes_out_are_still_unknowns() -> None:
    """The new part and the one it replaces have unknowns; what is known was learnt with the old one."""
    machine, _ = small_machine(memory=MODULE, what_if={"cache": "ram-15", "memory": "none"})
    names = {item.name for item in latents_of(machine).items}

    assert {
        delay_name("cache", "ram-15"),
        delay_name("cache", "ram-20"),
        ability_name("memory", "module"),
    } <= names


def test_an_unknown_is_found_by_name_or_not_at_all() -> None:
    """A name gives its place; another name is a KeyError."""
    latents = Latents((Latent("a", 0, 1), Latent("b", 0, 1)))

    assert [latents.index("a"), latents.index("b")] == [0, 1]
    with pytest.raises(KeyError):
        latents.index("c")


def test_the_cloud_is_repeatable() -> None:
    """The same seed gives the same cloud, another seed another one; weights are even and sum to 1."""
    machine, _ = small_machine()
    one, same, other = (
        prior_cloud(machine, seed=3),
        prior_cloud(machine, seed=3),
        prior_cloud(machine, seed=4),
    )

    assert np.array_equal(one.factors, same.factors)
    assert not np.array_equal(one.factors, other.factors)
    assert one.weights.sum() == pytest.approx(1)
    assert one.effective == pytest.approx(one.draws)


def test_the_effective_size_counts_what_weighs() -> None:
    """A cloud whose weight lies evenly on a quarter of its draws counts a quarter of them."""
    weights = np.repeat([1 / 16, 0.0], [16, 48])
    cloud: Cloud = cloud_at(Latents((Latent("a", 0, 1),)), np.zeros((64, 1)), weights)

    assert cloud.effective == pytest.approx(16)


def test_more_unknowns_than_the_table_holds_are_drawn_all_the_same() -> None:
    """A machine with very many parts has a cloud too."""
    machine, _ = small_machine()
    chip = machine.fitted[-1]
    crowd = tuple(replace(chip, slot=SlotId(f"cache-{place}")) for place in range(MOST_DIMENSIONS))
    cloud = prior_cloud(replace(machine, fitted=crowd))

    assert cloud.z.shape[1] > 2 * MOST_DIMENSIONS
    assert np.isfinite(cloud.factors).all()

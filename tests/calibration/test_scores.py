"""Scores as times, pooled noise, and comparison of two sets of runs."""

from __future__ import annotations

from collections.abc import Iterable
from math import exp, log
from random import Random

import numpy as np
import pytest
from scipy import stats

from waitwright.ids import ChoiceId, OptionId
from waitwright.workload.scores import (
    USUAL_DEGREES,
    USUAL_NOISE,
    Noise,
    Observation,
    by_kind,
    by_settings,
    compare,
    less_is_better,
    pooled_noise,
)


def runs(values: Iterable[float], unit: str = "points", choice: str = "a") -> list[Observation]:
    """Repeated runs of one combination."""
    settings = {OptionId("wait"): ChoiceId(choice), OptionId("clock"): ChoiceId("33")}
    return [Observation(settings, float(value), unit, "integer") for value in values]


# ------------------------------------------------------------------------------------------- units


@pytest.mark.parametrize("unit", ["s", "ms", "min", "seconds", " S "])
def test_of_seconds_less_is_better(unit: str) -> None:
    """Scores in units of time are better when they are smaller."""
    assert less_is_better(unit)


@pytest.mark.parametrize("unit", ["frames/s", "points", "KB/s", "MIPS", "samples", ""])
def test_of_everything_else_more_is_better(unit: str) -> None:
    """Scores in any other unit, rates a second among them, are better when they are larger."""
    assert not less_is_better(unit)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_a_score_is_a_number_above_zero(value: float) -> None:
    """A score of zero, below zero or without a value is refused."""
    with pytest.raises(ValueError, match="a score above 0"):
        runs([value])


def test_kinds_are_kept_apart() -> None:
    """Scores are sorted by unit and workload, whatever order they come in."""
    mixed = [*runs([3], "s"), *runs([4]), *runs([5], "s")]

    assert by_kind(mixed) == {
        ("points", "integer"): tuple(runs([4])),
        ("s", "integer"): tuple(runs([3, 5], "s")),
    }


def test_settings_are_equal_in_any_order_of_options() -> None:
    """Runs belong together when every option has the same choice, however the options are ordered."""
    first = runs([4])[0]
    turned = Observation(dict(reversed(list(first.settings.items()))), 5.0, "points", "integer")

    assert [len(group) for group in by_settings([first, turned, *runs([6], choice="b")]).values()] == [2, 1]


# ------------------------------------------------------------------------------------------- noise


def test_noise_is_pooled_over_repeated_runs() -> None:
    """Squares within each group and the usual noise add up, and so do their degrees of freedom."""
    values = [[20.0, 20.4, 19.9], [31.0], [25.0, 25.3]]
    squares = sum((len(group) - 1) * np.var(np.log(group), ddof=1) for group in values if len(group) > 1)

    noise = pooled_noise([runs(group) for group in values])

    assert noise.degrees == USUAL_DEGREES + 2 + 0 + 1
    assert noise.relative**2 * noise.degrees == pytest.approx(USUAL_DEGREES * USUAL_NOISE**2 + squares)


def test_without_repeats_noise_is_the_usual_one() -> None:
    """Scores that were never repeated are taken to stray by one per cent."""
    assert pooled_noise([runs([20]), runs([30])]) == Noise(USUAL_NOISE, USUAL_DEGREES)


def test_noise_has_a_floor() -> None:
    """Runs that all agree lower the noise, slowly, and never to nothing."""
    floors = [pooled_noise([runs([20] * count)]).relative for count in (2, 5, 20, 100)]

    assert floors == sorted(floors, reverse=True)
    assert USUAL_NOISE > floors[0] > 0.8 * USUAL_NOISE
    assert floors[-1] > 0.001


def test_noise_of_many_repeats_is_their_own() -> None:
    """With a hundred repeats the noise is that of the runs within a few per cent."""
    drawn = np.random.default_rng(7).normal(0.0, 0.03, 100)
    noise = pooled_noise([runs(np.exp(drawn))])

    assert noise.relative == pytest.approx(np.std(drawn, ddof=1), rel=0.03)


# -------------------------------------------------------------------------------------- comparison


def test_interval_is_that_of_student() -> None:
    """The interval of a gain is the t interval of the difference of logarithms, as scipy has it.

    Second opinion: scipy.
    """
    before, after = [20.0, 20.3, 19.8], [20.9, 21.2]
    squares = 2 * np.var(np.log(before), ddof=1) + np.var(np.log(after), ddof=1)
    degrees = USUAL_DEGREES + 3
    scale = np.sqrt((USUAL_DEGREES * USUAL_NOISE**2 + squares) / degrees * (1 / 3 + 1 / 2))
    middle = np.mean(np.log(after)) - np.mean(np.log(before))
    low, high = stats.t.interval(0.9, degrees, middle, scale)

    gain = compare(runs(before), runs(after))

    assert (gain.low, gain.median, gain.high) == pytest.approx(
        (exp(low) - 1, exp(middle) - 1, exp(high) - 1), rel=1e-9
    )


def test_many_runs_decide_as_a_t_test_does() -> None:
    """With thirty runs on each side the verdict's interval is that of scipy's t test within 3 %.

    Second opinion: scipy's t test.
    """
    draws = np.random.default_rng(3)
    before, after = np.exp(draws.normal(3.0, 0.02, 30)), np.exp(draws.normal(3.01, 0.02, 30))
    test = stats.ttest_ind(np.log(after), np.log(before)).confidence_interval(0.9)

    gain = compare(runs(before), runs(after))

    width = test.high - test.low
    assert log(1 + gain.low) == pytest.approx(test.low, abs=0.03 * width)
    assert log(1 + gain.high) == pytest.approx(test.high, abs=0.03 * width)


@pytest.mark.parametrize(
    ("unit", "before", "after", "verdict"),
    [
        ("points", [20.0, 20.1], [22.0, 22.1], "faster"),
        ("points", [22.0, 22.1], [20.0, 20.1], "slower"),
        ("s", [22.0, 22.1], [20.0, 20.1], "faster"),
        ("s", [20.0, 20.1], [22.0, 22.1], "slower"),
        ("points", [20.0, 20.1], [20.1, 20.2], "no real difference"),
        ("points", [20.0], [20.2], "no real difference"),
        ("points", [20.0], [20.0], "no real difference"),
    ],
)
def test_a_claim_is_judged(unit: str, before: list[float], after: list[float], verdict: str) -> None:
    """A claimed gain is faster, slower or no real difference, by what runs of the same settings stray."""
    assert compare(runs(before, unit), runs(after, unit)).verdict == verdict


def test_comparison_turns_round() -> None:
    """Before against after is the inverse of after against before."""
    one, other = runs([20.0, 20.2, 20.1]), runs([21.0, 21.3])
    there, back = compare(one, other), compare(other, one)

    assert (1 + there.median) * (1 + back.median) == pytest.approx(1)
    assert (1 + there.low) * (1 + back.high) == pytest.approx(1)
    assert there.real == back.real


def test_what_else_is_known_of_the_noise_decides() -> None:
    """The same two scores are no real difference by usual noise, and one by a program that hardly strays."""
    before, after = runs([20.0]), runs([20.2])

    assert not compare(before, after).real
    assert compare(before, after, Noise(0.001, 40)).verdict == "faster"


@pytest.mark.parametrize("spread", ["usual", "drawn"])
def test_intervals_hold_the_truth_nine_times_in_ten(spread: str) -> None:
    """Over 600 comparisons the true gain lies inside the interval in 85 to 95 of a hundred."""
    draws = np.random.default_rng(11)
    held = 0
    for _ in range(600):
        noise = USUAL_NOISE
        if spread == "drawn":
            noise *= np.sqrt(USUAL_DEGREES / draws.chisquare(USUAL_DEGREES))
        truth = draws.normal(0.0, 0.05)
        before = runs(np.exp(draws.normal(3.0, noise, 3)))
        after = runs(np.exp(draws.normal(3.0 + truth, noise, 2)))
        gain = compare(before, after)
        held += gain.low <= exp(truth) - 1 <= gain.high

    assert 0.85 <= held / 600 <= 0.95


def test_comparison_does_not_know_the_order() -> None:
    """Runs in another order give the very same interval."""
    before, after = runs([20.0, 20.3, 19.8, 20.7]), runs([20.9, 21.2, 21.0])
    expected = compare(before, after)
    for seed in range(5):
        chance = Random(seed)
        assert compare(chance.sample(before, 4), chance.sample(after, 3)) == expected


def test_comparison_needs_runs_of_one_kind_on_both_sides() -> None:
    """A side without runs, or another unit, cannot be compared."""
    with pytest.raises(ValueError, match="at least one run"):
        compare(runs([20]), [])
    with pytest.raises(ValueError, match="different kinds"):
        compare(runs([20]), runs([20], "s"))

"""Packed machines calibrated by scores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from math import exp
from random import Random

import numpy as np
import pytest

from tests.workshop import MACHINES, NEW, OLD, fits, named, packed, rebuilt
from waitwright.errors import NoAnswer
from waitwright.expr import parse
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.workload.calibration import (
    CORE_SPREAD,
    MISFIT,
    SPREAD,
    Calibration,
    calibrate,
    refined_tables,
)
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import event_tables, event_times
from waitwright.workload.scores import Noise, Observation

FRAMES = {"fixed": 5.9, "clk2-6": 6.3, "clk2-5": 6.6}
"""Frames a second of a timed demo on a 33 MHz 386 at ISA clocks of 7.19, 11 and 13.2 MHz: common practice."""


def score(settings: Settings, value: float, unit: str = "frames/s", work: str = "game-3d") -> Observation:
    """One run."""
    return Observation(settings, value, unit, work)


def calibrated(machine: Machine, observations: Sequence[Observation]) -> Calibration:
    """*machine* calibrated for the observations' workload."""
    return calibrate(machine, machine.rulebook.workloads[observations[0].workload_id], observations)


@cache
def game() -> Calibration:
    """The packed 386 machine, calibrated on the first and last ISA clock."""
    machine = packed(OLD)[0]
    return calibrated(
        machine, [score(named(machine, isa_clock=clock), FRAMES[clock]) for clock in ("fixed", "clk2-5")]
    )


def some_settings(machine: Machine, chance: Random) -> Settings:
    """A combination drawn at random."""
    return {option.id: chance.choice(option.choices).id for option in machine.options}


def runs_of(machine: Machine, count: int, seed: int) -> list[Observation]:
    """Scores of several combinations, some of them repeated."""
    chance = Random(seed)
    work = machine.rulebook.workloads["game-3d"]
    runs: list[Observation] = []
    for _ in range(count):
        settings = some_settings(machine, chance)
        spent = sum(float(event.total or 0) for event in event_times(machine, work, settings))
        strays = [chance.gauss(0.0, 0.03) for _ in range(chance.randint(1, 3))]
        runs += [score(settings, 1.6e9 / spent * exp(stray)) for stray in strays]
    return runs


# --------------------------------------------------------------------------------- common practice


def test_game_calibrated_on_two_clocks_meets_the_third() -> None:
    """Calibrated at 7.19 and 13.2 MHz, a game is predicted to run at 11 MHz within 3 % of what it did."""
    prediction = game().predict(named(packed(OLD)[0], isa_clock="clk2-6"))

    assert prediction.median == pytest.approx(FRAMES["clk2-6"], rel=0.03)
    assert prediction.low <= FRAMES["clk2-6"] <= prediction.high


def test_game_shows_where_its_time_goes() -> None:
    """Scores at two ISA clocks teach about single bytes to display memory, and hardly anything else."""
    learned = {rate.event.id: rate.learned for rate in game().rates()}

    assert learned.pop("display-bytes") > 0.4
    assert max(learned.values()) < 0.05


# ------------------------------------------------------------------------------------- first score


def test_first_score_sets_the_scale_alone() -> None:
    """One score is met exactly; rates, gains and tables stay as the workload has them."""
    machine = packed(OLD)[0]
    tables = event_tables(machine, machine.rulebook.workloads["game-3d"])
    pricer, faster = Pricer(machine, tables), named(machine, isa_clock="clk2-5")

    calibration = calibrated(machine, [score(named(machine), 5.9)])

    assert calibration.predict(machine.current).median == pytest.approx(5.9)
    assert [rate.median for rate in calibration.rates()] == pytest.approx([1.0] * len(tables))
    assert [rate.learned for rate in calibration.rates()] == pytest.approx([0.0] * len(tables), abs=1e-6)
    expected = gain(pricer.total(machine.current), pricer.total(faster))
    assert calibration.gain(machine.current, faster).median == pytest.approx(expected)
    for table, refined in zip(tables, refined_tables(tables, calibration), strict=True):
        assert np.abs(table.values - refined.values).max() <= 1


def test_prior_is_tighter_for_the_core() -> None:
    """Before scores tell, the core's own work is known better than all other events."""
    machine = packed(OLD)[0]
    calibration = calibrated(machine, [score(named(machine), 5.9)])
    widths = {rate.event.id: np.log(rate.high / rate.low) / 2 / 1.6449 for rate in calibration.rates()}

    assert widths.pop("core") == pytest.approx(CORE_SPREAD, rel=1e-3)
    assert list(widths.values()) == pytest.approx([SPREAD] * len(widths), rel=1e-3)


def test_repeated_runs_narrow_a_prediction() -> None:
    """Where one combination was run often, a further run of it is predicted but for its noise."""
    machine = packed(OLD)[0]
    once, often = (
        calibrated(machine, [score(named(machine), 5.9)] * count).predict(named(machine)) for count in (1, 40)
    )
    usual = exp(1.6449 * 0.01 * 2**0.5)

    assert once.high / once.median == pytest.approx(usual, rel=1e-4)
    assert once.median / once.low == pytest.approx(usual, rel=1e-4)
    assert often.high - often.low < 0.3 * (once.high - once.low)


# ------------------------------------------------------------------------------------ coherence


@pytest.mark.parametrize("name", MACHINES)
def test_scores_have_no_order(name: str) -> None:
    """Scores in another order give the very same calibration."""
    machine, runs = packed(name)[0], runs_of(packed(name)[0], 6, 5)
    first = calibrated(machine, runs)
    for seed in range(4):
        again = calibrated(machine, Random(seed).sample(runs, len(runs)))
        assert again.noise == first.noise
        assert again.rates() == first.rates()
        assert again.predict(named(machine)) == first.predict(named(machine))


@pytest.mark.parametrize("name", MACHINES)
def test_seconds_and_rates_teach_the_same(name: str) -> None:
    """Times and their inverses lead to the same rates and gains, and to predictions that are inverses."""
    machine, runs = packed(name)[0], runs_of(packed(name)[0], 5, 8)
    frames = calibrated(machine, runs)
    seconds = calibrated(machine, [score(run.settings, 1 / run.value, "s") for run in runs])  # type: ignore[arg-type]
    other = some_settings(machine, Random(1))

    assert [rate.median for rate in seconds.rates()] == pytest.approx(
        [rate.median for rate in frames.rates()], rel=1e-9
    )
    one, inverse = frames.predict(other), seconds.predict(other)
    assert (inverse.median, inverse.low, inverse.high) == pytest.approx(
        (1 / one.median, 1 / one.high, 1 / one.low)
    )
    assert one.low < one.median < one.high and inverse.low < inverse.median < inverse.high
    assert seconds.gain(machine.current, other).median == pytest.approx(
        frames.gain(machine.current, other).median
    )


@pytest.mark.parametrize("name", MACHINES)
def test_refined_tables_rank_as_the_calibration_predicts(name: str) -> None:
    """Between combinations not measured, gains by refined tables are the predicted ones."""
    machine = packed(name)[0]
    calibration = calibrated(machine, runs_of(machine, 6, 2))
    tables = event_tables(machine, calibration.workload)
    pricer = Pricer(machine, refined_tables(tables, calibration))
    chance = Random(3)
    for _ in range(10):
        before, after = some_settings(machine, chance), some_settings(machine, chance)
        expected = calibration.gain(before, after).median
        assert gain(pricer.total(before), pricer.total(after)) == pytest.approx(expected, abs=1e-5)


def test_refined_tables_are_costs_still() -> None:
    """Refined costs are whole, never negative, over the same options as before."""
    machine = packed(NEW)[0]
    chance = Random(4)
    wild = [replace(run, value=run.value * chance.choice((0.1, 1, 9))) for run in runs_of(machine, 4, 4)]
    calibration = calibrated(machine, wild)
    tables = event_tables(machine, calibration.workload)
    for table, refined in zip(tables, refined_tables(tables, calibration), strict=True):
        assert refined.values.dtype == np.int64
        assert refined.values.min() >= 0
        assert (refined.event, refined.scope) == (table.event, table.scope)


# ---------------------------------------------------------------------------------------- gains


def test_nothing_changed_is_no_gain() -> None:
    """Between equal settings the gain is exactly zero, without interval."""
    machine = packed(OLD)[0]
    estimate = game().gain(machine.current, named(machine))

    assert (estimate.low, estimate.median, estimate.high) == (0, 0, 0)
    assert estimate.verdict == "no real difference"


def test_gains_turn_round() -> None:
    """A gain one way is a loss the other way, with the same certainty."""
    machine = packed(OLD)[0]
    there = game().gain(machine.current, named(machine, isa_clock="clk2-6"))
    back = game().gain(named(machine, isa_clock="clk2-6"), machine.current)

    assert (there.verdict, back.verdict) == ("faster", "slower")
    assert (1 + there.low) * (1 + back.high) == pytest.approx(1)
    assert there.low < there.median < there.high


def test_an_option_that_changes_no_time_is_no_real_difference() -> None:
    """An option that touches no event of the work is told to make no real difference."""
    machine = packed(OLD)[0]
    estimate = game().gain(machine.current, named(machine, dma_clock="full"))

    # The measured side has shown a trace of what the events leave out.
    assert estimate.median == pytest.approx(0, abs=MISFIT / 10)
    assert estimate.high == pytest.approx(1.6449 * MISFIT * 2**0.5, rel=0.05)
    assert estimate.verdict == "no real difference"


def test_a_gain_below_the_noise_is_no_real_difference() -> None:
    """A gain that is certain by the model but smaller than what runs stray is no real difference."""
    machine = packed(OLD)[0]
    noisy = replace(game(), noise=Noise(0.15, 30))
    faster = named(machine, isa_clock="clk2-6")

    assert game().gain(machine.current, faster).real
    assert not noisy.gain(machine.current, faster).real


@pytest.mark.parametrize("name", MACHINES)
def test_predictions_hold_nine_times_in_ten(name: str) -> None:
    """Over 150 owners, 85 to 95 of a hundred new scores and true gains lie inside their intervals."""
    machine = packed(name)[0]
    work = machine.rulebook.workloads["game-3d"]
    spreads = np.array([CORE_SPREAD if event == "core" else SPREAD for event in machine.rulebook.events])
    draws, chance = np.random.default_rng(23), Random(23)
    scores_held = gains_held = 0
    for _ in range(150):
        tried = [machine.current, *(some_settings(machine, chance) for _ in range(5))]
        times = np.array(
            [
                [float(event.total or 0) for event in event_times(machine, work, settings)]
                for settings in tried
            ]
        )
        rates, scale = draws.normal(0.0, spreads), draws.normal(-20.0, 2.0)
        truth = scale + np.log(times @ np.exp(rates)) + draws.normal(0.0, MISFIT, 6)
        told = np.exp(-truth + draws.normal(0.0, 0.01, 6))
        calibration = calibrated(machine, [score(dict(tried[i]), float(told[i])) for i in range(4)])
        new = calibration.predict(tried[5])
        scores_held += new.low <= told[5] <= new.high
        estimate = calibration.gain(tried[0], tried[4])
        gains_held += estimate.low <= exp(truth[0] - truth[4]) - 1 <= estimate.high

    assert 0.85 <= scores_held / 150 <= 0.95
    assert 0.85 <= gains_held / 150 <= 0.95


# ----------------------------------------------------------------------------- reports and borders


def test_description_tells_measured_beside_modelled() -> None:
    """A description has every measured combination with its mean score, and what the events make of it."""
    machine = packed(OLD)[0]
    slow, quick = named(machine), named(machine, isa_clock="clk2-5")
    runs = [score(slow, 5.8), score(slow, 6.0), score(quick, 6.6)]

    description = calibrated(machine, runs).describe()

    assert (description.unit, description.less_is_better, description.runs) == ("frames/s", False, 3)
    assert description.workload.id == "game-3d"
    found = {fit.runs: fit for fit in description.fits}
    assert found[2].settings == slow and found[2].measured == pytest.approx((5.8 * 6.0) ** 0.5)
    assert found[1].settings == quick and found[1].measured == pytest.approx(6.6)
    assert all(fit.modelled == pytest.approx(fit.measured, rel=0.02) for fit in description.fits)


def test_other_parts_are_priced_by_the_same_rates() -> None:
    """On the same machine with a slower display card the game is predicted to be slower, with more doubt."""
    machine = packed(OLD)[0]
    slower = rebuilt(OLD, fit={"isa-2": (), "isa-6": (fits("display-isa8"),)})
    there = game().on(slower)

    assert there.rates() == game().rates()
    own, other = game().predict(named(machine)), there.predict(named(slower))
    assert other.median < own.median
    assert other.high / other.low > own.high / own.low
    assert there.describe().fits == ()


def test_only_scores_of_one_kind_calibrate() -> None:
    """No score, scores in two units and scores of another workload are refused."""
    machine = packed(OLD)[0]
    work, now = machine.rulebook.workloads["game-3d"], named(machine)
    for runs in (
        [],
        [score(now, 5.9), score(now, 3.0, "s")],
        [score(now, 5.9, work="integer")],
    ):
        with pytest.raises(ValueError, match="expected scores of 'game-3d' in one unit"):
            calibrate(machine, work, runs)


def test_scores_without_any_known_time_have_no_answer() -> None:
    """Where no event has a known time, scores cannot be explained, and one line says so."""
    book = packed(OLD)[0].rulebook
    event = replace(book.events["core"], time=parse("cpu.no_such_row"))
    machine = rebuilt(OLD, rulebook=replace(book, events={"core": event}))

    with pytest.raises(NoAnswer, match="no time is known of any event"):
        calibrated(machine, [score(named(machine), 5.9)])

"""Are the odds true?  Machines are drawn from the prior, run, and compared with what was predicted.

The simulated machines come from numpy's own normal generator, not from the cloud's points.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import Cloud, cloud_at, prior_cloud
from waitwright.belief.evidence import log_survival
from waitwright.belief.latents import Latents
from waitwright.belief.likelihood import FASTEST_PER_HOUR, UNEXPLAINED_PER_HOUR, Outcome, TrialLikelihood
from waitwright.belief.mechanisms import TimingCause
from waitwright.belief.posterior import posterior
from waitwright.belief.strikes import log_rate_of
from waitwright.belief.survival import survivals
from waitwright.ids import Settings
from waitwright.machine import Machine
from waitwright.rulebook.domain import SYMPTOMS
from waitwright.rulebook.profiles import Environment
from waitwright.timing.bind import BoundRules
from waitwright.timing.soak import DEFAULT_SOAK_HOURS

from .bench import at, packed_machine, small_machine

Floats = NDArray[np.float64]

MACHINES = ("tollgate-386dx33", "tollgate-486dx2")
"""Machines with many settings of middling odds; on others most are sure or hopeless: little to calibrate."""

RANKED = (*MACHINES, "wharf-386sx16")
"""Machines for checks that are content with few settings of middling odds."""

SIMULATED = 2048
FEW, MANY = 1024, 32768
"""Simulated machines, and draws to rank them among: so many that their own scatter does not count.

Chances depend on many unknowns at once, so that draws scatter there as a random sample does; ranks among as
few draws as there are machines would be uneven twice as much as the test of evenness allows for.
"""
CHANCE = 0.001
"""A test that a true model fails once in a thousand seeds; the seeds here are fixed."""


def simulated(latents: Latents, count: int, seed: int) -> Cloud:
    """Machines drawn from the prior."""
    z = np.random.default_rng(seed).standard_normal((count, len(latents.items)))
    return cloud_at(latents, z, np.full(count, 1 / count))


def tried(machine: Machine, random: np.random.Generator, count: int) -> list[Settings]:
    """Combinations that differ from the current one in up to three options, so that odds vary."""
    found = []
    for _ in range(count):
        settings = dict(machine.current)
        for place in random.choice(len(machine.options), size=random.integers(4), replace=False):
            option = machine.options[place]
            settings[option.id] = option.choices[random.integers(len(option.choices))].id
        found.append(settings)
    return found


class Chances:
    """Chance of surviving a soak, by draw, for any combination."""

    def __init__(self, machine: Machine, rules: BoundRules, cloud: Cloud, hours: float) -> None:
        self._machine = machine
        self._tables = survivals(machine, rules, cloud, hours=hours)

    def __call__(self, settings: Settings) -> Floats:
        """One chance for each draw."""
        logs: Floats = np.sum(log_survival(self._machine, self._tables, settings), axis=0)
        return np.exp(logs)

    def mean(self, settings: Settings) -> float:
        """The mean over all draws, which are taken as equally likely."""
        return float(self(settings).mean())


def wandering(machine: Machine, random: np.random.Generator, odds: Callable[[Settings], float]) -> Settings:
    """A combination some random steps away from the current one, none of them into the hopeless."""
    settings = dict(machine.current)
    for _ in range(random.integers(1, 12)):
        option = machine.options[random.integers(len(machine.options))]
        step = {**settings, option.id: option.choices[random.integers(len(option.choices))].id}
        if odds(step) >= 0.02:
            settings = step
    return settings


@pytest.mark.parametrize(
    ("name", "variants", "filled"), [("small", 12, 10), *((name, 24, 5) for name in MACHINES)]
)
def test_of_machines_with_odds_p_a_share_p_survives(name: str, variants: int, filled: int) -> None:
    """In each bin of predicted odds, the share of 2048 simulated machines that survive is within 0.03.

    Most combinations of the packed machines are nearly safe or nearly hopeless; other surroundings and soaks
    of other lengths fill the bins between.

    Second opinion: 2,048 machines drawn with numpy's own generator.
    """
    random = np.random.default_rng(2024)
    bins: list[list[tuple[float, float]]] = [[] for _ in range(10)]
    for variant in range(variants):
        machine, rules = small_machine() if name == "small" else packed_machine(name)
        around = Environment(Fraction(int(random.integers(46, 54)), 10), int(random.integers(20, 75)))
        machine = replace(machine, profile=replace(machine.profile, environment=around))
        prior = prior_cloud(machine, seed=variant)
        truth = simulated(prior.latents, SIMULATED, seed=variant)
        hours = float(10 ** random.uniform(-0.5, 2.5))
        predicting, running = Chances(machine, rules, prior, hours), Chances(machine, rules, truth, hours)
        for _ in range(24):
            settings = wandering(machine, random, predicting.mean)
            predicted = predicting.mean(settings)
            inside = bins[min(int(predicted * 10), 9)]
            if len(inside) < 20:
                survives = random.random(SIMULATED) < running(settings)
                inside.append((predicted, float(survives.mean())))

    full = [inside for inside in bins if len(inside) >= 4]
    assert len(full) >= filled, [len(inside) for inside in bins]
    for inside in full:
        predicted, observed = np.mean(inside, axis=0)
        assert observed == pytest.approx(predicted, abs=0.03)


@pytest.mark.parametrize("name", RANKED)
def test_simulated_machines_rank_evenly_among_the_draws(name: str) -> None:
    """The rank of each simulated unknown among the cloud's draws is uniform.

    Second opinion: machines drawn with numpy's own generator.
    """
    machine, _ = packed_machine(name)
    prior = prior_cloud(machine, seed=3)
    truth = simulated(prior.latents, SIMULATED, seed=8)

    chi, freedom = 0.0, 0
    for place in range(prior.z.shape[1]):
        chi += unevenness(ranks(prior, prior.factors[:, place], truth.factors[:, place]))
        freedom += BINS - 1
    assert CHANCE / 2 < stats.chi2.sf(chi, freedom) < 1 - CHANCE / 2


@pytest.mark.parametrize("name", RANKED)
def test_chances_of_simulated_machines_rank_evenly_among_those_of_the_draws(name: str) -> None:
    """Where odds are in doubt, each simulated machine's own chance of survival ranks evenly in the cloud.

    Second opinion: machines drawn with numpy's own generator.
    """
    machine, rules = packed_machine(name)
    prior = prior_cloud(machine, seed=3, draws=MANY)
    truth = simulated(prior.latents, FEW, seed=8)
    hours = 100.0
    predicting, running = Chances(machine, rules, prior, hours), Chances(machine, rules, truth, hours)
    random = np.random.default_rng(77)

    judged = 0
    for _ in range(200):
        settings = wandering(machine, random, predicting.mean)
        if 0.1 < predicting.mean(settings) < 0.9:
            drawn = predicting(settings)
            # Some have no chance that a number can hold: those are alike, and share one rank at random.
            apart = 1e-12 * random.random(drawn.size + truth.draws)
            ranked = ranks(prior, drawn + apart[: drawn.size], running(settings) + apart[drawn.size :])
            assert stats.chi2.sf(unevenness(ranked), BINS - 1) > CHANCE
            judged += 1
            if judged == 5:
                break
    assert judged


# --------------------------------------------------------------------------------- after a trial

BINS = 16


def ranks(cloud: Cloud, drawn: Floats, true: Floats) -> Floats:
    """Share of the cloud's weight below each true value."""
    order = np.argsort(drawn)
    below = np.concatenate([[0.0], np.cumsum(cloud.weights[order])])
    return below[np.searchsorted(drawn[order], true)]


def unevenness(ranked: Floats) -> float:
    """Chi-square of ranks against an even spread over :data:`BINS` bins."""
    counts = np.bincount(np.minimum((ranked * BINS).astype(int), BINS - 1), minlength=BINS)
    return float(stats.chisquare(counts).statistic)


@dataclass(frozen=True)
class Trial:
    """One trial of many simulated machines: which outcome each had, and the outcomes by number."""

    number: NDArray[np.intp]
    outcomes: tuple[Outcome, ...]


def run(causes: tuple[TimingCause, ...], truth: Cloud, settings: Settings, hours: float, seed: int) -> Trial:
    """Run *settings* on all machines of *truth*: stable, or failed with a symptom of what came first."""
    random = np.random.default_rng(seed)
    rates = np.exp([log_rate_of(cause, truth) for cause in causes]).clip(1e-300, FASTEST_PER_HOUR)
    rates = np.vstack([rates, np.full(truth.draws, UNEXPLAINED_PER_HOUR)])
    first = np.argmin(random.standard_exponential(rates.shape) / rates, axis=0)
    failed = random.random(truth.draws) < -np.expm1(-hours * rates.sum(axis=0))
    shows = np.array([[cause.blame(symptom) for symptom in SYMPTOMS] for cause in causes])
    shows = np.vstack([shows, np.full(len(SYMPTOMS), 1 / len(SYMPTOMS))])
    symptom = (random.random((truth.draws, 1)) > np.cumsum(shows[first], axis=1)).sum(axis=1)
    outcomes = [Outcome(settings, False, (one,), soak=hours) for one in SYMPTOMS]
    outcomes.append(Outcome(settings, True, hours=hours))
    last = len(SYMPTOMS)
    return Trial(np.where(failed, np.minimum(symptom, last - 1), last), tuple(outcomes))


def pooled_p(
    causes: tuple[TimingCause, ...], latents: Latents, trial: Trial, truth: Cloud, prior: Cloud
) -> float:
    """Chance of ranks as uneven as those of the most informed unknown, over all outcomes of a trial."""
    ranked = []
    for number, outcome in enumerate(trial.outcomes):
        met = trial.number == number
        if met.any():
            told = posterior(prior, TrialLikelihood([(outcome, causes)]), seed=number)
            learnt = np.abs(told.weights @ told.z).argmax()
            ranked.append(ranks(told, told.z[:, learnt], truth.z[met, learnt]))
    return float(stats.chi2.sf(unevenness(np.concatenate(ranked)), BINS - 1))


@pytest.mark.parametrize(("clock", "hours"), [("30", 4.0), ("32", 100.0), ("36", 4.0), ("38", 20.0)])
def test_after_a_trial_the_true_unknown_ranks_evenly(clock: str, hours: float) -> None:
    """After a random outcome, with its symptom, the most informed unknown's true value ranks uniformly.

    Second opinion: simulation-based calibration, machines drawn with numpy's own generator.
    """
    machine, rules = small_machine()
    prior = prior_cloud(machine, seed=5, draws=8192)
    truth = simulated(prior.latents, 2000, seed=9)
    causes = causes_of(machine, rules, prior.latents, at(clock))
    trial = run(causes, truth, at(clock), hours, seed=11)

    assert pooled_p(causes, prior.latents, trial, truth, prior) > CHANCE


@pytest.mark.parametrize("name", MACHINES)
def test_after_a_trial_of_a_packed_machine_the_true_unknown_ranks_evenly(name: str) -> None:
    """After a trial of a packed machine with middling odds the true unknown ranks uniformly among the draws.

    Second opinion: simulation-based calibration, machines drawn with numpy's own generator.
    """
    machine, rules = packed_machine(name)
    prior = prior_cloud(machine, seed=5, draws=8192)
    truth = simulated(prior.latents, FEW, seed=10)
    for settings in tried(machine, np.random.default_rng(31), 200):
        causes = causes_of(machine, rules, prior.latents, settings)
        trial = run(causes, truth, settings, DEFAULT_SOAK_HOURS, seed=12)
        if 0.3 < (trial.number == len(SYMPTOMS)).mean() < 0.7:
            assert pooled_p(causes, prior.latents, trial, truth, prior) > CHANCE
            return
    raise AssertionError("no combination with middling odds")

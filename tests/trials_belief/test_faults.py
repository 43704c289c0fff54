"""Suspects in belief: calibrated, coloured by what is measured, and done with after a repair."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from waitwright.api.opening import Question, put_on_bench
from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import Cloud, cloud_at, prior_cloud
from waitwright.belief.faults import faults_of, latents_with_faults, presence_name, present, strength_name
from waitwright.belief.findings import Finding, FindingLikelihood
from waitwright.belief.likelihood import (
    CAME_SINCE,
    FASTEST_PER_HOUR,
    UNEXPLAINED_PER_HOUR,
    Outcome,
    TrialLikelihood,
)
from waitwright.belief.strikes import log_rate_of
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.rulebook.domain import SYMPTOMS

BENCH = put_on_bench(Question("tollgate-386dx33"))
MACHINE, RULES = BENCH.machine, BENCH.rules
BOOK = MACHINE.rulebook
NETWORKS = BOOK.measurements["pull-up-networks"]


def cloud(*, draws: int = 4096, repairs: dict[str, int] | None = None) -> Cloud:
    """The prior with suspects."""
    return prior_cloud(MACHINE, draws=draws, latents=latents_with_faults(MACHINE, repairs))


def believed(prior: Cloud, logs: np.ndarray) -> np.ndarray:
    """Weights after evidence of some log-likelihood."""
    weights = prior.weights * np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def test_the_share_of_machines_with_a_suspect_is_its_prior() -> None:
    """Each suspect is present in the share of draws that its rule file tells."""
    prior = cloud()
    for suspect in BOOK.suspects.values():
        assert prior.weights @ present(suspect, prior) == pytest.approx(suspect.prior, abs=0.004)


def test_suspicion_is_calibrated() -> None:
    """Of simulated machines with one outcome, the share with each suspect is what belief says.

    Second opinion: simulated machines.
    """
    prior = cloud(draws=32768)
    random = np.random.default_rng(4)
    truth = cloud_at(
        prior.latents, random.standard_normal((40_000, len(prior.latents.items))), np.full(40_000, 1 / 40_000)
    )
    settings = MACHINE.current
    causes = (
        *causes_of(MACHINE, RULES, prior.latents, settings),
        *faults_of(MACHINE, prior.latents, settings),
    )
    rates = np.exp([log_rate_of(one, truth) for one in causes]).clip(1e-300, FASTEST_PER_HOUR)
    rates = np.vstack([rates, np.full(truth.draws, UNEXPLAINED_PER_HOUR)])
    whole = rates.sum(axis=0)
    failed = random.random(truth.draws) < -np.expm1(-4.0 * whole)
    pick = (random.random(truth.draws) * whole < np.cumsum(rates, axis=0)).argmax(axis=0)
    shows = np.array(
        [*([one.blame(symptom) for symptom in SYMPTOMS] for one in causes), [1 / 8] * len(SYMPTOMS)]
    )
    shown = random.random(truth.draws)[:, None] > np.cumsum(
        shows[pick] / shows[pick].sum(axis=1)[:, None], axis=1
    )
    symptom = shown.sum(axis=1).clip(max=len(SYMPTOMS) - 1)
    chi, freedom = 0.0, 0
    for number, name in enumerate(SYMPTOMS):
        met = failed & (symptom == number)
        weights = believed(prior, TrialLikelihood([(Outcome(settings, False, (name,)), causes)])(prior))
        for suspect in BOOK.suspects.values():
            expected = float(weights @ present(suspect, prior))
            if met.sum() * expected > 8:
                counted = float(present(suspect, truth)[met].sum())
                chi += (counted - met.sum() * expected) ** 2 / (met.sum() * expected * (1 - expected))
                freedom += 1
    assert freedom > 10
    assert stats.chi2.sf(chi, freedom) > 0.001


def test_a_suspect_strikes_where_it_is_present() -> None:
    """Where a suspect is present it strikes at its rate times its strength, and nowhere else."""
    prior = cloud()
    causes = faults_of(MACHINE, prior.latents, MACHINE.current)
    assert len(causes) > 5
    for cause in causes:
        there = present(BOOK.suspects[cause.suspect], prior)
        strength = prior.factor(strength_name(cause.suspect))
        rates = np.exp(log_rate_of(cause, prior))
        assert 0 < there.sum() < len(there)
        np.testing.assert_allclose(rates[there], cause.rate * strength[there], rtol=1e-9)
        assert rates[~there].max() < 1e-20


def network(healthy: float, faulty: float, *more: tuple[float, float]) -> Finding:
    """Readings of networks by the log-densities of each."""
    return Finding(NETWORKS, ((healthy, faulty), *more))


def suspicion(prior: Cloud, *findings: Finding, repairs: dict[str, int] | None = None) -> float:
    """Probability that the network is at fault."""
    weights = believed(prior, FindingLikelihood(findings, MACHINE)(prior))
    return float(weights @ present(BOOK.suspects["pull-up-network"], prior, repairs))


def test_one_faulty_network_convicts_whatever_the_others_read() -> None:
    """A sound network beside a faulty one clears nothing."""
    prior = cloud()
    assert suspicion(prior, network(-50.0, -5.0)) > 0.99
    assert suspicion(prior, network(0.0, -8.0, (-50.0, -5.0), (0.0, -8.0))) > 0.99


def test_sound_networks_clear_the_suspect_one_by_one() -> None:
    """Each sound network lowers the odds, and those not measured keep some."""
    prior = cloud()
    chances = [suspicion(prior)]
    chances += [
        suspicion(prior, network(0.0, -9.0, *[(0.0, -9.0)] * more)) for more in range(NETWORKS.places)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[1] == pytest.approx(chances[0] * 5 / 6, rel=0.02)
    assert chances[-1] < 0.001


def test_a_repair_parts_before_from_after() -> None:
    """What was measured before a repair convicts the past, and leaves the present at the prior."""
    repairs = {"pull-up-network": 1}
    prior = cloud(draws=32768, repairs=repairs)
    bad = network(-50.0, -5.0)
    suspect = BOOK.suspects["pull-up-network"]

    weights = believed(prior, FindingLikelihood([bad], MACHINE)(prior))
    assert weights @ present(suspect, prior) > 0.99
    assert weights @ present(suspect, prior, repairs) == pytest.approx(suspect.prior, abs=0.01)
    assert presence_name("pull-up-network", 1) in {latent.name for latent in prior.latents.items}


def test_exchanged_chips_that_change_nothing_speak_against_the_timing_they_would_cure() -> None:
    """A 'no' to exchanged cache chips lowers the draws in which cache timing caused the failure."""
    swap = BOOK.measurements["swap-cache-chip"]
    assert swap.rooms == ("l2",)
    settings: Settings = {**MACHINE.current, OptionId("cache-read"): ChoiceId("2-1-1-1")}
    prior = cloud()
    causes = causes_of(MACHINE, RULES, prior.latents, settings)
    room = {rule.id: rule.rule.room for rule in RULES.deciding}
    timing = tuple((one, room[one.rule] == "l2") for one in causes)
    assert any(mine for _, mine in timing)
    answers: dict[int, tuple[float, float]] = {
        0: (np.log(0.95), np.log(0.15)),
        1: (np.log(0.05), np.log(0.85)),
    }
    failed = TrialLikelihood([(Outcome(settings, False, ("hang",)), causes)])(prior)
    before = believed(prior, failed)
    slow = np.exp([log_rate_of(one, prior) for one, mine in timing if mine]).sum(axis=0)
    share = slow / (np.exp([log_rate_of(one, prior) for one in causes]).sum(axis=0) + UNEXPLAINED_PER_HOUR)
    told: dict[int, float] = {
        answer: float(
            believed(
                prior, failed + FindingLikelihood([Finding(swap, (pair,), timing=timing)], MACHINE)(prior)
            )
            @ share
        )
        for answer, pair in answers.items()
    }
    assert told[0] < before @ share < told[1]


@pytest.mark.parametrize("before", [True, False])
def test_a_fault_may_have_come_after_what_the_owner_vouches_for(before: bool) -> None:
    """Hours known before the logbook leave each fault one in a hundred of its prior; those in it do not."""
    prior = cloud(draws=32768)
    causes = faults_of(MACHINE, prior.latents, MACHINE.current)
    ran = Outcome(MACHINE.current, True, (), 1e5, before=before)
    weights = believed(prior, TrialLikelihood([(ran, causes)])(prior))
    for cause in causes:
        suspect = BOOK.suspects[cause.suspect]
        there = float(weights @ present(suspect, prior))
        if before:
            left = CAME_SINCE * suspect.prior / (CAME_SINCE * suspect.prior + 1 - suspect.prior)
            assert there == pytest.approx(left, rel=0.1)
        else:
            assert there < 1e-6


def test_a_fault_that_came_since_explains_what_fails_since() -> None:
    """After hours that the owner vouches for, a crash at the same settings speaks for what broke since."""
    prior = cloud(draws=32768)
    causes = faults_of(MACHINE, prior.latents, MACHINE.current)
    ran = Outcome(MACHINE.current, True, (), 100.0, before=True)
    failed = Outcome(MACHINE.current, False, ("hang",), 0.1)
    logs = TrialLikelihood([(ran, causes), (failed, causes)])(prior)

    def odds(*findings: Finding) -> float:
        weights = believed(prior, logs + FindingLikelihood(findings, MACHINE)(prior))
        return float(weights @ present(BOOK.suspects["pull-up-network"], prior))

    assert 0.02 < odds() < 0.3
    assert odds(network(-10.8, 0.0)) > 0.99

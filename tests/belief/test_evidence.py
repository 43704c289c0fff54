"""What is known of a machine bends its odds: in the right direction, by the right amount, in any order."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright._resources import packed_names
from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import Cloud, prior_cloud
from waitwright.belief.evidence import profile_outcome, told_cloud
from waitwright.belief.faults import present
from waitwright.belief.latents import delay_name
from waitwright.belief.likelihood import Outcome, TrialLikelihood
from waitwright.belief.outlook import Outlook, outlook
from waitwright.belief.posterior import posterior
from waitwright.machine import Machine
from waitwright.rulebook.domain import SYMPTOMS
from waitwright.rulebook.profiles import History, Proven
from waitwright.timing.bind import BoundRules

from .bench import CLOCKS, at, packed_machine, small_machine

HOPELESS = "66"


def view(clock: str = "34", *, proven: str = "", what_if: dict[str, str] | None = None) -> Outlook:
    """The outlook of a small machine that now runs at *clock*, with *proven* as a profile's text."""
    more = f"[proven]\n{proven}\n" if proven else ""
    machine, rules = small_machine(clock=clock, more=more, what_if=what_if)
    return outlook(machine, rules)


def likelihood(machine: Machine, rules: BoundRules, cloud: Cloud, *outcomes: Outcome) -> TrialLikelihood:
    """The likelihood of *outcomes* by timing alone."""
    return TrialLikelihood(
        [(one, causes_of(machine, rules, cloud.latents, one.settings)) for one in outcomes]
    )


def mean_z(cloud: Cloud, name: str) -> float:
    """The weighted mean of one unknown, in sigmas."""
    return float(cloud.weights @ cloud.z[:, cloud.latents.index(name)])


# ------------------------------------------------------------------------------------ direction


def test_hours_without_failure_raise_the_odds_of_what_ran_and_of_its_neighbours() -> None:
    """Proven hours raise the odds of the proven settings most surely, and of slower and faster ones too."""
    prior, told = view(), view(proven="hours = 100")

    assert prior.odds(at("34")) < 0.4
    assert told.odds(at("34")) > 0.9
    for clock in ("30", "32", "33", "36"):
        assert told.odds(at(clock)) > prior.odds(at(clock)) + 0.02
    assert told.odds(at("36")) < told.odds(at("34")) < told.odds(at("33"))


def test_more_hours_prove_more() -> None:
    """The longer the settings ran, the better their odds."""
    odds = [view(proven=f"hours = {hours}").odds(at("34")) for hours in (1, 10, 100, 1000)]

    assert odds == sorted(odds)
    assert odds[0] > view().odds(at("34"))


def test_a_crash_lowers_the_odds() -> None:
    """Settings that crashed have worse odds, and so have slower ones."""
    prior, told = view("32"), view("32", proven='symptoms = ["hang"]')

    for clock in ("28", "30", "32"):
        assert told.odds(at(clock)) < prior.odds(at(clock)) - 0.02


@pytest.mark.parametrize(
    ("symptom", "blamed", "spared"), [("memory-error", "access", "output"), ("no-start", "output", "access")]
)
def test_a_symptom_weighs_on_the_rules_that_show_it(symptom: str, blamed: str, spared: str) -> None:
    """A crash lowers the odds of rules with its symptom; those that would have shown another gain."""
    prior = view("33").rule_odds(at("33"))
    told = view("33", proven=f'symptoms = ["{symptom}"]').rule_odds(at("33"))

    assert told[blamed] < prior[blamed] - 0.2
    assert told[spared] > prior[spared]


def test_what_cannot_be_teaches_nothing() -> None:
    """Hours at settings that run in no draw leave the cloud as it is: report or rule must be wrong."""
    prior = view(HOPELESS)
    told = view(HOPELESS, proven="hours = 100")

    assert prior.odds(at(HOPELESS)) < 1e-9
    np.testing.assert_allclose(told.cloud.weights, prior.cloud.weights, rtol=1e-9)
    assert np.array_equal(told.cloud.z, prior.cloud.z)


def test_an_expected_crash_teaches_little() -> None:
    """A crash at settings that could not run anyway leaves the odds where they were."""
    prior, told = view(HOPELESS), view(HOPELESS, proven='symptoms = ["hang"]')

    for clock in ("30", "33", "36"):
        assert told.odds(at(clock)) == pytest.approx(prior.odds(at(clock)), abs=0.03)


@pytest.mark.parametrize("name", packed_names("machines"))
def test_a_crash_of_settings_with_wide_margins_is_hardly_blamed_on_timing(name: str) -> None:
    """Before any trial, where timing seemed sound, a crash is put down to what else may be wrong."""
    machine, rules = packed_machine(name)
    untried = replace(machine.profile, history=History())
    machine = replace(machine, profile=untried)
    crashed = replace(machine, profile=replace(untried, proven=Proven(None, ("reboot",))))
    prior, told = outlook(machine, rules), outlook(crashed, rules)
    suspects = machine.rulebook.suspects.values()
    blamed = [told.cloud.weights @ present(suspect, told.cloud) / suspect.prior for suspect in suspects]

    assert prior.odds(machine.current) > 0.95
    assert told.odds(machine.current) > 0.8
    assert max(blamed) > 2


def test_a_profile_that_tells_nothing_changes_nothing() -> None:
    """Without a word on its settings the cloud is the prior's."""
    machine, rules = small_machine()
    prior, told = prior_cloud(machine, seed=4), told_cloud(machine, rules, seed=4)

    assert profile_outcome(machine) is None
    assert np.array_equal(told.z, prior.z)
    assert np.array_equal(told.weights, prior.weights)


@pytest.mark.parametrize(("proven", "stable"), [("hours = 12.5", True), ('symptoms = ["hang"]', False)])
def test_the_profile_is_read_as_a_trial(proven: str, stable: bool) -> None:
    """What the profile says of its settings is one trial of them."""
    machine, _ = small_machine(clock="30", more=f"[proven]\n{proven}")
    outcome = profile_outcome(machine)

    assert outcome is not None
    assert (outcome.settings, outcome.stable) == (at("30"), stable)
    assert (outcome.hours, outcome.symptoms) == ((12.5, ()) if stable else (None, ("hang",)))


def test_a_new_part_owes_nothing_to_the_hours_of_the_old_one() -> None:
    """With a part exchanged by a what-if, evidence speaks of the old part and of all that stays."""
    told = view(proven="hours = 1000").cloud
    changed = view(proven="hours = 1000", what_if={"cache": "ram-15"})
    old, new, kept = (
        delay_name(*names) for names in (("cache", "ram-20"), ("cache", "ram-15"), ("cpu", "cpu"))
    )

    assert mean_z(told, old) < -0.5
    assert mean_z(told, kept) < -0.5
    assert mean_z(changed.cloud, old) == pytest.approx(mean_z(told, old), abs=0.1)
    assert mean_z(changed.cloud, kept) == pytest.approx(mean_z(told, kept), abs=0.1)
    assert mean_z(changed.cloud, new) == pytest.approx(0, abs=0.1)
    assert changed.machine.members["l2.data"][0].item.part.id == "ram-15"


@pytest.mark.parametrize("clock", ["30", "38"])
def test_what_is_known_of_the_parts_that_stay_is_taken_over(clock: str) -> None:
    """A what-if keeps every draw of what was learnt; a new part's draws owe nothing to these.

    At 38 the evidence is so strong that draws are moved, at 30 they only get weights.
    """
    more = "[proven]\nhours = 200"
    told = told_cloud(*small_machine(clock=clock, more=more))
    machine, rules = small_machine(clock=clock, more=more, what_if={"cache": "ram-15"})
    changed = told_cloud(machine, rules)
    new = changed.z[:, changed.latents.index(delay_name("cache", "ram-15"))]

    assert (told.effective > told.draws - 1) == (clock == "38")
    assert np.array_equal(changed.z[:, : told.z.shape[1]], told.z)
    assert np.array_equal(changed.weights, told.weights)
    assert changed.weights @ new == pytest.approx(0, abs=0.05)
    assert changed.weights @ new**2 == pytest.approx(1, abs=0.1)
    for latent in told.latents.items:
        old = told.z[:, told.latents.index(latent.name)]
        assert told.weights @ (new * (old - told.weights @ old)) == pytest.approx(0, abs=0.1)
    assert np.array_equal(told_cloud(machine, rules, learnt=told).z, changed.z)


@pytest.mark.parametrize("clock", ["30", "34", "38"])
def test_odds_with_a_new_part_are_those_of_evidence_on_all_unknowns(clock: str) -> None:
    """Taking over what was learnt gives the odds that come of leading old and new unknowns together.

    Second opinion: the posterior of all unknowns at once.
    """
    more = "[proven]\nhours = 200"
    found, bound = small_machine(clock=clock, more=more)
    machine, rules = small_machine(clock=clock, more=more, what_if={"cache": "ram-15"})
    whole = prior_cloud(machine, seed=3)
    outcome = Outcome(at(clock), True, hours=200.0)
    cases = TrialLikelihood([(outcome, causes_of(found, bound, whole.latents, outcome.settings))])
    together = outlook(machine, rules, cloud=posterior(whole, cases, seed=3))
    ours = outlook(machine, rules)

    for other in ("32", "34", "36", "38"):
        assert ours.odds(at(other)) == pytest.approx(together.odds(at(other)), abs=0.04)


# --------------------------------------------------------------------------------- order, amount

OUTCOMES = st.builds(
    Outcome,
    settings=st.sampled_from(CLOCKS).map(at),
    stable=st.booleans(),
    symptoms=st.lists(st.sampled_from(SYMPTOMS), max_size=2, unique=True).map(tuple),
    hours=st.none() | st.floats(0.1, 100),
)


@given(st.lists(OUTCOMES, min_size=2, max_size=5), st.randoms(use_true_random=False))
def test_the_order_of_evidence_does_not_matter(outcomes: list[Outcome], random: Random) -> None:
    """Trials in another order have the same likelihood in every draw."""
    machine, rules = small_machine()
    cloud = prior_cloud(machine, draws=32)
    shuffled = list(outcomes)
    random.shuffle(shuffled)

    np.testing.assert_allclose(
        likelihood(machine, rules, cloud, *outcomes)(cloud),
        likelihood(machine, rules, cloud, *shuffled)(cloud),
        rtol=1e-9,
        atol=1e-9,
    )


def test_evidence_adds_up() -> None:
    """A hundred hours in one piece or in four tell the same."""
    machine, rules = small_machine()
    cloud = prior_cloud(machine, draws=256)
    whole = likelihood(machine, rules, cloud, Outcome(at("33"), True, hours=100.0))(cloud)
    pieces = likelihood(machine, rules, cloud, *[Outcome(at("33"), True, hours=25.0)] * 4)(cloud)

    np.testing.assert_allclose(whole, pieces, rtol=1e-9)


def test_stable_hours_weigh_as_the_odds_of_surviving_them() -> None:
    """The likelihood of stable hours is in proportion to the odds of surviving a soak that long."""
    machine, rules = small_machine()
    soak = outlook(machine, rules, hours=10.0, only=at("33"))
    odds = np.prod([table.draws[int(table.rows[()])] for table in soak.tables], axis=0)
    logs = likelihood(machine, rules, soak.cloud, Outcome(at("33"), True, hours=10.0))(soak.cloud)

    np.testing.assert_allclose(np.exp(logs - logs.max()), odds / odds.max(), atol=1e-5)


@pytest.mark.parametrize(
    "outcomes",
    [
        (Outcome(at("36"), True, hours=200.0),),
        (Outcome(at("36"), True, hours=20.0), Outcome(at("34"), True, hours=100.0)),
        (Outcome(at("30"), False, ("memory-error",)),),
        (Outcome(at("33"), True, hours=500.0), Outcome(at("34"), False, ("no-start",))),
    ],
)
def test_strong_evidence_leaves_enough_draws_in_the_right_places(outcomes: tuple[Outcome, ...]) -> None:
    """Where few draws survive the evidence, new ones stand where a hundred times as many would."""
    machine, rules = small_machine()
    prior = prior_cloud(machine, seed=1)
    crowd = prior_cloud(machine, seed=2, draws=2**18)
    ours = posterior(prior, likelihood(machine, rules, prior, *outcomes), seed=1)
    logs = likelihood(machine, rules, crowd, *outcomes)(crowd)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()

    assert ours.effective >= prior.draws / 2
    assert ours.weights.sum() == pytest.approx(1)
    assert 1 / (weights**2).sum() > 500
    error = 4 * np.hypot(1 / np.sqrt(ours.effective), np.sqrt((weights**2).sum()))
    for power in (1, 2):
        np.testing.assert_allclose(ours.weights @ ours.z**power, weights @ crowd.z**power, atol=power * error)


def test_belief_is_repeatable() -> None:
    """The same seed gives the same draws after strong evidence, another seed others."""
    machine, rules = small_machine(clock="38", more="[proven]\nhours = 200")
    one, same, other = (told_cloud(machine, rules, seed=seed) for seed in (5, 5, 6))

    assert np.array_equal(one.z, same.z)
    assert np.array_equal(one.weights, same.weights)
    assert not np.array_equal(one.z, other.z)

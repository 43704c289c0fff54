"""Where a machine stands after all its trials: belief, odds, suspects.

What the profile says of its own settings is the first trial; the logbook has the others; readings of
measurements speak on faults alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import DEFAULT_DRAWS, Cloud, prior_cloud
from waitwright.belief.faults import (
    Finding,
    faults_of,
    finding_likelihood,
    latents_with_faults,
    log_survival_of_faults,
    present,
)
from waitwright.belief.likelihood import (
    FASTEST_PER_HOUR,
    UNEXPLAINED_PER_HOUR,
    Cause,
    Outcome,
    TrialLikelihood,
)
from waitwright.belief.outlook import Outlook
from waitwright.belief.posterior import posterior
from waitwright.belief.survival import survivals
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.timing.bind import BoundRules
from waitwright.trials.logbook import Logbook, misfits
from waitwright.trials.planner import Tried

Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]


@dataclass(frozen=True, slots=True)
class Standing:
    """Belief after all evidence.

    Attributes:
        outlook: Timing odds; its cloud holds the faults' unknowns as well.
        outcomes: What was tried, profile and logbook, oldest first.
    """

    machine: Machine
    rules: BoundRules
    outlook: Outlook
    outcomes: tuple[Outcome, ...]

    @property
    def tried(self) -> tuple[Tried, ...]:
        """The combinations tried, and whether they passed."""
        return tuple(Tried(outcome.settings, outcome.stable) for outcome in self.outcomes)

    @property
    def cloud(self) -> Cloud:
        """The draws after all evidence."""
        return self.outlook.cloud

    def fault_survival(self, settings: Choices) -> Floats:
        """Survival of what no setting cures through one soak test under *settings*, by draw."""
        causes = faults_of(self.machine, self.cloud.latents, settings)
        return np.exp(log_survival_of_faults(causes, self.cloud, self.outlook.hours))

    def suspicion(self) -> dict[str, float]:
        """Probability that each suspect is present, by id."""
        weights = self.cloud.weights
        return {
            suspect.id: float(weights @ present(suspect, self.cloud))
            for suspect in self.machine.rulebook.suspects.values()
        }

    def blame(self, outcome: Outcome) -> tuple[tuple[str, float], ...]:
        """What most likely caused a failed *outcome*: ids of rules and suspects with their shares."""
        timing = causes_of(self.machine, self.rules, self.cloud.latents, outcome.settings)
        faults = faults_of(self.machine, self.cloud.latents, outcome.settings)
        rates = {cause.rule: _rate(cause, outcome, self.cloud) for cause in timing}
        rates |= {cause.suspect: _rate(cause, outcome, self.cloud) for cause in faults}
        whole = np.sum(list(rates.values()), axis=0) + UNEXPLAINED_PER_HOUR
        shares = {name: float(self.cloud.weights @ (rate / whole)) for name, rate in rates.items()}
        return tuple(sorted(shares.items(), key=lambda pair: (-pair[1], pair[0])))

    def any_fault(self) -> float:
        """Probability that at least one suspect is present."""
        found = np.zeros(self.cloud.draws, dtype=bool)
        for suspect in self.machine.rulebook.suspects.values():
            found |= present(suspect, self.cloud)
        return float(self.cloud.weights @ found)


def standing(
    machine: Machine,
    rules: BoundRules,
    logbook: Logbook,
    findings: Sequence[Finding] = (),
    *,
    hours: float,
    seed: int = 0,
    draws: int = DEFAULT_DRAWS,
) -> Standing:
    """Belief about *machine* after its profile, its *logbook* and what measurements showed.

    Trials whose settings no longer fit the machine's options are left out of the belief.
    """
    prior = prior_cloud(machine, seed=seed, draws=draws, latents=latents_with_faults(machine))
    outcomes = outcomes_of(machine, logbook, hours)
    trials = TrialLikelihood(
        [
            (
                outcome,
                (
                    *causes_of(machine, rules, prior.latents, outcome.settings),
                    *faults_of(machine, prior.latents, outcome.settings),
                ),
            )
            for outcome in outcomes
        ]
    )
    cloud = posterior(
        prior, lambda draw: trials(draw) + finding_likelihood(findings, machine, draw), seed=seed
    )
    tables = survivals(machine, rules, cloud, hours=hours)
    return Standing(machine, rules, Outlook(machine, cloud, hours, tables), outcomes)


def outcomes_of(machine: Machine, logbook: Logbook, soak: float) -> tuple[Outcome, ...]:
    """Everything that is known of how combinations fared."""
    found = []
    proven = machine.profile.proven
    if proven is not None:
        hours = None if proven.hours is None else float(proven.hours)
        found.append(
            Outcome(
                machine.profile.current,
                stable=not proven.symptoms,
                symptoms=proven.symptoms,
                hours=hours if not proven.symptoms else None,
                soak=soak,
            )
        )
    for trial in logbook.standing:
        if not misfits(trial.settings, machine.options):
            hours = None if trial.hours is None else float(trial.hours)
            found.append(Outcome(trial.settings, trial.outcome == "stable", trial.symptoms, hours, soak=soak))
    return tuple(found)


def _rate(cause: Cause, outcome: Outcome, cloud: Cloud) -> Floats:
    """Failures per hour of one cause that look like *outcome*, by draw."""
    blame = prod(cause.blame(symptom) for symptom in outcome.symptoms)
    rate: Floats = np.minimum(np.exp(cause.log_rate(cloud)), FASTEST_PER_HOUR) * blame
    return rate

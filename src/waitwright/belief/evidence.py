"""What the profile says of its own settings bends the cloud: draws in which that is likely weigh more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import Cloud, prior_cloud
from waitwright.belief.faults import faults_of, latents_with_faults
from waitwright.belief.likelihood import Cause, Outcome, TrialLikelihood
from waitwright.belief.posterior import posterior
from waitwright.belief.survival import RuleSurvival
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.machine.build import as_found
from waitwright.timing.bind import BoundRules, bind

Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]


def log_survival(machine: Machine, tables: Sequence[RuleSurvival], settings: Choices) -> list[Floats]:
    """Natural logarithm of each rule's survival under *settings*, by draw (tiny values instead of zero)."""
    found = []
    for table in tables:
        index = tuple(_place(machine, option, settings[option]) for option in table.scope)
        row = int(table.rows[index])
        if row:
            found.append(np.log(np.maximum(table.draws[row].astype(np.float64), 1e-12)))
        else:
            found.append(np.zeros(table.draws.shape[1]))
    return found


def profile_outcome(machine: Machine) -> Outcome | None:
    """What the profile says of its own settings, as a trial: they ran so long, or crashed."""
    proven = machine.profile.proven
    if proven is None:
        return None
    hours = None if proven.hours is None else float(proven.hours)
    return Outcome(machine.profile.current, not proven.symptoms, proven.symptoms, hours)


def told_cloud(machine: Machine, rules: BoundRules, *, seed: int = 0) -> Cloud:
    """The cloud after what the profile says of its own settings, with the parts that it lists.

    A failure may be the fault of a suspect as well, so that its draws hold the suspects' unknowns too;
    hours without failure say nothing on timing that a suspect could change.
    """
    outcome = profile_outcome(machine)
    if outcome is None:
        return prior_cloud(machine, seed=seed)
    found = as_found(machine)
    prior = prior_cloud(machine, seed=seed, latents=None if outcome.stable else latents_with_faults(machine))
    causes: list[Cause] = [
        *causes_of(found, rules if found is machine else bind(found), prior.latents, outcome.settings)
    ]
    if not outcome.stable:
        causes += faults_of(found, prior.latents, outcome.settings)
    return posterior(prior, TrialLikelihood([(outcome, causes)]), seed=seed)


def _place(machine: Machine, option_id: OptionId, choice_id: ChoiceId) -> int:
    choices = machine.option(option_id).choices
    return next(place for place, choice in enumerate(choices) if choice.id == choice_id)

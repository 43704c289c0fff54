"""What is known of a machine bends the cloud: draws in which the known outcome is likely weigh more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud, cloud_at
from waitwright.belief.survival import RuleSurvival, survivals
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.machine.build import as_found
from waitwright.rulebook.domain import Symptom
from waitwright.timing.bind import BoundRules, bind, pinned

Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]

UNKNOWN_FAULT = 0.02
"""Chance that a failure has a cause which no rule knows; keeps one odd report from ruling out everything."""

_CRASHED_WITHIN_HOURS = 4.0
"""Reports of failure without a time are read as failures within a soak of this length."""


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


def outcome_likelihood(
    machine: Machine,
    tables: Sequence[RuleSurvival],
    settings: Choices,
    *,
    stable: bool,
    symptoms: Sequence[Symptom] = (),
) -> Floats:
    """Chance of the outcome by draw.

    A stable outcome means that every rule survived.  A failure means that one did not; with a symptom,
    the rules that show it must be the ones: each rule's share in the failure is its share of the
    accumulated failure rate.
    """
    logs = log_survival(machine, tables, settings)
    whole = np.sum(logs, axis=0) if logs else np.zeros(1)
    if stable:
        return np.exp(whole)
    fails = -np.expm1(whole)
    if not symptoms:
        return (1 - UNKNOWN_FAULT) * fails + UNKNOWN_FAULT
    shown = [log for log, table in zip(logs, tables, strict=True) if _shows(table, symptoms)]
    share = np.sum(shown, axis=0) / np.minimum(whole, -1e-12) if shown else np.zeros_like(whole)
    return (1 - UNKNOWN_FAULT) * fails * share + UNKNOWN_FAULT


def with_profile_evidence(machine: Machine, rules: BoundRules, cloud: Cloud) -> Cloud:
    """The cloud after what the profile says of its own settings and parts: they ran so long, or crashed."""
    proven = machine.profile.proven
    if proven is None:
        return cloud
    hours = _CRASHED_WITHIN_HOURS if proven.hours is None else float(proven.hours)
    found = as_found(machine)
    rules = rules if found is machine else bind(found)
    settings = machine.profile.current
    tables = survivals(replace(found, current=settings), pinned(rules), cloud, hours=hours)
    likelihood = outcome_likelihood(
        found, tables, settings, stable=not proven.symptoms, symptoms=proven.symptoms
    )
    return reweighted(cloud, likelihood)


def reweighted(cloud: Cloud, likelihood: Floats) -> Cloud:
    """The cloud with each draw's weight times *likelihood*, normalised; unchanged if all would vanish."""
    weights = cloud.weights * likelihood
    total = float(weights.sum())
    if not total > 0:
        return cloud
    return cloud_at(cloud.latents, cloud.z, weights / total)


def _shows(table: RuleSurvival, symptoms: Sequence[Symptom]) -> bool:
    return any(symptom in symptoms for symptom in table.bound.rule.symptoms)


def _place(machine: Machine, option_id: OptionId, choice_id: ChoiceId) -> int:
    choices = machine.option(option_id).choices
    return next(place for place, choice in enumerate(choices) if choice.id == choice_id)

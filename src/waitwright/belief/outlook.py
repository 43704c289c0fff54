"""The outlook of a machine: odds of passing the soak test, for whole combinations and rule by rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from waitwright.belief.cloud import Cloud
from waitwright.belief.evidence import log_survival, told_cloud
from waitwright.belief.survival import RuleSurvival, survivals
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.timing.bind import BoundRules, pinned
from waitwright.timing.soak import DEFAULT_SOAK_HOURS

Choices = Mapping[OptionId, ChoiceId]


@dataclass(frozen=True, slots=True)
class Outlook:
    """Belief about the timing of a machine, tabulated for one length of soak test.

    What no setting cures has no part in these odds; see :mod:`waitwright.belief.faults`.

    Attributes:
        hours: Length of the soak test.
        tables: Survival of every rule that decides.
    """

    machine: Machine
    cloud: Cloud
    hours: float
    tables: tuple[RuleSurvival, ...]

    def odds(self, settings: Choices) -> float:
        """Predicted probability that every rule survives the soak test under *settings*."""
        logs = log_survival(self.machine, self.tables, settings)
        return float(self.cloud.weights @ np.exp(np.sum(logs, axis=0))) if logs else 1.0

    def rule_odds(self, settings: Choices) -> dict[str, float]:
        """The same for each rule alone, by rule id."""
        logs = log_survival(self.machine, self.tables, settings)
        return {
            table.bound.id: float(self.cloud.weights @ np.exp(log))
            for table, log in zip(self.tables, logs, strict=True)
        }


def outlook(
    machine: Machine,
    rules: BoundRules,
    *,
    seed: int = 0,
    hours: float = DEFAULT_SOAK_HOURS,
    only: Choices | None = None,
    cloud: Cloud | None = None,
) -> Outlook:
    """The outlook after what profile and logbook tell of the machine.

    Args:
        only: The one combination that will be asked about; nothing else is tabulated, which saves most
            of the time.
        cloud: What the telling comes to, where that is known already.
    """
    if cloud is None:
        cloud = told_cloud(machine, rules, seed=seed)
    if only is not None:
        machine, rules = replace(machine, current=only), pinned(rules)
    return Outlook(machine, cloud, hours, survivals(machine, rules, cloud, hours=hours))

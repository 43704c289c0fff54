"""Where a machine stands after all its trials: belief, odds, suspects.

What the profile says of its own settings is the first trial; the logbook has the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.causes import causes_of
from waitwright.belief.cloud import DEFAULT_DRAWS, Cloud
from waitwright.belief.evidence import outcomes, told_cloud
from waitwright.belief.faults import FaultCause, faults_of, present
from waitwright.belief.likelihood import FASTEST_PER_HOUR, UNEXPLAINED_PER_HOUR, Outcome
from waitwright.belief.outlook import Outlook
from waitwright.belief.strikes import Cause, Strikes, log_rate_of
from waitwright.ids import ChoiceId, OptionId
from waitwright.machine import Machine
from waitwright.timing.bind import BoundRules
from waitwright.trials.ground import Ground
from waitwright.trials.history import with_history
from waitwright.trials.logbook import Logbook
from waitwright.trials.planner import Tried

Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]


@dataclass(frozen=True, slots=True)
class Standing:
    """Belief after all evidence.

    Attributes:
        machine: The machine with what the logbook knows of it.
        outlook: Timing odds; its cloud holds the faults' unknowns as well.
        outcomes: What was tried, profile and logbook, oldest first.
        repairs: How often each suspect has been mended so far.
    """

    ground: Ground
    machine: Machine
    rules: BoundRules
    outlook: Outlook
    outcomes: tuple[Outcome, ...]
    repairs: Mapping[str, int]

    @property
    def tried(self) -> tuple[Tried, ...]:
        """The combinations tried, and whether they passed.

        What failed before the last repair is open again, and so is what was tried with other parts.
        """
        return tuple(
            Tried(outcome.settings, outcome.stable, outcome.soak if outcome.hours is None else outcome.hours)
            for outcome in self.outcomes
            if (outcome.stable or outcome.repairs == self.repairs) and self.same_parts(outcome)
        )

    def same_parts(self, outcome: Outcome) -> bool:
        """Whether *outcome* was seen with the parts that the machine has now, or is asked about."""
        return _sitting(self.ground.formers(outcome.fit).machine) == _sitting(self.machine)

    @property
    def cloud(self) -> Cloud:
        """The draws after all evidence."""
        return self.outlook.cloud

    def fault_survivals(self, wishes: Sequence[Choices]) -> Floats:
        """Survival of what no setting cures through one soak test, by combination of *wishes* and draw."""
        known: dict[tuple[FaultCause, ...], Floats] = {}
        rows = []
        for wish in wishes:
            causes = self.ground.faults(self.cloud.latents, wish, self.repairs)
            if causes not in known:
                rates = np.exp(Strikes(causes).log_rates(self.cloud)).sum(axis=0)
                known[causes] = np.exp(-self.outlook.hours * rates)
            rows.append(known[causes])
        return np.array(rows)

    def suspicion(self) -> dict[str, float]:
        """Probability that each suspect is present, by id."""
        weights = self.cloud.weights
        return {
            suspect.id: float(weights @ present(suspect, self.cloud, self.repairs))
            for suspect in self.machine.rulebook.suspects.values()
        }

    def blame(self, outcome: Outcome) -> tuple[tuple[str, float], ...]:
        """What most likely caused a failed *outcome*: ids of rules and suspects with their shares."""
        then = self.ground.formers(outcome.fit)
        timing = causes_of(then.machine, then.rules, self.cloud.latents, outcome.settings)
        faults = faults_of(then.machine, self.cloud.latents, outcome.settings, outcome.repairs)
        rates = {cause.rule: _rate(cause, outcome, self.cloud) for cause in timing}
        rates |= {cause.suspect: _rate(cause, outcome, self.cloud) for cause in faults}
        whole = np.sum(list(rates.values()), axis=0) + UNEXPLAINED_PER_HOUR
        shares = {name: float(self.cloud.weights @ (rate / whole)) for name, rate in rates.items()}
        return tuple(sorted(shares.items(), key=lambda pair: (-pair[1], pair[0])))

    def any_fault(self) -> float:
        """Probability that at least one suspect is present."""
        found = np.zeros(self.cloud.draws, dtype=bool)
        for suspect in self.machine.rulebook.suspects.values():
            found |= present(suspect, self.cloud, self.repairs)
        return float(self.cloud.weights @ found)


def standing(
    ground: Ground,
    logbook: Logbook,
    *,
    hours: float,
    seed: int = 0,
    draws: int = DEFAULT_DRAWS,
    spread: float = 1.0,
) -> Standing:
    """Belief about a machine after its profile and its *logbook*, for soak tests of *hours*.

    Args:
        spread: How far parts vary, against the catalogue's word.
    """
    machine = with_history(ground.machine, logbook)
    cloud = told_cloud(
        machine,
        ground.rules,
        seed=seed,
        draws=draws,
        with_faults=True,
        finder=ground.causes,
        spread=spread,
        formers=ground.formers,
    )
    tables = ground.situations.survivals(cloud, hours=hours)
    view = Outlook(machine, cloud, hours, tables)
    return Standing(ground, machine, ground.rules, view, outcomes(machine), logbook.repairs())


def _sitting(machine: Machine) -> tuple[object, ...]:
    """What sits where, whether the profile or a what-if has put it there."""
    return tuple((item.slot, item.part.id, item.count, item.size) for item in machine.fitted)


def _rate(cause: Cause, outcome: Outcome, cloud: Cloud) -> Floats:
    """Failures per hour of one cause that look like *outcome*, by draw."""
    blame = prod(cause.blame(symptom) for symptom in outcome.symptoms)
    rate: Floats = np.minimum(np.exp(log_rate_of(cause, cloud)), FASTEST_PER_HOUR) * blame
    return rate

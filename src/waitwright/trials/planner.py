"""Which trial to make next: the one with the best expected use.

A trial is worth what it brings if the machine survives it, and what its answer teaches either way: after
either outcome the best next trial is looked at once more (one step ahead), over the same draws.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.evidence import log_survival
from waitwright.belief.outlook import Outlook
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine
from waitwright.search.compile import choice_numbers
from waitwright.trials.lookahead import SOUND, worth
from waitwright.trials.shortlist import Shortlist
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import EventTable

Mode = Literal["jump", "single"]
Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]

SURE = 0.98
"""How sure one has to be that settings are sound before they are called proven for good."""

FAULT_STOPS = 0.5
"""Probability of a fault beside timing above which measuring comes before any further trial."""

WORTH_A_TRIAL = 0.002
"""Expected gain in speed below which no further trial is offered."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A combination that could be tried.

    Attributes:
        gain: Speed over the machine's current settings minus one.
        odds: Probability of passing the soak test.
        sound: Probability that it passes and is sound.
        value: Expected gain of trying it now, what the answer teaches included.
        changes: Options that differ from the proven settings.
    """

    settings: Settings
    gain: float
    odds: float
    sound: float
    value: float
    changes: tuple[OptionId, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do next.

    Attributes:
        trial: The trial to make; None when none is worth an evening.
        queue: The runners-up, best first.
        repeat: True when the trial repeats the best passed settings to be sure of them.
        proven: The best settings that passed (or the current ones), with their gain.
        sure: Probability that the proven settings are sound.
    """

    trial: Candidate | None
    queue: tuple[Candidate, ...]
    repeat: bool
    proven: Settings
    proven_gain: float
    sure: float


@dataclass(frozen=True, slots=True)
class Tried:
    """A combination that has been tried, and whether it passed."""

    settings: Choices
    passed: bool


class Planner:
    """Plans trials for one machine and workload from the belief after all trials so far."""

    def __init__(
        self,
        outlook: Outlook,
        shortlist: Shortlist,
        events: Sequence[EventTable],
        *,
        faults: Callable[[Choices], Floats] | None = None,
    ) -> None:
        """Take the belief as it is.

        Args:
            faults: Survival, by draw, of what no setting cures, under given settings; None leaves it out.
        """
        self._outlook = outlook
        self._machine: Machine = outlook.machine
        self._pricer = Pricer(outlook.machine, events)
        self._shortlist = shortlist
        self._faults = faults
        self._baseline = self._pricer.total(outlook.machine.current)

    def plan(self, tried: Sequence[Tried], mode: Mode = "jump", queue: int = 5) -> Plan:
        """The next trial after those that were *tried*."""
        proven, proven_gain, sure = self.proven(tried)
        wishes = self._shortlist.near(proven) if mode == "single" else self._shortlist.far(self._outlook)
        failed = {self._key(one.settings) for one in tried if not one.passed}
        fresh = [
            wish for wish in wishes if self._key(wish) not in failed and self._gain(wish) > proven_gain + 1e-9
        ]
        candidates = self._valued(fresh, proven, proven_gain)
        worthy = [candidate for candidate in candidates if candidate.value >= WORTH_A_TRIAL]
        passed = any(one.passed for one in tried)
        if not worthy and passed and sure < SURE and self._odds(proven) > SOUND:
            again = Candidate(proven, proven_gain, self._odds(proven), sure, 0.0, ())
            return Plan(again, (), True, proven, proven_gain, sure)
        if not worthy:
            return Plan(None, (), False, proven, proven_gain, sure)
        return Plan(worthy[0], tuple(worthy[1 : queue + 1]), False, proven, proven_gain, sure)

    def proven(self, tried: Iterable[Tried]) -> tuple[Settings, float, float]:
        """The fastest settings that passed and never failed, their gain, and how surely they are sound.

        Where none passed these are the machine's current settings.
        """
        failed = {self._key(one.settings) for one in tried if not one.passed}
        passed = [dict(one.settings) for one in tried if one.passed and self._key(one.settings) not in failed]
        candidates = [dict(self._machine.current), *passed]
        best = max(candidates, key=lambda settings: (self._sure(settings) >= 0.5, self._gain(settings)))
        return best, self._gain(best), self._sure(best)

    # -------------------------------------------------------------------------------- value

    def _valued(self, wishes: Sequence[Settings], proven: Settings, proven_gain: float) -> list[Candidate]:
        """Candidates by value, best first; ties by fewer changes."""
        if not wishes:
            return []
        passes = np.stack([self._survival(wish) for wish in wishes])
        gains = np.array([self._gain(wish) for wish in wishes])
        judged = worth(passes, gains, self._outlook.cloud.weights, proven_gain)
        found = [
            Candidate(
                dict(wish),
                float(gains[place]),
                float(judged.odds[place]),
                float(judged.sound[place]),
                float(judged.value[place]),
                self._changes(wish, proven),
            )
            for place, wish in enumerate(wishes)
        ]
        return sorted(
            found, key=lambda one: (-round(one.value, 6), len(one.changes), self._key(one.settings))
        )

    def _survival(self, settings: Choices) -> Floats:
        logs = log_survival(self._machine, self._outlook.tables, settings)
        survival: Floats = np.exp(np.sum(logs, axis=0))
        return survival if self._faults is None else survival * self._faults(settings)

    def _odds(self, settings: Choices) -> float:
        return float(self._outlook.cloud.weights @ self._survival(settings))

    def _sure(self, settings: Choices) -> float:
        return float(self._outlook.cloud.weights @ (self._survival(settings) >= SOUND))

    # ------------------------------------------------------------------------------- shared

    def _gain(self, settings: Choices) -> float:
        return gain(self._baseline, self._pricer.total(settings))

    def _changes(self, settings: Choices, base: Mapping[OptionId, ChoiceId]) -> tuple[OptionId, ...]:
        return tuple(o.id for o in self._machine.options if settings[o.id] != base[o.id])

    def _key(self, settings: Choices) -> tuple[int, ...]:
        return choice_numbers(self._machine, settings)

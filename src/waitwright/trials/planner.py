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
from waitwright.trials.lookahead import SOUND, TRUST, confirming_soak, worth
from waitwright.trials.shortlist import Shortlist
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import EventTable

Mode = Literal["jump", "single"]
Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]

SURE = 0.98
"""How sure one has to be that settings are sound before the search for better ones may end with them."""

FAULT_STOPS = 0.5
"""Probability of a fault beside timing above which measuring comes before any further trial."""

WORTH_A_TRIAL = 0.002
"""Expected gain in speed below which no first trial is offered."""

_PATIENCE = 1.5
"""Power by which that bar rises with the number of trials that brought nothing."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A combination that could be tried.

    Attributes:
        gain: Speed over the machine's current settings minus one.
        odds: Probability of passing the trial.
        sound: Probability that it passes and is sound.
        value: Expected gain of trying it now, what the answer teaches included.
        changes: Options that differ from the proven settings.
        hours: How long to run it.
        repeat: True when these settings have passed before, and run longer now to be sure of them.
    """

    settings: Settings
    gain: float
    odds: float
    sound: float
    value: float
    changes: tuple[OptionId, ...]
    hours: float
    repeat: bool


@dataclass(frozen=True, slots=True)
class Proven:
    """The best settings so far: the fastest that passed, never failed, and can be trusted.

    Attributes:
        gain: Speed over the machine's current settings minus one.
        sure: Probability that they are sound.
    """

    settings: Settings
    gain: float
    sure: float


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do next.

    Attributes:
        trial: The trial to make; None when none is worth an evening.
        queue: The runners-up, best first.
    """

    trial: Candidate | None
    queue: tuple[Candidate, ...]
    proven: Proven


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
        proven = self.proven(tried)
        wishes = (
            self._shortlist.near(proven.settings) if mode == "single" else self._shortlist.far(self._outlook)
        )
        known = {self._key(one.settings) for one in tried}
        fresh = [
            wish
            for wish in wishes
            if self._key(wish) not in known and self._gain(wish) > proven.gain + WORTH_A_TRIAL / 2
        ]
        doubtful = [wish for wish in _standing(tried, self._key) if self._gain(wish) > proven.gain]
        candidates = self._valued(fresh, doubtful, proven)
        bar = WORTH_A_TRIAL * (1 + self._fruitless(tried)) ** _PATIENCE
        worthy = [candidate for candidate in candidates if candidate.value >= bar]
        if worthy:
            return Plan(worthy[0], tuple(worthy[1 : queue + 1]), proven)
        doubted = proven.settings in _standing(tried, self._key) and proven.sure < SURE
        return Plan(self._again(proven) if doubted else None, (), proven)

    def _fruitless(self, tried: Sequence[Tried]) -> int:
        """Trials that failed, or repeated what had passed."""
        passed = {self._key(one.settings) for one in tried if one.passed}
        return len(tried) - len(passed)

    def proven(self, tried: Iterable[Tried]) -> Proven:
        """The best settings so far; the machine's current settings where none passed that can be trusted."""
        candidates = [dict(self._machine.current), *_standing(tried, self._key)]
        judged = [Proven(settings, self._gain(settings), self._sure(settings)) for settings in candidates]
        return max(judged, key=lambda one: (one.sure >= TRUST, one.gain))

    # -------------------------------------------------------------------------------- value

    def _valued(
        self, fresh: Sequence[Settings], doubtful: Sequence[Settings], proven: Proven
    ) -> list[Candidate]:
        """Candidates by value, best first; ties by fewer changes.

        *fresh* settings run for one soak test; *doubtful* ones have passed that, and run longer.
        """
        wishes = [*fresh, *doubtful]
        if not wishes:
            return []
        survivals = np.stack([self._survival(wish) for wish in wishes])
        weights = self._outlook.cloud.weights
        longer = [confirming_soak(survival, weights, TRUST) for survival in survivals[len(fresh) :]]
        soaks = np.array([1] * len(fresh) + longer, dtype=np.float64)
        gains = np.array([self._gain(wish) for wish in wishes])
        judged = worth(survivals, soaks, gains, weights, proven.gain)
        found = [
            Candidate(
                dict(wish),
                float(gains[place]),
                float(judged.odds[place]),
                float(judged.sound[place]),
                float(judged.value[place]),
                self._changes(wish, proven.settings),
                float(soaks[place]) * self._outlook.hours,
                place >= len(fresh),
            )
            for place, wish in enumerate(wishes)
        ]
        return sorted(
            found, key=lambda one: (-round(one.value, 6), len(one.changes), self._key(one.settings))
        )

    def _again(self, proven: Proven) -> Candidate:
        """The proven settings once more, for so long that one is sure of them."""
        weights = self._outlook.cloud.weights
        survival = self._survival(proven.settings)
        length = confirming_soak(survival, weights, SURE)
        odds = float(weights @ survival**length)
        return Candidate(
            proven.settings,
            proven.gain,
            odds,
            proven.sure,
            0.0,
            (),
            length * self._outlook.hours,
            repeat=True,
        )

    def _survival(self, settings: Choices) -> Floats:
        logs = log_survival(self._machine, self._outlook.tables, settings)
        survival: Floats = np.exp(np.sum(logs, axis=0))
        return survival if self._faults is None else survival * self._faults(settings)

    def _sure(self, settings: Choices) -> float:
        return float(self._outlook.cloud.weights @ (self._survival(settings) >= SOUND))

    # ------------------------------------------------------------------------------- shared

    def _gain(self, settings: Choices) -> float:
        return gain(self._baseline, self._pricer.total(settings))

    def _changes(self, settings: Choices, base: Mapping[OptionId, ChoiceId]) -> tuple[OptionId, ...]:
        return tuple(o.id for o in self._machine.options if settings[o.id] != base[o.id])

    def _key(self, settings: Choices) -> tuple[int, ...]:
        return choice_numbers(self._machine, settings)


def _standing(tried: Iterable[Tried], key: Callable[[Choices], tuple[int, ...]]) -> list[Settings]:
    """What passed and never failed, each once."""
    tried = tuple(tried)
    failed = {key(one.settings) for one in tried if not one.passed}
    passed = {key(one.settings): dict(one.settings) for one in tried if one.passed}
    return [settings for number, settings in passed.items() if number not in failed]

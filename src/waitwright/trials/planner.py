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
from waitwright.search.compile import choice_numbers, compile_likely, settings_of
from waitwright.search.problem import Problem
from waitwright.search.topk import fastest, frontier
from waitwright.timing.bind import BoundRules
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import EventTable

Mode = Literal["jump", "single"]
Floats = NDArray[np.float64]
Choices = Mapping[OptionId, ChoiceId]

SOUND = 0.95
"""Settings count as sound when they would pass another soak test with at least this probability."""

SURE = 0.98
"""How sure one has to be that settings are sound before they are called proven for good."""

WORTH_A_TRIAL = 0.002
"""Expected gain in speed below which no further trial is offered."""

_LEVELS = (0.5, 0.8, 0.9, 0.95, 0.98)
_LEAST_ODDS = 0.05
_EACH_LEVEL = 3


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
        rules: BoundRules,
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
        self._problem: Problem = compile_likely(outlook.machine, rules, events, outlook.tables, outlook.cloud)
        self._faults = faults
        self._baseline = self._pricer.total(outlook.machine.current)

    def plan(self, tried: Sequence[Tried], mode: Mode = "jump", queue: int = 5) -> Plan:
        """The next trial after those that were *tried*."""
        proven, proven_gain, sure = self.proven(tried)
        wishes = self._near(proven) if mode == "single" else self._spread()
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

    # --------------------------------------------------------------------------- candidates

    def _spread(self) -> list[Settings]:
        """The frontier of speed against odds, and the fastest few at several levels of odds."""
        found = list(frontier(self._problem, least_odds=_LEAST_ODDS).best)
        apart = max(1, self._baseline // 500)
        for level in _LEVELS:
            found += fastest(self._problem, count=_EACH_LEVEL, odds=level, apart=apart).best
        unique = dict.fromkeys(combination.values for combination in found)
        return [settings_of(self._machine, values) for values in unique]

    def _near(self, proven: Settings) -> list[Settings]:
        """All legal combinations that differ from *proven* in one option."""
        near = []
        for option in self._machine.options:
            for choice in option.choices:
                if choice.id != proven[option.id]:
                    wish: Settings = {**proven, option.id: choice.id}
                    if self._legal(wish):
                        near.append(wish)
        return near

    def _legal(self, settings: Settings) -> bool:
        values = choice_numbers(self._machine, settings)
        return all(
            constraint.allowed[tuple(values[place] for place in constraint.scope)]
            for constraint in self._problem.constraints
        )

    # -------------------------------------------------------------------------------- value

    def _valued(self, wishes: Sequence[Settings], proven: Settings, proven_gain: float) -> list[Candidate]:
        """Candidates by value, best first; ties by fewer changes."""
        if not wishes:
            return []
        weights = self._outlook.cloud.weights
        passes = np.stack([self._survival(wish) for wish in wishes])
        gains = np.array([self._gain(wish) for wish in wishes])
        sound = passes * (passes >= SOUND)
        odds = passes @ weights
        # Joint chance that trial x passes and y would then pass and be sound: rows x, columns y.
        both = (passes * weights) @ sound.T
        alone = sound @ weights
        above = np.maximum(gains[None, :] - gains[:, None], 0.0)
        after_pass = (both * above).max(axis=1)
        left = np.maximum(alone[None, :] - both, 0.0)
        after_failure = (left * np.maximum(gains - proven_gain, 0.0)[None, :]).max(axis=1)
        value = alone * np.maximum(gains - proven_gain, 0.0) + after_pass + after_failure
        found = [
            Candidate(
                dict(wish),
                float(gains[place]),
                float(odds[place]),
                float(alone[place]),
                float(value[place]),
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

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

from waitwright.belief.evidence import joint_survivals
from waitwright.belief.outlook import Outlook
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine
from waitwright.search.compile import choice_numbers
from waitwright.trials.lookahead import LONGER, SOUND, STEP, TRUST, Ahead, telling_soak, worth
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
"""Expected gain in speed below which no trial is offered; each fruitless one so far adds as much."""

LAST_SOAK = LONGER[-1]
"""Soak tests that the best settings must have passed, all in all, before trials may end."""

NEARLY = 0.8
"""Share of the best value from which another step counts as worth much the same."""

_MOST_BASES = 6
"""Of how many proven settings single changes are considered."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A combination that could be tried.

    Attributes:
        gain: Speed over the machine's current settings minus one.
        odds: Probability of passing the trial.
        sound: Probability that it passes and is sound.
        value: Expected gain of trying it now, what the answer teaches included.
        base: Proven settings that it is a change of.
        changes: Options that differ from these.
        hours: How long to run it.
        repeat: True when these settings have passed before, and run longer now to be sure of them.
    """

    settings: Settings
    gain: float
    odds: float
    sound: float
    value: float
    base: Settings
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
        spread: How far parts vary in the odds of trial and queue, against the catalogue's word.
    """

    trial: Candidate | None
    queue: tuple[Candidate, ...]
    proven: Proven
    spread: float = 1.0


@dataclass(frozen=True, slots=True)
class Tried:
    """A combination that has been tried: whether it passed, and how long it ran."""

    settings: Choices
    passed: bool
    hours: float


class Planner:
    """Plans trials for one machine and workload from the belief after all trials so far."""

    def __init__(
        self,
        outlook: Outlook,
        shortlist: Shortlist,
        events: Sequence[EventTable],
        *,
        faults: Callable[[Sequence[Choices]], Floats] | None = None,
    ) -> None:
        """Take the belief as it is.

        Args:
            faults: Survival of what no setting cures, by combination and draw; None leaves it out.
        """
        self._outlook = outlook
        self._machine: Machine = outlook.machine
        self._pricer = Pricer(outlook.machine, events)
        self._shortlist = shortlist
        self._faults = faults
        self._gains: dict[tuple[int, ...], float] = {}
        self._baseline = self._pricer.total(outlook.machine.current)

    def plan(
        self,
        tried: Sequence[Tried],
        mode: Mode = "jump",
        *,
        queue: int = 5,
        proven: Proven | None = None,
    ) -> Plan:
        """The next trial after those that were *tried*.

        Args:
            proven: The best settings so far, where that is not this belief's to say.
        """
        standing = self._judged(tried)
        proven = proven or _best(standing)
        goals = [wish for wish in self._shortlist.far(self._outlook) if self._gain(wish) > proven.gain]
        known = {self._key(one.settings) for one in tried}
        if mode == "single":
            bases = [one.settings for one in standing if one.sure >= TRUST][-_MOST_BASES:]
            wishes = self._steps([proven.settings, *bases], goals, proven.gain)
        else:
            wishes = [_Wish(goal, proven.settings) for goal in goals]
        fresh = [
            wish
            for wish in wishes
            if self._key(wish.settings) not in known
            and (mode == "single" or self._gain(wish.settings) > proven.gain + WORTH_A_TRIAL / 2)
        ]
        doubtful = [_Wish(one.settings, proven.settings) for one in standing if one.gain > proven.gain]
        candidates = self._valued(fresh, doubtful, proven, goals if mode == "single" else None)
        bar = WORTH_A_TRIAL * (1 + self._fruitless(tried))
        worthy = [candidate for candidate in candidates if candidate.value >= bar]
        if mode == "single" and worthy:  # the careful way: of steps worth much the same, a likely one
            likely, best = TRUST * max(one.odds for one in worthy), worthy[0].value
            worthy.sort(key=lambda one: one.odds < likely or one.value < NEARLY * best)
        if worthy:
            return Plan(worthy[0], tuple(worthy[1 : queue + 1]), proven)
        return Plan(self._again(proven, tried), (), proven)

    def _fruitless(self, tried: Iterable[Tried]) -> int:
        """Trials that failed, and first passes that brought no speed; confirming again is no waste."""
        best, fruitless, known = 0.0, 0, {self._key(self._machine.current)}
        for one in tried:
            key = self._key(one.settings)
            faster = self._gain(one.settings) > best
            if not one.passed or (key not in known and not faster):
                fruitless += 1
            elif faster:
                best = self._gain(one.settings)
            known.add(key)
        return fruitless

    def proven(self, tried: Iterable[Tried]) -> Proven:
        """The best settings so far; the machine's current settings where none passed that can be trusted."""
        return _best(self._judged(tried))

    def _judged(self, tried: Iterable[Tried]) -> list[Proven]:
        """The machine's current settings and all that passed and never failed, oldest first."""
        settings = [dict(self._machine.current), *_standing(tried, self._key)]
        sure = (self._survivals(settings) >= SOUND) @ self._outlook.cloud.weights
        return [
            Proven(one, self._gain(one), chance) for one, chance in zip(settings, sure.tolist(), strict=True)
        ]

    def _steps(self, bases: Sequence[Settings], goals: Sequence[Settings], proven: float) -> list[_Wish]:
        """Single changes of any of *bases* that are faster than what is proven, or lead towards a goal."""
        wanted = {(option, choice) for goal in goals for option, choice in goal.items()}
        found: dict[tuple[int, ...], _Wish] = {}
        for base in bases:
            for wish in self._shortlist.near(base):
                [changed] = self._changes(wish, base)
                if (changed, wish[changed]) in wanted or self._gain(wish) > proven + WORTH_A_TRIAL / 2:
                    found.setdefault(self._key(wish), _Wish(wish, base))
        return list(found.values())

    # -------------------------------------------------------------------------------- value

    def _valued(
        self,
        fresh: Sequence[_Wish],
        doubtful: Sequence[_Wish],
        proven: Proven,
        goals: Sequence[Settings] | None,
    ) -> list[Candidate]:
        """Candidates by value, best first; ties by fewer changes.

        *fresh* settings were never tried; *doubtful* ones have passed, and run longer now.
        *goals* are what single changes may lead to, one after the other.
        """
        wishes = [*fresh, *doubtful]
        if not wishes:
            return []
        survivals = self._survivals([wish.settings for wish in wishes])
        weights = self._outlook.cloud.weights
        soaks = np.array(
            [_soak(survival, weights, first=place < len(fresh)) for place, survival in enumerate(survivals)]
        )
        gains = np.array([self._gain(wish.settings) for wish in wishes])
        ahead = None if goals is None else self._ahead(wishes, goals, proven)
        judged = worth(survivals, soaks, gains, weights, proven.gain, ahead)
        found = [
            Candidate(
                dict(wish.settings),
                float(gains[place]),
                float(judged.odds[place]),
                float(judged.sound[place]),
                float(judged.value[place]),
                dict(wish.base),
                self._changes(wish.settings, wish.base),
                float(soaks[place]) * self._outlook.hours,
                place >= len(fresh),
            )
            for place, wish in enumerate(wishes)
        ]
        return sorted(
            found, key=lambda one: (-round(one.value, 6), len(one.changes), self._key(one.settings))
        )

    def _ahead(self, wishes: Sequence[_Wish], goals: Sequence[Settings], proven: Proven) -> Ahead:
        """Goals that are reached one changed option after the other."""
        start = np.array(self._key(proven.settings))
        numbers = np.array([self._key(goal) for goal in goals], dtype=np.intp).reshape(-1, len(start))
        keys = np.array([self._key(wish.settings) for wish in wishes])
        left = (keys[:, None, :] != numbers[None, :, :]).sum(axis=2)
        return Ahead(
            self._survivals(goals),
            np.array([self._gain(goal) for goal in goals]),
            STEP**left,
            STEP ** (1.0 + (numbers != start).sum(axis=1)),
        )

    def _again(self, proven: Proven, tried: Sequence[Tried]) -> Candidate | None:
        """The proven settings once more, for so long that one is sure of them; None where that is enough.

        However sure belief is, it does not end on less than a long soak: the catalogue may be wrong.
        However unsure it is, what has run for twice as long is left alone.
        """
        here = [one for one in tried if one.settings == proven.settings]
        if not here or not all(one.passed for one in here):
            return None
        left = LAST_SOAK - sum(one.hours for one in here) / self._outlook.hours
        if left <= (0 if proven.sure >= SURE else -LAST_SOAK):
            return None
        weights = self._outlook.cloud.weights
        [survival] = self._survivals([proven.settings])
        lengths = [length for length in LONGER if length >= left]
        length = telling_soak(survival, weights, SURE, lengths) or LONGER[-1]
        odds = float(weights @ survival**length)
        return Candidate(
            proven.settings,
            proven.gain,
            odds,
            proven.sure,
            0.0,
            proven.settings,
            (),
            length * self._outlook.hours,
            repeat=True,
        )

    def _survivals(self, wishes: Sequence[Choices]) -> Floats:
        """Probability of surviving one soak test, by combination and draw."""
        view = self._outlook
        joint = joint_survivals(self._machine, view.tables, wishes, view.cloud.draws)
        return joint if self._faults is None or not wishes else joint * self._faults(wishes)

    # ------------------------------------------------------------------------------- shared

    def _gain(self, settings: Choices) -> float:
        key = self._key(settings)
        if key not in self._gains:
            self._gains[key] = gain(self._baseline, self._pricer.total(settings))
        return self._gains[key]

    def _changes(self, settings: Choices, base: Mapping[OptionId, ChoiceId]) -> tuple[OptionId, ...]:
        return tuple(o.id for o in self._machine.options if settings[o.id] != base[o.id])

    def _key(self, settings: Choices) -> tuple[int, ...]:
        return choice_numbers(self._machine, settings)


def _soak(survival: Floats, weights: Floats, *, first: bool) -> float:
    """Length of a trial in soak tests: as long as it takes to trust what passes.

    Where not even the longest soak would do, settings never tried get a short one, as a question.
    """
    found = telling_soak(survival, weights, TRUST, (1, *LONGER) if first else LONGER)
    return float(found or (1 if first else LONGER[-1]))


@dataclass(frozen=True, slots=True)
class _Wish:
    """Settings, and the proven ones that they are a change of."""

    settings: Settings
    base: Settings


def _best(judged: Sequence[Proven]) -> Proven:
    """The fastest that can be trusted; where nothing can, what can be most."""
    trusted = [one for one in judged if one.sure >= TRUST]
    if trusted:
        return max(trusted, key=lambda one: one.gain)
    return max(judged, key=lambda one: (one.sure, one.gain))


def _standing(tried: Iterable[Tried], key: Callable[[Choices], tuple[int, ...]]) -> list[Settings]:
    """What passed and never failed, each once."""
    tried = tuple(tried)
    failed = {key(one.settings) for one in tried if not one.passed}
    passed = {key(one.settings): dict(one.settings) for one in tried if one.passed}
    return [settings for number, settings in passed.items() if number not in failed]

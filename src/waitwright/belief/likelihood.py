"""How likely the outcome of a trial is in each draw: from outcome, time and symptoms.

Causes compete: each strikes at its own rate.  A machine is stable for *hours* with probability
``exp(-sum of rates x hours)``.  A failure after *hours* has the density ``sum of rates x exp(-sum x
hours)``, of which each cause has the share of its rate; a symptom weighs each share by how likely that
cause shows it.

Things break between one evening and the next: a fault of today may have come after the hours for which the
owner vouched before the logbook began, so that these never rule it out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import log, log1p

import numpy as np
from numpy.typing import NDArray

from waitwright.belief.cloud import Cloud
from waitwright.belief.faults import FaultCause
from waitwright.belief.strikes import Cause, Strikes, product
from waitwright.ids import ChoiceId, OptionId, SlotId
from waitwright.rulebook.domain import SYMPTOMS, Symptom
from waitwright.rulebook.profiles import FitDef

Floats = NDArray[np.float64]
Fit = Mapping[SlotId, tuple[FitDef, ...]]

UNEXPLAINED_PER_HOUR = 1e-3
"""Failures per hour that no rule and no suspect accounts for; keeps belief from ruling out everything."""

CAME_SINCE = 0.01
"""Chance that a fault of today came after what was known before the logbook began (assumption)."""

FASTEST_PER_HOUR = 60.0
"""Nobody tells a failure within a second from one within a minute."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a trial showed.

    Attributes:
        hours: How long it ran (stable), or after how long it failed; None where a failure's time is
            unknown, then it came within ``soak`` hours.
        repairs: How often each suspect had been mended by then.
        fit: What sat in each slot; None for the parts of the profile.
        before: Whether it was known before the logbook began, so that faults may have come since.
    """

    settings: Mapping[OptionId, ChoiceId]
    stable: bool
    symptoms: tuple[Symptom, ...] = ()
    hours: float | None = None
    soak: float = 4.0
    repairs: Mapping[str, int] = field(default_factory=dict)
    fit: Fit | None = None
    before: bool = False


class TrialLikelihood:
    """Natural logarithm of the likelihood of all trials together, for any cloud of the same unknowns.

    A cause that several trials share (most are) is priced once.
    """

    def __init__(self, trials: Sequence[tuple[Outcome, Sequence[Cause]]]) -> None:
        """Pair every outcome with what could have stopped the machine in it."""
        places: dict[Cause, int] = {}
        for _, causes in trials:
            for cause in causes:
                places.setdefault(cause, len(places))
        self._strikes = Strikes(tuple(places))
        self._young = _Young(tuple(places), trials)
        self._used = np.zeros((len(trials), len(places)))
        self._blamed = np.zeros((len(trials), len(places)))
        for row, (outcome, causes) in enumerate(trials):
            for cause in causes:
                since = isinstance(cause, FaultCause) and outcome.before and outcome.stable
                self._used[row, places[cause]] = 0.0 if since else 1.0
                self._blamed[row, places[cause]] = _blame(cause, outcome.symptoms)
        self._outcomes = [outcome for outcome, _ in trials]

    def __call__(self, cloud: Cloud) -> Floats:
        """The logarithm in each draw, up to a constant."""
        rates = np.exp(self._strikes.log_rates(cloud)).clip(max=FASTEST_PER_HOUR)
        logs = self._young(rates)
        totals = product(self._used, rates) + UNEXPLAINED_PER_HOUR
        blames = product(self._blamed, rates)
        for outcome, total, blame in zip(self._outcomes, totals, blames, strict=True):
            if outcome.stable:
                logs -= _ran(outcome) * total
                continue
            blamed = blame + UNEXPLAINED_PER_HOUR * _blame(None, outcome.symptoms)
            if outcome.hours is None:
                logs += np.log(blamed / total) + np.log(-np.expm1(-outcome.soak * total))
            else:
                logs += np.log(blamed) - outcome.hours * total
        return logs


class _Young:
    """Natural logarithm of the likelihood that no fault struck in the hours known before the logbook began.

    One that is there now was there through all of them, or came after them: :data:`CAME_SINCE`.
    """

    def __init__(self, causes: Sequence[Cause], trials: Sequence[tuple[Outcome, Sequence[Cause]]]) -> None:
        """Add up for each fault the hours at each of its rates."""
        faults = dict.fromkeys(one.presence for one in causes if isinstance(one, FaultCause))
        rows = {presence: row for row, presence in enumerate(faults)}
        places = {cause: place for place, cause in enumerate(causes)}
        self._hours = np.zeros((len(rows), len(causes)))
        for outcome, used in trials:
            for cause in used:
                if isinstance(cause, FaultCause) and outcome.before and outcome.stable:
                    self._hours[rows[cause.presence], places[cause]] += _ran(outcome)

    def __call__(self, rates: Floats) -> Floats:
        """The logarithm in each draw; *rates* by cause and draw."""
        strikes = product(self._hours, rates)
        logs: Floats = np.logaddexp(log(CAME_SINCE), log1p(-CAME_SINCE) - strikes).sum(axis=0)
        return logs


def _ran(outcome: Outcome) -> float:
    """Hours that a stable trial ran."""
    return outcome.soak if outcome.hours is None else outcome.hours


def _blame(cause: Cause | None, symptoms: Sequence[Symptom]) -> float:
    """Chance of all reported symptoms under *cause*; even odds for what nothing explains."""
    return float(
        np.exp(sum(log(1 / len(SYMPTOMS) if cause is None else cause.blame(one)) for one in symptoms))
    )

"""The owner's scores: what a new one claims against earlier ones, and how all of them refine the work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from waitwright.api.opening import DEFAULT_WORKLOAD, find_workload
from waitwright.explain.figures import plain, several, signed_percent
from waitwright.machine import Machine
from waitwright.machine.build import as_found
from waitwright.report.score_views import CalibrationView, ClaimView, FitView, RateView
from waitwright.rulebook.domain import Workload
from waitwright.trials.history import elsewhere
from waitwright.trials.logbook import Logbook, Score, Trial, misfits
from waitwright.workload.calibration import Calibration, calibrate, refined_tables
from waitwright.workload.model import EventTable, Pricing, event_tables
from waitwright.workload.scores import (
    CONFIDENCE,
    GainEstimate,
    Kind,
    Observation,
    by_settings,
    combination,
    compare,
    pooled_noise,
)

ENOUGH = 3
"""Combinations that must have been measured before the owner's scores, not the named work, price settings."""


def observations(
    logbook: Logbook, machine: Machine, workload: str = DEFAULT_WORKLOAD
) -> tuple[Observation, ...]:
    """All scores that count, oldest first; those told without a kind of work are of *workload*.

    What was measured on other parts than the profile lists says nothing of these.
    """
    return tuple(
        _observation(trial, score, workload)
        for trial in logbook.standing
        if not misfits(trial.settings, machine.options) and not elsewhere(trial, machine)
        for score in trial.scores
    )


def own_calibration(logbook: Logbook, machine: Machine, workload: Workload) -> Calibration | None:
    """*workload* as the owner's scores have it, in the unit of the latest; None where they are too few.

    They were measured on the machine as it is, whatever parts *machine* wonders about.
    """
    found = [one for one in observations(logbook, machine) if one.workload_id == workload.id]
    same = [one for one in found if one.unit == found[-1].unit]
    return calibrate(as_found(machine), workload, same) if len(by_settings(same)) >= ENOUGH else None


def pricing(workload: Workload, calibration: Calibration | None) -> Pricing:
    """Costs of the events of *workload*, by the owner's scores where there is a *calibration* of them."""

    def tables(machine: Machine) -> tuple[EventTable, ...]:
        named = event_tables(machine, workload)
        return named if calibration is None else refined_tables(named, calibration)

    return tables


def own_pricing(logbook: Logbook, machine: Machine, workload: Workload) -> Pricing:
    """Costs of the events of *workload*, by the scores in *logbook* where there are enough."""
    return pricing(workload, own_calibration(logbook, machine, workload))


# ------------------------------------------------------------------------------ a new score's claims


def claims(logbook: Logbook, machine: Machine, trial: Trial) -> tuple[ClaimView, ...]:
    """What the scores of *trial* claim against every other combination with scores of the same kind."""
    if misfits(trial.settings, machine.options):
        return ()
    everything = observations(logbook, machine)
    kinds = dict.fromkeys(_observation(trial, score, DEFAULT_WORKLOAD).kind for score in trial.scores)
    return tuple(claim for kind in kinds for claim in _claims_of(kind, everything, logbook, machine, trial))


def _claims_of(
    kind: Kind, everything: Sequence[Observation], logbook: Logbook, machine: Machine, trial: Trial
) -> Iterable[ClaimView]:
    groups = by_settings(one for one in everything if one.kind == kind)
    noise = pooled_noise(groups.values())
    here = combination(trial.settings)
    for one in _first_trials(logbook, machine, kind):
        other = combination(one.settings)
        if other != here and other in groups:
            estimate = compare(groups[other], groups[here], noise)
            yield ClaimView(
                unit=kind[0],
                workload=kind[1],
                against=one.number,
                runs=(len(groups[other]), len(groups[here])),
                gain=round(estimate.median, 6),
                low=round(estimate.low, 6),
                high=round(estimate.high, 6),
                verdict=estimate.verdict,
                noise=round(noise.relative, 6),
                sentence=_sentence(one.number, estimate, kind),
            )


def _first_trials(logbook: Logbook, machine: Machine, kind: Kind) -> Iterable[Trial]:
    """The first trial of each combination that was measured so, oldest first."""
    seen = set()
    for trial in logbook.standing:
        if elsewhere(trial, machine):
            continue
        measured = {_observation(trial, score, DEFAULT_WORKLOAD).kind for score in trial.scores}
        key = combination(trial.settings)
        if kind in measured and key not in seen:
            seen.add(key)
            yield trial


def _sentence(number: int, estimate: GainEstimate, kind: Kind) -> str:
    between = f"{signed_percent(estimate.low)} to {signed_percent(estimate.high)}"
    told = f"{signed_percent(estimate.median)}, with {plain(100 * CONFIDENCE)} % certainty {between}"
    if not estimate.real:
        return f"Against trial {number} by {kind[0]} ({kind[1]}): no real difference ({told})."
    return f"Against trial {number} by {kind[0]} ({kind[1]}): {estimate.verdict}, {told}."


def _observation(trial: Trial, score: Score, workload: str) -> Observation:
    return Observation(trial.settings, float(score.value), score.unit, score.workload or workload)


# --------------------------------------------------------------------------------------- calibration


def calibration_view(logbook: Logbook, machine: Machine, trial: Trial) -> CalibrationView | None:
    """What the work of *trial*'s last score is like by all scores of it; None where they are too few."""
    if not trial.scores:
        return None
    kind = _observation(trial, trial.scores[-1], DEFAULT_WORKLOAD).kind
    same = [one for one in observations(logbook, machine) if one.kind == kind]
    if len(by_settings(same)) < ENOUGH:
        return None
    found = calibrate(machine, find_workload(machine.rulebook, kind[1]), same).describe()
    fits = tuple(
        FitView(
            {str(option): str(choice) for option, choice in fit.settings.items()},
            fit.runs,
            round(fit.measured, 6),
            round(fit.modelled, 6),
        )
        for fit in found.fits
    )
    worst = max(abs(fit.modelled / fit.measured - 1) for fit in fits)
    return CalibrationView(
        unit=found.unit,
        workload=found.workload.id,
        runs=found.runs,
        noise=round(found.noise.relative, 6),
        rates=tuple(
            RateView(
                rate.event.id,
                round(rate.median, 4),
                round(rate.low, 4),
                round(rate.high, 4),
                round(rate.learned, 4),
            )
            for rate in found.rates
        ),
        fits=fits,
        sentence=(
            f"{several(found.runs, 'run')} of {several(len(fits), 'combination')}: single runs stray by "
            f"{plain(100 * found.noise.relative, 1)} %, and the model follows the scores to "
            f"{plain(100 * worst, 1)} %. Speeds for '{found.workload.id}' now come from these scores."
        ),
    )

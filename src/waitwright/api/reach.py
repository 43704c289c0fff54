"""``reach``: the least risky settings that should reach a wanted score."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from waitwright.api.check import cautions, touched_rooms
from waitwright.api.opening import Question, find_workload
from waitwright.api.results import ResultTeller
from waitwright.api.scoring import own_pricing, pricing
from waitwright.api.swap import swap_view
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.errors import UsageError
from waitwright.explain.incurable import incurable
from waitwright.explain.reasons import Reasoner
from waitwright.explain.sentences import reach_sentence
from waitwright.explain.spares import from_spares, stock_of
from waitwright.explain.swaps import Verdict, Wanted, judge_exchanges
from waitwright.ids import OptionId
from waitwright.machine import FactTable, Machine
from waitwright.report.margin_view import conflict_view
from waitwright.report.swap_views import ReachView
from waitwright.search.bestfirst import Combination
from waitwright.search.compile import compile_likely, settings_of
from waitwright.search.topk import frontier
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.logbook import misfits
from waitwright.units import exact
from waitwright.workload.calibration import Calibration, calibrate
from waitwright.workload.gain import Pricer, gain
from waitwright.workload.model import Pricing
from waitwright.workload.scores import Observation, less_is_better

LEAST_ODDS = 0.05
"""Settings with lower odds are no way to reach anything."""

_SAFE = 0.9
"""Odds that an exchange of parts must have, so that it is worth its money."""

_ROUNDING = 1e-6
"""Odds of one combination, worked out in two ways, are no further apart than this."""

PERCENT = "%"
"""Unit of a target told as speed over the settings now, for owners without scores."""


@dataclass(frozen=True, slots=True)
class Target:
    """What is wanted: a score in the unit of the logbook's scores, or a gain in percent."""

    value: float
    unit: str = ""
    workload: str | None = None


def target_of(text: str, workload: str | None = None) -> Target:
    """``36 points``, ``36`` (in the unit of the recorded scores) or ``20%`` as a target.

    Raises:
        UsageError: if the text is none of these.
    """
    number, unit = text.strip().removesuffix(PERCENT).strip(), ""
    if text.strip().endswith(PERCENT):
        unit = PERCENT
    elif " " in number:
        number, unit = (part.strip() for part in number.split(maxsplit=1))
    try:
        value = float(exact(number))
    except (ValueError, OverflowError):
        expected = "expected a score such as '36 points', or a gain such as 20%"
        raise UsageError(f"target {text!r}: {expected}") from None
    if not value > 0:
        raise UsageError(f"target {text!r}: expected more than 0")
    return Target(value, unit, workload)


def reach(
    question: Question,
    target: Target,
    *,
    hours: float = DEFAULT_SOAK_HOURS,
    told: Callable[[int, int], None] = lambda done, of: None,
) -> ReachView:
    """The least risky way to *target*.

    Args:
        told: Called with how many of how many exchanges are judged, where the target is out of reach.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty, or no score of that unit is recorded.
    """
    room = enter(question, hours=hours, workload=target.workload)
    machine = replace(room.machine, current=room.bench.settings)
    room, calibration, unit = _calibrated(room, target)
    needed = _needed(machine, target, unit, calibration)
    prices = _prices(room, calibration)
    events = prices(machine)
    pricer = Pricer(machine, events)
    baseline = pricer.total(machine.current)
    view = room.standing.outlook
    problem = compile_likely(machine, room.bench.rules, events, view.tables, view.cloud)
    points = frontier(problem, least_odds=LEAST_ODDS).best
    reaching = [point for point in points if _speed(machine, baseline, calibration, point) >= needed]
    shown = [max(reaching, key=lambda point: point.odds)] if reaching else list(points[:1])
    closing = () if reaching else _closing(room, machine, prices, needed, told)
    barred = () if points else incurable(machine, room.bench.rules)
    # What would be faster still is less safe than what is shown: that is why it is left alone.
    safe = min((point.odds for point in shown), default=0.0) - _ROUNDING
    reasoner = Reasoner(machine, room.bench.rules, pricer, view, safe)
    teller = ResultTeller(machine, reasoner, baseline, view)
    return ReachView(
        machine=machine.name,
        title=machine.title,
        workload=room.workload.id,
        target=target.value,
        unit=unit,
        needed=round(needed, 6),
        results=tuple(map(teller.result, shown)),
        predicted=_predicted(machine, calibration, shown),
        reached=bool(reaching),
        verdict=reach_sentence(
            bool(reaching),
            gain(baseline, shown[0].cost) if shown else None,
            [verdict.gain for verdict in closing],
            needed,
            _SAFE,
        ),
        swaps=tuple(swap_view(machine, verdict) for verdict in closing),
        cautions=cautions(
            machine,
            FactTable(machine, machine.current),
            "reach",
            touched_rooms(room.bench.rules, _changed(machine, shown)),
        ),
        incurable=tuple(map(conflict_view, barred)),
    )


# -------------------------------------------------------------------------------- calibration


def _calibrated(room: TrialRoom, target: Target) -> tuple[TrialRoom, Calibration | None, str]:
    """The calibration that the target's unit belongs to, with the work that its scores measured."""
    if target.unit == PERCENT:
        return room, None, PERCENT
    found = [
        Observation(trial.settings, float(score.value), score.unit, score.workload or room.workload.id)
        for trial in room.logbook.standing
        if not misfits(trial.settings, room.machine.options)
        for score in trial.scores
        if target.unit in {"", score.unit} and target.workload in {None, score.workload, ""}
    ]
    if not found:
        what = f" in {target.unit!r}" if target.unit else ""
        raise UsageError(
            f"no score{what} is recorded to start from; record one with --score 'VALUE UNIT', or ask for a "
            "gain over the settings now, such as 20%"
        )
    last = found[-1]
    same = [one for one in found if (one.unit, one.workload_id) == (last.unit, last.workload_id)]
    work = find_workload(room.machine.rulebook, last.workload_id)
    return replace(room, workload=work), calibrate(room.machine, work, same), last.unit


def _prices(room: TrialRoom, calibration: Calibration | None) -> Pricing:
    """What the work costs; a gain that is asked for in percent goes by whatever scores there are."""
    if calibration is None:
        return own_pricing(room.logbook, room.machine, room.workload)
    return pricing(room.workload, calibration)


def _needed(machine: Machine, target: Target, unit: str, calibration: Calibration | None) -> float:
    """Speed over the settings now, minus one, that the target asks for."""
    if calibration is None:
        return target.value / 100
    now = calibration.predict(machine.current).median
    return now / target.value - 1 if less_is_better(unit) else target.value / now - 1


def _speed(machine: Machine, baseline: int, calibration: Calibration | None, point: Combination) -> float:
    """Speed of *point* over the settings now, minus one: by the owner's scores where there are any."""
    if calibration is None:
        return gain(baseline, point.cost)
    return calibration.gain(machine.current, settings_of(machine, point.values)).median


def _changed(machine: Machine, shown: list[Combination]) -> set[OptionId]:
    """Options that any of the combinations changes."""
    return {
        option
        for one in shown
        for option, choice in settings_of(machine, one.values).items()
        if choice != machine.current[option]
    }


def _predicted(
    machine: Machine, calibration: Calibration | None, shown: list[Combination]
) -> tuple[float, float, float] | None:
    if calibration is None or not shown:
        return None
    guess = calibration.predict(settings_of(machine, shown[0].values))
    return (guess.median, guess.low, guess.high)


# ------------------------------------------------------------------------------------ answers


def _closing(
    room: TrialRoom,
    machine: Machine,
    prices: Pricing,
    needed: float,
    told: Callable[[int, int], None],
) -> tuple[Verdict, ...]:
    """Exchanges from the spares box that reach what is needed, or come nearest, most useful first."""
    exchanges = from_spares(machine)
    if not exchanges:
        return ()
    wanted = Wanted(prices, _SAFE, room.hours, room.seed)
    _, verdicts, _ = judge_exchanges(machine, exchanges, wanted, stock=stock_of(machine), told=told)
    useful = [verdict for verdict in verdicts if verdict.useful]
    enough = tuple(verdict for verdict in useful if verdict.gain >= needed)
    return enough or tuple(useful[:1])
